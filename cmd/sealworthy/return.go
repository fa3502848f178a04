package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"sealworthy/compare"
	"sealworthy/compare/signature"
)

// returnDir holds what was found of each return.
const returnDir = "returns"

const returnHelp = `sealworthy return BUILD [--supply PORT --meter PORT] [--adapter TEXT ...]

A model came back and only its jack can be reached. Leads through it:

  1. By eye, nothing connected: a burnt smell, heat marks, liquid, a loose or
     bent plug, a rattle. If there is any, stop and open it where it shows.
  2. The client's own adapter, alone: its polarity, its volts with nothing on
     it, then its volts on a known resistor (24 ohm, 10 W for a 12 V model, some
     seconds: it gets hot). Not sent is an answer: --adapter "not sent".
  3. The model on the bench supply: little current first, since a return may be
     shorted; ten minutes warm; a trace and a sweep. With --relays a simulated
     bench closes its jack.

Then it is compared with its signature, by another meter too, and what is wrong
is ranked. One place is named only when it is likelier than 0.9; else all that
together reach 0.95, and what would tell them apart.

Exit status: 0 as it left, 3 something is wrong, 4 not settled, 1 failure,
2 usage.`

// adapterFlags is what was found of the client's adapter.
type adapterFlags struct {
	said               string
	reversed           bool
	open, loaded, ohms float64
}

func (a *adapterFlags) declare(f *flag.FlagSet) {
	f.StringVar(&a.said, "adapter", "", `"sent" or "not sent"`)
	f.BoolVar(&a.reversed, "adapter-reversed", false, "its plug has plus where minus belongs")
	f.Float64Var(&a.open, "adapter-volts", 0, "its `volts` with nothing on it")
	f.Float64Var(&a.loaded, "adapter-loaded", 0, "its `volts` on a known resistor")
	f.Float64Var(&a.ohms, "adapter-load", 0, "that resistor in `ohm`")
}

// adapter gives what was said; nil: nothing.
func (a *adapterFlags) adapter() (*signature.Adapter, error) {
	switch {
	case a.said == "not sent":
		return &signature.Adapter{}, nil
	case a.said == "" && a.open == 0 && !a.reversed && a.loaded == 0:
		return nil, nil
	case a.said != "" && a.said != "sent":
		return nil, misuse("return", `--adapter is "sent" or "not sent"`)
	case a.open < 0 || a.loaded < 0 || a.ohms < 0:
		return nil, misuse("return", "volts and ohms of the adapter can't be negative: turned round is --adapter-reversed")
	case a.loaded > 0 && a.ohms == 0:
		return nil, misuse("return", "--adapter-loaded needs the resistor: --adapter-load OHM")
	}
	out := &signature.Adapter{Sent: true, Reversed: a.reversed, LoadOhm: a.ohms}
	if a.open > 0 {
		out.OpenV = &a.open
	}
	if a.loaded > 0 {
		out.LoadedV = &a.loaded
	}
	return out, nil
}

func runReturn(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "return", returnHelp)
	var a atJack
	a.declare(f)
	var ad adapterFlags
	ad.declare(f)
	pace := f.String("pace", "", `diagnose at these paces, as "keep" printed them; else those of power-on`)
	all := f.Bool("all-paces", false, "measure every pace that a button reaches")
	rest, err := parse(f, args, 1)
	if err != nil {
		return exitUsage, err
	}
	adapter, err := ad.adapter()
	if err != nil {
		return exitUsage, err
	}
	b, err := openBuild(e, rest[0])
	if err != nil {
		return exitFailure, err
	}
	if _, err := b.signature(); err != nil {
		return exitFailure, err
	}
	if a.measures() {
		file, err := a.measure(ctx, e, b, compare.Returned, compare.WholeOptions{AllPaces: *all}, []string{
			"look first, nothing connected: heat marks, liquid, a bent plug, a smell of burning; if there is any, stop here",
			"the supply begins with little current: a return may be shorted"})
		if err != nil {
			return exitFailure, broken(err, file, append([]string{"return"}, args...))
		}
	}
	if adapter == nil {
		adapter = b.lastAdapter()
	}
	d, _, err := b.diagnose(e, *pace, adapter)
	if err != nil {
		return exitFailure, withHint(err, "sealworthy return BUILD --supply PORT --meter PORT measures it")
	}
	if err := b.keepReturn(d, adapter); err != nil {
		return exitFailure, err
	}
	if a.asJSON {
		return exitOfReturn(d), writeJSON(e.stdout, d)
	}
	sayDiagnosis(e.stdout, colour(e), d)
	return exitOfReturn(d), nil
}

func exitOfReturn(d *signature.Diagnosis) int {
	switch {
	case d.Alarm, d.Adapter != nil && d.Adapter.Faulty:
		return exitKeepOpen
	case d.Verdict == signature.AsItLeft:
		return exitReady
	}
	return exitNotSettled
}

// keptReturn is the file of one return.
type keptReturn struct {
	Adapter   *signature.Adapter   `json:"adapter,omitempty"`
	Diagnosis *signature.Diagnosis `json:"diagnosis"`
}

// keepReturn writes what was found; the same measurement once more replaces it.
func (b build) keepReturn(d *signature.Diagnosis, a *signature.Adapter) error {
	dir := filepath.Join(b.dir, returnDir)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	file := filepath.Join(dir, d.At.UTC().Format("20060102T150405Z")+".json")
	return replaceFile(file, func(w io.Writer) error { return writeJSON(w, keptReturn{a, d}) })
}

// lastReturn reads what was found last.
func (b build) lastReturn() (keptReturn, error) {
	names, err := filepath.Glob(filepath.Join(b.dir, returnDir, "*.json"))
	if err != nil {
		return keptReturn{}, err
	}
	if len(names) == 0 {
		return keptReturn{}, withHint(errors.New("no return of this build is on record"), "sealworthy return BUILD measures one")
	}
	slices.Sort(names)
	src, err := os.ReadFile(names[len(names)-1])
	if err != nil {
		return keptReturn{}, err
	}
	var k keptReturn
	if err := json.Unmarshal(src, &k); err != nil {
		return k, &fs.PathError{Op: "read", Path: names[len(names)-1], Err: err}
	}
	if k.Diagnosis == nil {
		return k, &fs.PathError{Op: "read", Path: names[len(names)-1], Err: errors.New("no diagnosis in it")}
	}
	return k, nil
}

// lastAdapter is what was said of the adapter last; nil: nothing.
func (b build) lastAdapter() *signature.Adapter {
	k, err := b.lastReturn()
	if err != nil {
		return nil
	}
	return k.Adapter
}
