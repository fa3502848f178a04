package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/look"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
	"sealworthy/testdata/brackwater"
)

// returnReport is what the verb prints with --json.
type returnReport struct {
	Build     string      `json:"build"`
	Seed      uint64      `json:"seed"`
	Simulated bool        `json:"simulated_time"`
	Years     float64     `json:"years"`
	Fault     fault.Fault `json:"fault"` // hidden in the model
	Signature string      `json:"signature"`
	// Alone is what the readings alone tell, Look what the maker then saw of the
	// lights, Diagnosis what both tell; Right: the place named is that of the fault.
	Alone     *returns.Diagnosis `json:"by_readings_alone"`
	Look      string             `json:"look"`
	Diagnosis *returns.Diagnosis `json:"diagnosis"`
	Right     bool               `json:"right"`
	Pages     []string           `json:"pages"` // the client's at delivery, and that of the return
}

// What happens between delivery and return in the demo. Invented.
const (
	demoYears   = 3.0
	roomAtHome  = 21.0 // degC
	roomThen    = 26.0
	demoPlugOhm = 0.06
)

func runDemoReturn(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "demo", `sealworthy demo return [--into DIR] [--seed N] [--json]

The story of a return on a simulated bench, in simulated time: the invented
lightship Brackwater is measured, closed, and its signature kept. Three years
later it comes back with one fault in it, to another bench with another meter
and in another room, and only its jack can be reached. First the readings speak
alone; then somebody looks at it. Exit status: 0 the right place was named.`)
	return demonstrate(ctx, e, f, args, "tolerances, noise, benches and the fault", demoReturn)
}

// tell prints the end of the story: what the readings alone tell, what was seen,
// what both tell, and whether that is right.
func (r returnReport) tell(e env) int {
	k := colour(e)
	fmt.Fprintf(e.stdout, "\n%s\n\n", k.loud("By readings alone, with nobody looking"))
	sayDiagnosis(e.stdout, k, r.Alone)
	fmt.Fprintf(e.stdout, "\n%s\n\n", k.loud("Then somebody looks at it, warm and lit, for a minute"))
	sayDiagnosis(e.stdout, k, r.Diagnosis)
	fmt.Fprintln(e.stdout)
	wrap(e.stdout, "", "", r.end())
	fmt.Fprintf(e.stdout, "\nThe client's page: %s\nThe return's page: %s\n", r.Pages[0], r.Pages[1])
	if !r.Right {
		return exitNotReady
	}
	return exitReady
}

// end says whether the place named is right, and what the look added to it.
func (r returnReport) end() string {
	hidden := fmt.Sprintf("Hidden in the model was: %s, %s. ", r.Fault.Group, r.Fault.Kind)
	named := r.Diagnosis.Named
	switch {
	case named == nil:
		return hidden + "No one place was named: what would tell the rest apart stands above."
	case !r.Right:
		return hidden + fmt.Sprintf("%q was named: that is wrong.", named.Place)
	case r.Alone.Named != nil && r.Alone.Named.Place == named.Place:
		return hidden +
			fmt.Sprintf("%q was named, and that is right. The readings had it at %s; the look makes it %s.",
				named.Place, words.Sureness(r.Alone.Named.P), words.Sureness(named.P))
	}
	return hidden + fmt.Sprintf("%q was named, and that is right. The readings alone left %d places open; the look "+
		"took away all but one.", named.Place, len(r.Alone.Set))
}

// demoReturn plays the story.
func demoReturn(ctx context.Context, e env, b build, seed uint64, memory bool) (returnReport, error) {
	r := rand.New(rand.NewPCG(seed, 0x4e7))
	what := brackwater.ReturnFaults[r.IntN(len(brackwater.ReturnFaults))]
	broken, err := fault.Parse(b.plan, what, r)
	rep := returnReport{Build: b.dir, Seed: seed, Simulated: true, Years: demoYears, Fault: broken}
	if err != nil {
		return rep, err
	}
	cfg, err := b.readBench()
	if err != nil {
		return rep, err
	}
	say := func(s string) { wrap(e.stderr, "", "", s) }
	say("The lightship Brackwater on a simulated bench, in simulated time.")
	now := time.Now()
	at := func(c float64) *float64 { return &c }
	home := bout{cfg: cfg, seed: seed, memory: memory}
	say("\nBefore the parts are glued: every group alone, with its voltage sweep.")
	home.start, home.s = now, session.Sitting{Stage: compare.Fitted, Seed: seed, Sweep: true, RoomC: at(roomAtHome)}
	home.load.AmbientC = at(roomAtHome)
	if err := home.run(ctx, e, b); err != nil {
		return rep, err
	}
	say("\nAt delivery: the whole model at its jack, after ten minutes warm.")
	home.start, home.s = now.Add(24*time.Hour),
		session.Sitting{Stage: compare.Delivered, Seed: seed, RoomC: at(roomAtHome),
			Whole: &compare.WholeOptions{Warm: returns.Warm, AllPaces: true}}
	if err := home.run(ctx, e, b); err != nil {
		return rep, err
	}
	s, file, err := b.keep(e)
	if err != nil {
		return rep, err
	}
	rep.Signature = file
	sayKept(e.stderr, s, file)
	say(fmt.Sprintf("\n%.0f years later: it comes back. Another bench, another meter, another room; only the jack "+
		"can be reached.", demoYears))
	away, err := otherBench(b, *cfg, seed)
	if err != nil {
		return rep, err
	}
	away.memory, away.faults, away.lead = memory, []fault.Fault{broken}, s
	away.load = load.Options{AmbientC: at(roomThen), Years: demoYears, JackOhm: demoPlugOhm}
	away.start, away.s = now.Add(time.Duration(demoYears*365*24)*time.Hour),
		session.Sitting{Stage: compare.Returned, Seed: seed + 1, RoomC: at(roomThen),
			Whole: &compare.WholeOptions{Warm: returns.Warm}}
	if err := away.run(ctx, e, b); err != nil {
		return rep, err
	}
	if rep.Alone, _, err = b.found(e, "", nil); err != nil {
		return rep, err
	}
	if rep.Look, err = demoLook(b, s, broken, seed, away.load); err != nil {
		return rep, err
	}
	if rep.Diagnosis, _, err = b.found(e, "", session.ReturnAnswers{session.ToldLook: rep.Look}); err != nil {
		return rep, err
	}
	rep.Right = rep.Diagnosis.Named != nil && rep.Diagnosis.Named.Second == "" &&
		rep.Diagnosis.Named.Place == broken.Group
	return rep, rep.pages(e, b)
}

