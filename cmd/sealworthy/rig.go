package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os/signal"
	"sort"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/rig/odd"
)

// rigReport is what the verb prints: where the simulated bench can be found.
type rigReport struct {
	Ports     rig.PortNames  `json:"ports"`
	Seed      uint64         `json:"seed"`
	Law       load.Law       `json:"law"` // that the parts follow
	Faults    []fault.Fault  `json:"faults"`
	Feeds     map[string]int `json:"feeds"`   // relay channel of each feed
	Buttons   map[string]int `json:"buttons"` // relay channel across each button
	Simulated bool           `json:"simulated_time"`

	Odd map[string]odd.Oddities `json:"odd"` // how each instrument differs from the usual
}

func runRig(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "rig", `sealworthy rig PLAN [--fault GROUP=FAULT]... [--seed N] [--stage loose]
               [--law other] [--odd INSTRUMENT=HOW]...
       sealworthy rig --list

Puts up a simulated bench with the model of PLAN on it: supply, meter and relay
board, each behind a serial port of its own. Prints the ports and runs until
q or Ctrl-C; meanwhile, from another terminal:

  sealworthy measure BUILD --supply PORT --meter PORT --relays PORT --unattended

`+controls+`

`+strings.Join(wrapped("Faults: ", "  ", kindList()+"."), "\n"))
	var faults names
	f.Var(&faults, "fault", "`group=fault`, as \"cabin windows=dark segment\"; may be given again")
	seed := f.Uint64("seed", 1, "`number` that tolerances, noise and places of faults are drawn by")
	stage := f.String("stage", compare.Fitted, "the `stage`; loose: each feed is clipped at its own wire")
	law := f.String("law", string(load.PlanLaw),
		"the device `law` of its parts: plan, as the plan's points are read; "+
			"other: one of its own, the same only at service voltage")
	var odds names
	f.Var(&odds, "odd", "`how` its instruments differ from the usual, as prompt,slow; or of one: meter=echo; may be "+
		"given again")
	list := f.Bool("list", false, "list the ways in which instruments differ, for --odd")
	verbose := f.Bool("verbose", false, "say on stderr whenever the output goes on or off")
	asJSON := f.Bool("json", false, "print the ports as JSON, and at the end each switching of the output")
	rest, err := parse(f, args, -1)
	if err != nil {
		return exitUsage, err
	}
	if *list {
		return exitReady, listOddities(e, *asJSON)
	}
	dir, err := oneBuild(f, rest)
	if err != nil {
		return exitUsage, err
	}
	ro, err := oddBench(odds)
	if err != nil {
		return exitUsage, misuse("rig", "%v", err)
	}
	if *law != string(load.PlanLaw) && *law != string(load.OtherLaw) {
		return exitUsage, misuse("rig", "no device law %q; there are plan and other", *law)
	}
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	cfg, err := b.readBench()
	if err != nil {
		return exitFailure, err
	}
	seeded, err := parseFaults(b.plan, faults, *seed)
	if err != nil {
		return exitUsage, misuse("rig", "%v", err)
	}
	ctx, stop := signal.NotifyContext(ctx, capture.Signals()...)
	defer stop()
	o := load.Options{Loose: *stage == compare.Loose, Law: load.Law(*law)}
	ro.Seed = *seed
	if ro.Folder, err = temporaryFolder("sealworthy-rig"); err != nil {
		return exitFailure, err
	}
	defer removeTemporary(ro.Folder)
	r, err := putUpAs(ctx, clock.Wall{}, b.plan, cfg, seeded, o, ro)
	if err != nil {
		return exitFailure, withHint(err, "where there are no pseudo terminals (Windows) "+
			"the simulated bench works inside one program only: sealworthy demo")
	}
	rep := rigReport{Ports: r.Ports(), Seed: *seed, Law: load.Law(*law), Faults: seeded}
	rep.Odd = map[string]odd.Oddities{rig.Supply: ro.Supply.Odd, rig.Meter: ro.Meter.Odd, rig.Relays: ro.Relays.Odd}
	rep.Feeds, rep.Buttons = session.Channels(b.plan, cfg)
	if *asJSON {
		err = writeJSON(e.stdout, rep)
	} else {
		sayRig(e, rep, dir)
	}
	if err == nil {
		err = operate(ctx, e, &atRig{Bench: r, plan: b.plan, faults: seeded, seed: *seed, o: o}, *verbose, *asJSON)
	}
	return exitReady, errors.Join(err, r.Close())
}

