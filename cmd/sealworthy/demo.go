package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
	"sealworthy/testdata/brackwater"
)

// hiddenFault is a fault in the model, and whether the findings name it.
type hiddenFault struct {
	fault.Fault
	Found string `json:"found"`
}

// demoReport is what the verb prints with --json.
type demoReport struct {
	Build     string                   `json:"build"` // the folder
	Seed      uint64                   `json:"seed"`
	Simulated bool                     `json:"simulated_time"`
	Faults    []hiddenFault            `json:"faults"` // hidden in the model
	Closures  []compare.ClosureFinding `json:"closures"`
	Sheet     string                   `json:"sheet"`
}

func runDemo(ctx context.Context, e env, args []string) (int, error) {
	if len(args) > 0 && args[0] == "return" {
		return runDemoReturn(ctx, e, args[1:])
	}
	f := newFlags(e, "demo", `sealworthy demo [--into DIR] [--seed N] [--json]
sealworthy demo return [...]         the story of a model that comes back

The whole job on a simulated bench: the invented lightship Brackwater, two
faults hidden in it, every closure tested over serial ports in simulated time,
the findings in plain words, and a sheet to print.`)
	return demonstrate(ctx, e, f, args, "tolerances, noise and the second fault", demo)
}

// story is what a demo has to tell: in words, with the exit status, or as JSON.
type story interface{ tell(env) int }

// demonstrate runs a demo in a build of its own.
func demonstrate[S story](ctx context.Context, e env, f *flag.FlagSet, args []string, draws string,
	run func(_ context.Context, _ env, _ build, seed uint64, memory bool) (S, error)) (int, error) {
	into := f.String("into", "", "`folder` for the build; else a temporary one")
	seed := f.Uint64("seed", 1, "`number` that draws "+draws)
	asJSON := f.Bool("json", false, "print what was found as JSON")
	memory := f.Bool("memory", false, "in-memory ports instead of pseudo terminals")
	if _, err := parse(f, args, 0); err != nil {
		return exitUsage, err
	}
	b, err := unpack(e, *into)
	if err != nil {
		return exitFailure, err
	}
	rep, err := run(ctx, e, b, *seed, *memory || !rig.PseudoTerminals)
	if err != nil {
		return exitFailure, err
	}
	if *asJSON {
		return exitReady, writeJSON(e.stdout, rep)
	}
	return rep.tell(e), nil
}

// tell prints the findings, and beside each hidden fault whether it was found.
func (r demoReport) tell(e env) int {
	fmt.Fprintln(e.stdout)
	sayFindings(e.stdout, colour(e), r.Closures, nil, false)
	fmt.Fprintln(e.stdout)
	for _, x := range r.Faults {
		fmt.Fprintf(e.stdout, "hidden: %-34s  found: %s\n", x.Group+" - "+string(x.Kind), x.Found)
	}
	fmt.Fprintf(e.stdout, "\nSheet to print: %s\n", r.Sheet)
	return exitReady
}

// unpack writes the demo build into a folder.
func unpack(e env, dir string) (build, error) {
	if dir == "" {
		t, err := temporaryFolder("brackwater")
		if err != nil {
			return build{}, err
		}
		dir = t
	}
	if _, err := os.Stat(filepath.Join(dir, readingDir)); err == nil {
		return build{}, withHint(fmt.Errorf("%s holds readings already", dir),
			"give --into another folder: a demo never writes over a build")
	}
	if err := makeFolder(dir); err != nil {
		return build{}, err
	}
	for _, x := range []struct {
		name string
		src  []byte
	}{{planFile, brackwater.Plan}, {benchFile, brackwater.Bench}} {
		if err := writeOnce(filepath.Join(dir, x.name), x.src); err != nil {
			return build{}, withHint(err, "give --into another folder: a demo never writes over a build")
		}
	}
	for _, name := range []string{sheetFile, deliveryFile, returnFile} { // made at the end: known at the beginning
		if _, err := placeFor(filepath.Join(dir, name)); err != nil {
			return build{}, err
		}
	}
	return openBuild(e, dir)
}

