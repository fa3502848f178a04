package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/byhand"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/wire"
)

// benchSet is a bench that is open, with what the command knows of it.
type benchSet struct {
	capture.Bench
	opened []*bench.Opened // those opened again among them
	leads  compare.Leads
	window time.Duration
	maxA   float64 // of the supply; 0: unknown
}

func (b *benchSet) Close() error {
	var errs []error
	for _, o := range b.opened {
		errs = append(errs, o.Close())
	}
	return errors.Join(errs...)
}

// readBench reads the build's bench.toml; without one it's a bench of nothing.
func (b build) readBench() (*bench.Config, error) {
	file := filepath.Join(b.dir, benchFile)
	src, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return bench.Default(), nil
	}
	if err != nil {
		return nil, err
	}
	return bench.Parse(file, src)
}

// leads gives the resistance of the leads that bench.toml states.
func (b build) leads() (compare.Leads, error) {
	c, err := b.readBench()
	if err != nil {
		return compare.Leads{}, err
	}
	return compare.Leads{Ohm: c.Leads.Ohms, HalfOhm: c.Leads.HalfWidthOhm}, nil
}

// channels maps terminals and buttons to relays: as bench.toml says, else
// feeds in the order of the plan, then buttons.
func channels(p *plan.Plan, c *bench.Config) (feeds, buttons map[string]int) {
	feeds, buttons = map[string]int{}, map[string]int{}
	if len(c.Relay) > 0 {
		for _, r := range c.Relay {
			if r.Feed != "" {
				feeds[r.Feed] = r.Channel
			} else {
				buttons[r.Button] = r.Channel
			}
		}
		return feeds, buttons
	}
	n := 0
	for _, t := range wiring.Terminals(p) {
		n++
		feeds[t.Name] = n
	}
	for _, b := range p.Boards {
		if b.Button {
			n++
			buttons[b.Name] = n
		}
	}
	return feeds, buttons
}

// openBench opens what bench.toml and the command line name. f asks where the
// maker is the instrument.
func openBench(ctx context.Context, c clock.Clock, open instruments.Opener, b build, cfg *bench.Config, over bench.Overrides, f capture.Face) (*benchSet, error) {
	o, err := bench.Open(ctx, c, open, cfg, over)
	if err != nil {
		return nil, withHint(err, "sealworthy ports lists the ports and tries an instrument on one")
	}
	s := &benchSet{opened: []*bench.Opened{o}, leads: compare.Leads{Ohm: cfg.Leads.Ohms, HalfOhm: cfg.Leads.HalfWidthOhm}}
	s.Bench = capture.Bench{
		Clock: c, Supply: o.Supply, Meter: o.Meter, Relays: o.Relays,
		SupplyName: compare.SupplyName, MeterName: compare.MeterName, LeadsOhm: cfg.Leads.Ohms, MeterFuseAmps: cfg.Meter.FuseAmps,
	}
	switch {
	case o.Supply == nil && cfg.Supply.ByHand:
		s.Supply = &byhand.Supply{Face: f}
	case o.Supply == nil:
		return nil, errors.Join(withHint(errors.New("no supply is named"),
			"give its port: --supply PORT", "or set it yourself: --supply-by-hand"), s.Close())
	}
	if o.Meter == nil && cfg.Meter.Typed {
		s.Meter = &byhand.Meter{Face: f, Clock: c, JackFuseAmps: cfg.Meter.FuseAmps}
	}
	if o.Relays != nil {
		s.Channels, s.Buttons = channels(b.plan, cfg)
	}
	if d, ok := s.Meter.(instruments.Describer); ok && s.Meter != nil {
		x := d.Describe()
		s.window = x.Window
		if s.MeterFuseAmps == 0 {
			s.MeterFuseAmps = x.JackFuseAmps
		}
	}
	if d, ok := s.Supply.(instruments.Describer); ok {
		s.maxA = d.Describe().MaxAmps
	}
	r := reopener{set: s, c: c, open: open, cfg: cfg, over: over, others: otherPorts}
	s.ReopenMeter, s.ReopenSupply, s.ReopenRelays = r.meter, r.supply, r.relays
	return s, nil
}