func kindList() string {
	var s []string
	for _, k := range append(fault.Kinds(), fault.UpstreamKinds()...) {
		s = append(s, string(k))
	}
	return strings.Join(s, ", ")
}

func parseFaults(p *plan.Plan, given []string, seed uint64) ([]fault.Fault, error) {
	r := rand.New(rand.NewPCG(seed, 0xfa17))
	out := []fault.Fault{}
	for _, s := range given {
		x, err := fault.Parse(p, s, r)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

// putUp puts up a simulated bench with the model of a plan on it.
func putUp(ctx context.Context, c clock.Clock, p *plan.Plan, cfg *bench.Config, faults []fault.Fault, seed uint64,
	o load.Options, memory bool) (*rig.Bench, error) {
	return putUpAs(ctx, c, p, cfg, faults, o, rig.Options{Seed: seed, MemoryPorts: memory})
}

// putUpAs is putUp with a bench of other options; its seed draws the model, too.
func putUpAs(ctx context.Context, c clock.Clock, p *plan.Plan, cfg *bench.Config, faults []fault.Fault,
	o load.Options, ro rig.Options) (*rig.Bench, error) {
	l, err := load.New(p, faults, ro.Seed, o)
	if err != nil {
		return nil, err
	}
	return onBench(ctx, c, p, cfg, l, ro)
}

// onBench puts a model on a simulated bench, its feeds and buttons on relays.
func onBench(ctx context.Context, c clock.Clock, p *plan.Plan, cfg *bench.Config, l benchLoad,
	o rig.Options) (*rig.Bench, error) {
	feeds, buttons := session.Channels(p, cfg)
	o.Buttons, o.LeadsOhm = l.Buttons(), cfg.Leads.Ohms
	o.Channels, o.ButtonChannels = map[int]string{}, map[int]string{}
	for t, ch := range feeds {
		o.Channels[ch] = t
	}
	for t, ch := range buttons {
		o.ButtonChannels[ch] = t
	}
	return rig.New(ctx, c, l, o)
}

// benchLoad is a model as a simulated bench feels it, and its buttons.
type benchLoad interface {
	rig.Load
	Buttons() []string
}

func sayRig(e env, r rigReport, path string) {
	w := e.stdout
	fmt.Fprintf(w, "A simulated bench is up. q or Ctrl-C takes it down.\n\n")
	fmt.Fprintf(w, "  supply  %s\n  meter   %s\n  relays  %s\n\n", r.Ports.Supply, r.Ports.Meter, r.Ports.Relays)
	for _, x := range r.Faults {
		fmt.Fprintf(w, "  fault: %s\n", x)
	}
	sayOddities(w, r.Odd)
	if r.Law == load.OtherLaw {
		fmt.Fprintln(w, "  its parts follow a device law of their own")
	}
	var lines []string
	for name, ch := range r.Feeds {
		lines = append(lines, fmt.Sprintf("  relay %2d: %s", ch, name))
	}
	for name, ch := range r.Buttons {
		lines = append(lines, fmt.Sprintf("  relay %2d: button of %s", ch, name))
	}
	sort.Strings(lines)
	fmt.Fprintf(w, "%s\n\nFrom another terminal:\n\n", strings.Join(lines, "\n"))
	fmt.Fprintf(w, "  sealworthy measure %s \\\n    --supply %s --meter %s --relays %s \\\n    --unattended\n",
		quoted(path),
		r.Ports.Supply, r.Ports.Meter, r.Ports.Relays)
}
