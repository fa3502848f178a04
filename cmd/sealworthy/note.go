package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"sealworthy/capture/record"
	"sealworthy/compare/words"
)

const noteHelp = `sealworthy note BUILD GROUP TEXT
sealworthy note BUILD --serial TEXT
sealworthy note BUILD

Keeps one line of yours about a group, at any time, or the build's serial
number. It judges nothing. Without words it prints those that were kept; history
shows them beside the group, and so does new --from for the next build.

Exit status: 0 kept or printed, 1 failure, 2 usage.`

// What the names of notes begin with that are a maker's words, and are the serial number.
const (
	groupNote  = "group/"
	serialNote = "serial"
)

// mostNote is the longest note, bytes: a line.
const mostNote = 200

// madeNote is a note as --json prints it.
type madeNote struct {
	Group string    `json:"group"`
	Text  string    `json:"text"`
	Stage string    `json:"stage"`
	At    time.Time `json:"at"`
}

// line is a note with its day.
func (n madeNote) line(where *time.Location) string { return words.Day(n.At, where) + " " + n.Text }

func runNote(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "note", noteHelp)
	serial := f.String("serial", "", "the build's serial number, a `text`")
	asJSON := f.Bool("json", false, "print the notes as JSON")
	rest, err := parse(f, args, -1)
	switch {
	case err != nil:
		return exitUsage, err
	case len(rest) != 1 && len(rest) != 3, *serial != "" && len(rest) != 1:
		return exitUsage, misuse("note", "takes a build, or a build, a group and one text in quotation marks")
	}
	b, err := openBuild(e, rest[0])
	if err != nil {
		return exitFailure, err
	}
	name, text := "", ""
	switch {
	case len(rest) == 3 && !isGroup(b.plan, rest[1]):
		return exitFailure, unknownPlace(b.plan, rest[1])
	case len(rest) == 3:
		name, text = groupNote+rest[1], rest[2]
	case *serial != "":
		name, text = serialNote, *serial
	}
	if name != "" {
		if err := b.note(e, name, text); err != nil {
			return exitFailure, err
		}
		if !*asJSON {
			fmt.Fprintln(e.stdout, "kept")
			return exitReady, nil
		}
	}
	h, err := b.history(e)
	if err != nil {
		return exitFailure, err
	}
	notes := notesOf(h.Notes)
	if *asJSON {
		return exitReady, writeJSON(e.stdout, whatIsNoted{serialOf(h.Notes), notes})
	}
	sayNotes(e.stdout, notes, e.here())
	return exitReady, nil
}

func sayNotes(w io.Writer, notes []madeNote, where *time.Location) {
	for _, n := range notes {
		wrap(w, words.Day(n.At, where)+" ", "           ", n.Group+": "+n.Text)
	}
}

// note keeps a line in a sitting of its own.
func (b build) note(e env, name, text string) error {
	if text = strings.Join(strings.Fields(text), " "); text == "" || len(text) > mostNote {
		return misuse("note", "a note is one line, of at most %d bytes", mostNote)
	}
	return b.record(e).Tell(func(rec *record.Recorder, now time.Time, stage string) error {
		k := record.Keep(rec)
		if err := k.Note(name, text, stage, now); err != nil {
			return err
		}
		return k.Sync()
	})
}

// notesOf are the maker's own notes, in their order.
func notesOf(all []record.Note) []madeNote {
	out := []madeNote{}
	for _, n := range all {
		if g, ok := strings.CutPrefix(n.Name, groupNote); ok {
			out = append(out, madeNote{g, n.Text, n.Stage, n.At})
		}
	}
	return out
}

// serialOf is the serial number that was kept last; "" if none was.
func serialOf(all []record.Note) string {
	serial := ""
	for _, n := range all {
		if n.Name == serialNote {
			serial = n.Text
		}
	}
	return serial
}