// sitting is one test: where it is recorded and what it goes through.
type sitting struct {
	stage   string
	closure string
	feeds   []string
	way     capture.Way // empty: each feed alone
	redo    []string
	resume  bool
	seed    uint64
	hold    bool
	ambient *float64
	limit   time.Duration  // of waiting for a lost instrument; 0: the engine's
	guard   *capture.Guard // nil: the engine makes one
}

// run carries out a test and returns the file that it was recorded in.
func (s sitting) run(ctx context.Context, e env, b build, bs *benchSet, f capture.Face) (string, error) {
	exp := compare.NewExpected(b.plan)
	j, err := compare.NewJudge(exp, compare.DefaultRule(), bs.leads)
	if err != nil {
		return "", err
	}
	bs.AmbientC = s.ambient
	bud, err := exp.At(compare.Conditions{Stage: s.stage, LeadsOhm: bs.leads.Ohm, LeadsHalfOhm: bs.leads.HalfOhm, AmbientC: s.ambient})
	if err != nil {
		return "", err
	}
	steps, err := compare.Steps(b.plan, bud, compare.StepOptions{
		Stage: s.stage, Closure: s.closure, Feeds: s.feeds, Way: s.way, JackFuseAmps: bs.MeterFuseAmps, SupplyMaxAmps: bs.maxA, MeterWindow: bs.window,
	})
	if err != nil {
		return "", err
	}
	file, done, redone, err := s.file(e, b, bs.Clock.Now(), steps)
	if err != nil {
		return "", err
	}
	rec, warnings, err := record.OpenRecorder(record.OS{}, file, nil)
	if err != nil {
		return "", err
	}
	for _, w := range warnings {
		wrap(e.stderr, "note: ", "  ", fmt.Sprint(w))
	}
	keeper := record.Keep(rec, b.plan.Build)
	for _, r := range redone {
		if err := keeper.Mark(capture.Mark{Kind: capture.MarkRedone, At: bs.Clock.Now(), StepID: r.Step.ID, Closure: r.Step.Closure,
			Feed: r.Step.Feed, Groups: r.Step.Groups, Pace: r.Step.Pace, Stage: s.stage, Reason: "asked for", Simulated: bs.Clock.Simulated()}); err != nil {
			return file, errors.Join(err, rec.Close())
		}
	}
	guide := compare.NewGuide(j, bud, steps, bs.Relays == nil)
	if n, ok := f.(interface{ Nobody() bool }); ok && n.Nobody() {
		guide.Unattended()
	}
	_, err = capture.Run(ctx, bs.Bench, guide, f, keeper, capture.Options{
		Stage: s.stage, Done: done, Total: len(steps), Rand: rand.New(rand.NewPCG(s.seed, 0x5ea1)), HoldWhenLost: s.hold, ReplugFor: s.limit, Guard: s.guard,
	})
	return file, errors.Join(err, rec.Close())
}

// file chooses the file of a sitting. A resumed test goes on in the latest of
// its stage; what it holds of these steps counts as done.
func (s sitting) file(e env, b build, now time.Time, steps []capture.Step) (string, []capture.StepRecord, []capture.StepRecord, error) {
	dir := filepath.Join(b.dir, readingDir)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", nil, nil, err
	}
	if s.resume || len(s.redo) > 0 {
		sittings, _, err := record.ListSittings(dir)
		if err != nil {
			return "", nil, nil, err
		}
		for _, x := range slices.Backward(sittings) {
			if x.Stage != s.stage {
				continue
			}
			f, err := record.Read([]record.Sitting{x})
			if err != nil {
				return "", nil, nil, err
			}
			done, redone := s.sort(f.Steps, steps)
			return x.Path, done, redone, nil
		}
		return "", nil, nil, withHint(fmt.Errorf("no test at stage %s was begun yet", s.stage), "leave out --resume and --redo to begin one")
	}
	name, err := record.NewName(now, s.stage)
	if err != nil {
		return "", nil, nil, err
	}
	return filepath.Join(dir, name), nil, nil, nil
}

