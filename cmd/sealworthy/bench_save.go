package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"

	"sealworthy/compare/words"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
)

// saveAll writes down what was found, if the maker wants it: the profiles that were
// made, then the bench. It gives the file; "": nothing was written.
func (v benchVerb) saveAll(ctx context.Context, e env, h *makersHands, looked []lookedAt,
	folder string) (string, error) {
	keep := usable(looked)
	if len(keep) == 0 || folder == "" {
		return "", nil
	}
	if !v.save {
		if !h.asks {
			return "", nil
		}
		var what []string
		for _, x := range keep {
			what = append(what, string(x.Found.Kind))
		}
		yes, err := h.ask(ctx, fmt.Sprintf("Write down the %s, for all builds? [Enter: yes, no, q: stop]",
			words.List(what)), true)
		if err != nil || !yes {
			return "", err
		}
	}
	for i := range keep {
		if err := keep[i].saveProfile(folder); err != nil {
			return "", err
		}
	}
	return saveBench(filepath.Dir(folder), keep, v.channel)
}

// usable are the first of each kind that can be driven.
func usable(looked []lookedAt) []lookedAt {
	var out []lookedAt
	seen := map[profile.Kind]bool{}
	for _, x := range looked {
		if x.use != nil && !seen[x.use.Kind] {
			seen[x.use.Kind] = true
			out = append(out, x)
		}
	}
	return out
}

// saveProfile writes the profile that was made for an instrument. Another one of its
// name stays: this one gets a number.
func (x *lookedAt) saveProfile(folder string) error {
	if x.src == nil {
		return nil
	}
	if err := makeFolder(folder); err != nil {
		return err
	}
	name := x.DrivenBy
	const most = 99
	for n := 2; n <= most; n++ {
		err := writeOnce(filepath.Join(folder, x.DrivenBy+".toml"), x.src)
		if !errors.Is(err, fs.ErrExist) {
			return err
		}
		x.DrivenBy = fmt.Sprintf("%s %d", name, n)
	}
	return fmt.Errorf("there are %d profiles called %q already in %s", most, name, folder)
}

// saveBench puts the instruments into the maker's bench. What else stands there stays;
// a file with words of the maker's own is kept beside the new one.
func saveBench(config string, keep []lookedAt, channel int) (string, error) {
	if err := makeFolder(config); err != nil {
		return "", err
	}
	file := makersBenchFile(config)
	was, err := readFile(file, mostBytes)
	cfg := bench.Default()
	switch {
	case errors.Is(err, fs.ErrNotExist):
		was = nil
	case err != nil:
		return "", err
	default:
		if cfg, err = bench.Parse(file, was); err != nil {
			return "", withHint(err, "mend it, or move it away, and look again")
		}
		if plain, err := cfg.Encode(); err == nil && !bytes.Equal(plain, was) {
			if err := keepBeside(file, was); err != nil {
				return "", err
			}
		}
	}
	for _, x := range keep {
		x.into(cfg, channel)
	}
	src, err := cfg.Encode()
	switch {
	case err != nil:
		return "", err
	case was == nil:
		return file, writeNew(file, src)
	}
	return file, writeEdited(file, was, src)
}

// keepBeside keeps what the maker wrote under another name.
func keepBeside(file string, src []byte) error {
	base := strings.TrimSuffix(file, ".toml")
	const most = 99
	for n := 1; n <= most; n++ {
		if err := writeOnce(fmt.Sprintf("%s before %d.toml", base, n), src); !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return fmt.Errorf("there are %d older benches beside %s: move some away", most, file)
}

// into writes an instrument into a bench. What is said of its jack, its fuse and its
// window stays where it is the same instrument.
func (x lookedAt) into(c *bench.Config, channel int) {
	id := x.Trial.Identity
	switch x.use.Kind {
	case profile.SupplyKind:
		c.Supply = bench.Supply{Port: x.Port, Profile: x.DrivenBy, Identity: id, Channel: channel}
	case profile.MeterKind:
		m := bench.Meter{Port: x.Port, Profile: x.DrivenBy, Identity: id}
		if c.Meter.Identity == id {
			m.Jack, m.FuseAmps, m.WindowMs = c.Meter.Jack, c.Meter.FuseAmps, c.Meter.WindowMs
		}
		c.Meter = m
	case profile.RelaysKind:
		c.Relays = bench.Relays{Port: x.Port, Profile: x.DrivenBy, Identity: id}
	}
}

// say tells what came of one port.
func (x lookedAt) say(w io.Writer) {
	fmt.Fprintf(w, "\n%s\n", x.Port)
	if x.Found == nil {
		wrap(w, "  - ", "    ", x.Why+".")
		if x.Heard != "" {
			wrap(w, "    ", "    ", "It was "+x.Heard+".")
		}
		for _, a := range x.Asked {
			wrap(w, "    ", "    ", a)
		}
		return
	}
	who := or(x.Found.Identity, "it can't say who it is")
	if x.DrivenBy != "" {
		who += fmt.Sprintf("; %s, profile %q", x.Found.Speaks, x.DrivenBy)
	}
	wrap(w, "  ", "    ", fmt.Sprintf("%s: %s", or(string(x.Found.Kind), "an instrument"), who))
	for _, c := range x.Found.Changes {
		wrap(w, "    ", "      ", c.String())
	}
	for _, n := range x.Found.Notes {
		wrap(w, "  ", "  ", n)
	}
	if x.use == nil && x.Why != "" {
		wrap(w, "  ! ", "    ", x.Why+".")
		for _, a := range x.Asked {
			wrap(w, "    ", "    ", a)
		}
	}
	if x.use != nil && x.Trial != nil && x.Trial.Reading != nil {
		fmt.Fprintf(w, "  %s\n", readingText(x.Trial.Reading))
	}
}

// say ends the report: how to go on.
func (r benchReport) say(w io.Writer) {
	fmt.Fprintln(w)
	driven := usable(r.Looked)
	switch {
	case len(r.Looked) == 0:
		wrap(w, "", "",
			"No serial port is plugged in. An instrument on the network is looked at with --port tcp://HOST:PORT; "+
				"with none at all, --supply-by-hand and --typed-meter work.")
	case len(driven) == 0:
		wrap(w, "", "", "Nothing was found that can be driven. Choose how an instrument speaks with --profile "+
			"PORT=NAME; "+
			"sealworthy ports lists the profiles, --print NAME writes one to start from.")
	case r.Saved != "":
		wrap(w, "", "", "Written down in "+r.Saved)
	default:
		wrap(w, "", "", "Nothing was written down. --save does that.")
	}
	twice := map[profile.Kind]string{}
	for _, x := range r.Looked {
		if x.use == nil {
			continue
		}
		if first, is := twice[x.use.Kind]; is {
			wrap(w, "", "", fmt.Sprintf("There is another %s on %s: the one on %s counts. --port names the one that "+
				"is meant.",
				x.use.Kind, x.Port, first))
			continue
		}
		twice[x.use.Kind] = x.Port
	}
	for _, b := range r.Broken {
		wrap(w, "a profile that can't be read: ", "  ", b)
	}
	if r.Profiles != "" {
		wrap(w, "", "", "Your own profiles: "+r.Profiles)
	}
}