// demoLook is what a maker who overlooks nothing says of the lights of a model with
// a fault: how many are dark, or that they are dim by what they still draw.
func demoLook(b build, s *returns.Signature, f fault.Fault, seed uint64, o load.Options) (string, error) {
	dark, of := fault.Darkens(b.plan, f)
	if dark > 0 {
		return fmt.Sprintf("%s: %d of %d dark", f.Group, dark, of), nil
	}
	draw := func(fs ...fault.Fault) (float64, error) {
		l, err := load.New(b.plan, fs, seed, o)
		if err != nil {
			return 0, err
		}
		on := make([]bool, len(l.Terminals()))
		for i := range on {
			on[i] = true
		}
		return l.Current(rig.State{Volts: returns.JackOf(b.plan, s).Volts, Since: returns.Warm, On: on,
			AmbientC: o.RoomC()}), l.Err()
	}
	good, err := draw()
	if err != nil {
		return "", err
	}
	bad, err := draw(f)
	g, ok := s.Group(f.Group)
	if err != nil || !ok {
		return look.Right, err
	}
	switch is := look.Fed(1-(good-bad)/g.Lit.At(returns.JackOf(b.plan, s).Volts), max(1, of)); {
	case is.Dark > 0:
		return f.Group + ": all dark", nil
	case is.Dim > 0:
		return f.Group + ": dim", nil
	}
	return look.Right, nil
}

// pages keeps what was found and writes the client's page and the return's.
func (r *returnReport) pages(e env, b build) error {
	if err := b.keepReturn(r.Diagnosis, nil); err != nil {
		return err
	}
	for _, form := range []string{formDelivery, formReturn} {
		file, err := b.form(e, form, "", clientFlags{}, r.Diagnosis.At)
		if err != nil {
			return err
		}
		r.Pages = append(r.Pages, file)
	}
	return nil
}

// bout is one sitting of the demo on one simulated bench.
type bout struct {
	cfg      *bench.Config
	start    time.Time
	seed     uint64 // of the model
	bench    rig.Options
	load     load.Options
	faults   []fault.Fault
	s        session.Sitting
	memory   bool
	profiles string // folder of profiles of its own
	// lead leads through a return against this signature; nil: the steps as they are.
	lead *returns.Signature
}

// otherBench is a bench of another make: its meter is good for 0.5 % and says
// so by its profile.
func otherBench(b build, cfg bench.Config, seed uint64) (bout, error) {
	dir := filepath.Join(b.dir, "other-bench")
	if err := makeFolder(dir); err != nil {
		return bout{}, err
	}
	err := writeOnce(filepath.Join(dir, brackwater.PlainMeterName+".toml"), brackwater.PlainMeter)
	cfg.Meter.Profile = brackwater.PlainMeterName
	o := rig.Options{Seed: seed ^ 0x0ddba11}
	o.Meter.Ranges = rig.DefaultRanges()
	for i := range o.Meter.Ranges {
		a := &o.Meter.Ranges[i]
		a.Accuracy.OfReading, a.Accuracy.Floor = 0.005, 3*a.Resolution
	}
	return bout{cfg: &cfg, seed: seed, bench: o, profiles: dir}, err
}

// run does the sitting over the bench's ports, in simulated time.
func (x bout) run(ctx context.Context, e env, b build) error {
	c := clock.NewSimulated(x.start)
	l, err := load.New(b.plan, x.faults, x.seed, x.load)
	if err != nil {
		return err
	}
	o := x.bench
	o.MemoryPorts, o.AmbientC = x.memory, x.load.RoomC()
	if o.Seed == 0 {
		o.Seed = x.seed
	}
	r, err := onBench(ctx, c, b.plan, x.cfg, l, o)
	if err != nil {
		return err
	}
	err = onRig(ctx, e, b, x.cfg, c, r, bench.Overrides{ProfileFolder: x.profiles}, func(u *session.Session) error {
		if x.lead == nil {
			_, err := u.Run(ctx, x.s)
			return err
		}
		weigh, err := b.returnOptions()
		if err != nil {
			return err
		}
		_, err = u.Return(ctx, session.Return{Sitting: x.s, Signature: x.lead, Weigh: weigh}, nil, bench.Overrides{})
		return err
	})
	return errors.Join(err, l.Err())
}