// sort parts what was recorded into what counts and what is to be done again.
func (s sitting) sort(have []capture.StepRecord, steps []capture.Step) (done, redone []capture.StepRecord) {
	for _, r := range have {
		if !slices.ContainsFunc(steps, func(x capture.Step) bool { return x.ID == r.Step.ID }) {
			continue
		}
		switch {
		case slices.Contains(s.redo, r.Step.Feed) || slices.ContainsFunc(r.Step.Groups, func(g string) bool { return r.Step.Kind == capture.Power && slices.Contains(s.redo, g) }):
			redone = append(redone, r)
		case r.Outcome == capture.Measured || r.Outcome == capture.Tripped || (r.Outcome == capture.Skipped && !isUnattendedSkip(r)):
			done = append(done, r)
		}
	}
	return done, redone
}

// isUnattendedSkip: what was left out because nobody was there is asked again.
func isUnattendedSkip(r capture.StepRecord) bool { return r.Reason == "unattended" }

// reopener opens a lost instrument again, on its old port or on any other that
// answers with the same identity.
type reopener struct {
	set  *benchSet
	c    clock.Clock
	open instruments.Opener
	cfg  *bench.Config
	over bench.Overrides

	others func() []string // ports where it may be now
}

func (r reopener) meter(ctx context.Context) (instruments.Meter, error) {
	o, err := r.one(ctx, "meter")
	if err != nil {
		return nil, err
	}
	return o.Meter, nil
}

func (r reopener) supply(ctx context.Context) (instruments.Supply, error) {
	o, err := r.one(ctx, "supply")
	if err != nil {
		return nil, err
	}
	return o.Supply, nil
}

func (r reopener) relays(ctx context.Context) (instruments.Relays, error) {
	o, err := r.one(ctx, "relays")
	if err != nil {
		return nil, err
	}
	return o.Relays, nil
}

// one tries the port it had, then the ports that the system lists. The engine
// checks that it is the same instrument.
func (r reopener) one(ctx context.Context, which string) (*bench.Opened, error) {
	c := bench.Config{}
	var port *string
	switch which {
	case "supply":
		c.Supply = r.cfg.Supply
		port = &c.Supply.Port
		c.Supply.Port, c.Supply.Profile = or(r.over.SupplyPort, c.Supply.Port), or(c.Supply.Profile, "scpi supply")
	case "meter":
		c.Meter = r.cfg.Meter
		port = &c.Meter.Port
		c.Meter.Port, c.Meter.Profile = or(r.over.MeterPort, c.Meter.Port), or(c.Meter.Profile, "scpi meter")
	default:
		c.Relays = r.cfg.Relays
		port = &c.Relays.Port
		c.Relays.Port, c.Relays.Profile = or(r.over.RelaysPort, c.Relays.Port), or(c.Relays.Profile, "scpi relays")
	}
	over := bench.Overrides{ProfileFolder: r.over.ProfileFolder}
	o, err := bench.Open(ctx, r.c, r.open, &c, over)
	if err == nil {
		r.set.opened = append(r.set.opened, o)
		return o, nil
	}
	mine := []string{or(r.over.SupplyPort, r.cfg.Supply.Port), or(r.over.MeterPort, r.cfg.Meter.Port), or(r.over.RelaysPort, r.cfg.Relays.Port)}
	for _, p := range r.others() {
		if slices.Contains(mine, p) {
			continue
		}
		*port = p
		if o, e := bench.Open(ctx, r.c, r.open, &c, over); e == nil {
			r.set.opened = append(r.set.opened, o)
			return o, nil
		}
	}
	return nil, err
}

// otherPorts lists where a replugged instrument may have gone. On Linux listing
// opens the machine's own ports, which may be in use by this test: there only
// those that come and go are looked at.
func otherPorts() []string {
	if runtime.GOOS != "linux" {
		ports, err := wire.List()
		if err != nil {
			return nil
		}
		var out []string
		for _, p := range ports {
			out = append(out, p.Name)
		}
		return out
	}
	var out []string
	for _, pattern := range []string{"/dev/ttyUSB*", "/dev/ttyACM*"} {
		m, _ := filepath.Glob(pattern) // the patterns are well formed
		out = append(out, m...)
	}
	return out
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
