package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/returns"
)

// returnDir holds what was found of each return.
const returnDir = "returns"

const returnHelp = `sealworthy return BUILD [--supply PORT --meter PORT]

A model came back and only its jack can be reached. This leads you through it,
one question at a time; Enter goes on, d is "don't know":

  1. By eye, nothing connected. Heat, liquid, a swollen battery: stop there.
  2. The client's own adapter, alone: its polarity, its volts with nothing on
     it, its volts on a resistor. "Not sent" is an answer.
  3. The model on the bench supply: little current first, since it may be
     shorted; then ten minutes warm.
  4. Single voltages and one look at its lights, each time what tells most,
     until one cause stands out. After each it says what is still possible.
  5. A trace and the whole sweep for the record, at each pace of its boards: it
     asks you to press their buttons. --one-pace leaves that out.
  6. Where it isn't settled by then, and a resistor was read when it left (keep
     --resistor): that one in the model's place, where it tells something.

Then what is wrong is ranked. Another meter than at delivery will do. One place
is named only when it is likelier than 0.9; else all that together reach 0.95,
and what would tell them apart.

A flag below that answers a question keeps it from being asked. --unattended
asks nothing: the clips are on the model's jack then. Ctrl-C or q ends it
safely; --resume goes on without asking again. Without ports, what was measured
last is told once more.

Exit status: 0 as it left, 3 something is wrong, 4 not settled, 1 failure,
2 usage.`

func runReturn(ctx context.Context, e env, args []string) (int, error) {
	return returnIn(ctx, e, machine(), args)
}

func returnIn(ctx context.Context, e env, w world, args []string) (int, error) {
	f := newFlags(e, "return", returnHelp)
	a := atJack{world: w}
	a.declare(f)
	a.declareTrace(f)
	var said answerFlags
	said.declare(f)
	pace := f.String("pace", "", `diagnose at these paces, as "keep" printed them; else those of power-on`)
	onePace := f.Bool("one-pace", false, "only the pace of power-on: the buttons can't be reached")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	given, err := said.answers(f)
	if err != nil {
		return exitUsage, err
	}
	return a.spoken(e, w, func(e env) (int, error) {
		return a.returned(ctx, e, dir, *pace, compare.WholeOptions{AllPaces: !*onePace}, given, args)
	})
}

// returned leads through a return, where it's asked to, and tells what is wrong by
// the latest.
func (a *atJack) returned(ctx context.Context, e env, dir, pace string, o compare.WholeOptions,
	given session.ReturnAnswers, args []string) (int, error) {
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	if _, err := b.signature(); err != nil {
		return exitFailure, err
	}
	if a.measures() {
		file, err := a.measureReturn(ctx, e, b, o, given)
		if err != nil {
			return stoppedReturn(e, err, file, args)
		}
		fmt.Fprintln(e.stderr) // what was said during the test stands above
	}
	d, adapter, err := b.found(e, pace, given)
	if err != nil {
		return exitFailure, withHint(err, "sealworthy return BUILD --supply PORT --meter PORT measures it")
	}
	if err := b.keepReturn(d, adapter); err != nil {
		return exitFailure, err
	}
	if a.asJSON || a.events {
		return exitOfReturn(d), e.found(d)
	}
	sayDiagnosis(e.stdout, colour(e), d)
	return exitOfReturn(d), nil
}

// stoppedReturn is what becomes of a return that was ended in the middle.
func stoppedReturn(e env, err error, file string, args []string) (int, error) {
	if errors.Is(err, session.ErrHeldBack) {
		say(e.stderr, "\n! ", "  ", err.Error()+". What you saw is kept in "+file)
		return exitKeepOpen, nil
	}
	return exitFailure, broken(err, file, "return", args)
}

// found is the diagnosis of the latest return, with what was said of the
// adapter: by the flags, else as it was told last of this return, else as it
// was answered when it was measured.
func (b build) found(e env, pace string, given session.ReturnAnswers) (*returns.Diagnosis, *returns.Adapter, error) {
	said, err := b.answered()
	if err != nil {
		return nil, nil, err
	}
	said = said.Over(given)
	d, s, err := b.diagnose(e, pace, nil, said)
	if err != nil {
		return nil, nil, err
	}
	if w := said.Client(); w != "" {
		notes := []string{"the client said: " + w}
		if _, why := said.Heard(b.plan, s); why != "" {
			notes = append(notes, why)
		}
		d.Notes = append(notes, d.Notes...)
	}
	if seen := said[session.AskEye]; seen != "" && seen != session.NothingSeen {
		d.Notes = append([]string{"seen by eye, before it got current: " + seen}, d.Notes...)
	}
	adapter := given.Adapter()
	if k, err := b.lastReturn(); err == nil && adapter == nil && k.Diagnosis.At.Equal(d.At) {
		adapter = k.Adapter
	}
	if adapter == nil {
		adapter = said.Adapter()
	}
	if adapter != nil {
		says := adapter.Says(b.plan, s)
		d.Adapter = &says
	}
	was, err := b.wentAlong()
	if err != nil {
		return nil, nil, err
	}
	if was != "" {
		d.Notes = append(d.Notes, was)
	}
	return d, adapter, nil
}