// demo runs every closure on a simulated bench with two faults in it.
func demo(ctx context.Context, e env, b build, seed uint64, memory bool) (demoReport, error) {
	rep := demoReport{Build: b.dir, Seed: seed, Simulated: true}
	faults, err := demoFaults(b.plan, seed)
	if err != nil {
		return rep, err
	}
	cfg, err := b.readBench()
	if err != nil {
		return rep, err
	}
	fmt.Fprintf(e.stderr, "The lightship Brackwater on a simulated bench, in simulated time.\nTwo faults are hidden "+
		"in it. %d closures, %d groups.\n", len(b.plan.Closures), len(b.plan.Groups))
	for _, s := range cautions(b.plan) {
		wrap(e.stderr, "  caution: ", "    ", s)
	}
	if err := simulate(ctx, e, b, cfg, faults, seed, memory, compare.Fitted); err != nil {
		return rep, err
	}
	fmt.Fprintln(e.stderr, "Measured. Now the findings and the sheet.")
	leads := session.LeadsOf(cfg)
	var folded record.Folded
	if rep.Closures, folded, err = b.findings(e, "", leads); err != nil {
		return rep, err
	}
	for _, x := range faults {
		rep.Faults = append(rep.Faults, hiddenFault{x, found(x, rep.Closures)})
	}
	rep.Sheet = filepath.Join(b.dir, sheetFile)
	return rep, writeSheet(rep.Sheet, b, rep.Closures, folded, leads, time.Now())
}

// found says whether the findings name a fault: "yes", or what they say instead.
func found(x fault.Fault, cs []compare.ClosureFinding) string {
	out := "no, nothing was measured of it"
	for _, c := range cs {
		for _, f := range c.Groups {
			switch {
			case f.Group != x.Group || f.Verdict == compare.NotMeasured:
			case f.Verdict == compare.InBand:
				out = "no, its group is in band"
			case f.Verdict == compare.CantTell:
				return "no, it can't be told"
			case len(f.Causes) == 0:
				return "its group, not what is wrong"
			case f.Causes[0].Name == string(x.Kind) || slices.Contains(f.Causes[0].Kinds, string(x.Kind)):
				return "yes"
			default:
				return "its group, taken for: " + f.Causes[0].Name
			}
		}
	}
	return out
}

// simulate runs the test of all closures against a bench in this process, over
// its ports, in simulated time.
func simulate(ctx context.Context, e env, b build, cfg *bench.Config, faults []fault.Fault, seed uint64, memory bool,
	stage string) error {
	c := clock.NewSimulated(time.Now())
	r, err := putUp(ctx, c, b.plan, cfg, faults, seed, load.Options{Loose: stage == compare.Loose}, memory)
	if err != nil {
		return err
	}
	return onRig(ctx, e, b, cfg, c, r, bench.Overrides{}, func(u *session.Session) error {
		_, err := u.Run(ctx, session.Sitting{Stage: stage, Seed: seed})
		return err
	})
}

// onRig does something on a simulated bench, with nobody there, and takes it down.
func onRig(ctx context.Context, e env, b build, cfg *bench.Config, c *clock.Simulated, r *rig.Bench,
	over bench.Overrides, do func(*session.Session) error) (err error) {
	defer func() {
		// The bench's instruments are parties: they end while this one waits outside.
		c.Outside(func() { err = errors.Join(err, r.Close()) })
	}()
	p := r.Ports()
	over.SupplyPort, over.MeterPort, over.RelaysPort = p.Supply, p.Meter, p.Relays
	w := world{World: session.World{Clock: c, Open: r.Opener()}}
	at, leave := sitDown(e, w, false)
	defer leave()
	u, err := at.session(e, w, b, cfg)
	if err != nil {
		return err
	}
	u.Cautions = nil // the demo says them once
	if err := u.OpenBench(ctx, cfg, over); err != nil {
		return err
	}
	defer u.Bench.Close()
	return do(u)
}

// demoFaults hides the overloaded output and one fault more, drawn by seed from
// those that a maker makes and a meter can see.
func demoFaults(p *plan.Plan, seed uint64) ([]fault.Fault, error) {
	r := rand.New(rand.NewPCG(seed, 0xfa17))
	over, err := fault.Parse(p, brackwater.OverloadedGroup+"="+string(fault.Overloaded), r)
	if err != nil {
		return nil, err
	}
	second := brackwater.SecondFaults[0]
	if seed != 1 {
		second = brackwater.SecondFaults[r.IntN(len(brackwater.SecondFaults))]
	}
	other, err := fault.Parse(p, second, r)
	if err != nil {
		return nil, err
	}
	return []fault.Fault{over, other}, nil
}