// wentAlong says what the adapter gave that went along with the model; "": nobody knows.
func (b build) wentAlong() (string, error) {
	f, err := record.ReadDir(b.dir)
	if err != nil {
		return "", err
	}
	a, err := session.AlongIn(f.Notes)
	if err != nil || a == nil || a.OpenV == nil {
		return "", err
	}
	text := fmt.Sprintf("when it left, its adapter gave %.2f V with nothing on it", *a.OpenV)
	if a.LoadedV != nil {
		text += fmt.Sprintf(", %.2f V on %.3g ohm", *a.LoadedV, a.LoadOhm)
	}
	return text, nil
}

// answered reads what was answered in the latest test of a return.
func (b build) answered() (session.ReturnAnswers, error) {
	f, err := record.ReadDir(b.dir)
	if err != nil {
		return nil, err
	}
	return session.AnswersIn(f.StepsOf(f.Series(compare.Returned))), nil
}

func exitOfReturn(d *returns.Diagnosis) int {
	switch {
	case d.Alarm, len(d.Drops) > 0, d.Adapter != nil && d.Adapter.Faulty:
		return exitKeepOpen
	case d.Verdict == returns.AsItLeft:
		return exitReady
	}
	return exitNotReady
}

// keptReturn is the file of one return.
type keptReturn struct {
	// Sitting is the latest that it rests on: the greatest is of the latest return,
	// whatever the clock said.
	Sitting   int                `json:"sitting,omitempty"`
	Adapter   *returns.Adapter   `json:"adapter,omitempty"`
	Diagnosis *returns.Diagnosis `json:"diagnosis"`
}

// keepReturn writes what was found; the same measurement once more replaces it.
func (b build) keepReturn(d *returns.Diagnosis, a *returns.Adapter) error {
	dir := filepath.Join(b.dir, returnDir)
	if err := makeFolder(dir); err != nil {
		return err
	}
	file := filepath.Join(dir, d.At.UTC().Format("20060102T150405Z")+".json")
	f, err := b.history(env{stderr: io.Discard}) // said already
	if err != nil {
		return err
	}
	var src bytes.Buffer
	line, err := jsonLine(session.Full(keptReturn{session.LastOf(f.Series(compare.Returned)), a, d}))
	if err == nil {
		err = writeIndented(&src, line)
	}
	if err != nil {
		return err
	}
	was, err := readFile(file, mostOwnBytes)
	if errors.Is(err, fs.ErrNotExist) {
		return writeNew(file, src.Bytes())
	}
	if err != nil {
		return err
	}
	var k keptReturn
	if json.Unmarshal(was, &k) != nil || k.Diagnosis == nil || !k.Diagnosis.At.Equal(d.At) {
		return withHint(fmt.Errorf("nothing was written: %s is there, and it's no diagnosis of this return", file),
			"move it away")
	}
	return writeEdited(file, was, src.Bytes())
}

// lastReturn reads what was found last.
func (b build) lastReturn() (keptReturn, error) {
	names, err := filesIn(filepath.Join(b.dir, returnDir), ".json")
	if err != nil {
		return keptReturn{}, err
	}
	if len(names) == 0 {
		return keptReturn{}, withHint(errors.New("no return of this build is on record"),
			"sealworthy return BUILD measures one")
	}
	var last keptReturn
	for _, name := range names {
		k, err := readReturn(name)
		if err != nil {
			return k, err
		}
		if last.Diagnosis == nil || k.Sitting >= last.Sitting {
			last = k
		}
	}
	return last, nil
}

func readReturn(name string) (keptReturn, error) {
	var k keptReturn
	src, err := readFile(name, mostOwnBytes)
	if err != nil {
		return k, err
	}
	if err := json.Unmarshal(src, &k); err != nil {
		return k, &fs.PathError{Op: "read", Path: name, Err: err}
	}
	if k.Diagnosis == nil {
		return k, &fs.PathError{Op: "read", Path: name, Err: errors.New("no diagnosis in it")}
	}
	return k, nil
}
