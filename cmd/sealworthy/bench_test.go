package main

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare/load"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/rig/odd"
)

// workbench is the gig on a simulated bench with instruments of some oddities, and
// what a maker sees of the verb there.
type workbench struct {
	t    *testing.T
	home string
	b    build
	rig  *rig.Bench
	w    world
	// says are the maker's answers in their order, each after the kind of its question:
	// "profile pick lcd meter". nil: nobody is there.
	says []string
}

// benchMaker is the face of a maker who answers in an order, and keeps what is told.
type benchMaker struct {
	t    *testing.T
	says []string
	told strings.Builder
	on   int // how often an output went on
}

func (m *benchMaker) Tell(e session.Event) {
	switch e.What {
	case session.LookedAt:
		m.told.WriteString(strings.Join(lookedLines(width, *e.Looked), "\n") + "\n")
	case session.Tried:
		m.told.WriteString(e.Text + "\n")
	case session.Shown:
		if e.Test.OutputOn {
			m.on++
		}
	}
}

func (m *benchMaker) Ask(_ context.Context, q session.Question) (capture.Answer, error) {
	if wording.Inquired(q) == nil || len(wording.Ways(q)) < 2 {
		m.t.Errorf("no words for %q", q.Kind)
	}
	if len(m.says) == 0 {
		m.t.Errorf("asked more than was thought of: %s", q.Kind)
		return capture.Answer{Choice: "stop"}, nil
	}
	says := m.says[0]
	m.says = m.says[1:]
	rest, is := strings.CutPrefix(says, string(q.Kind)+" ")
	if !is {
		m.t.Errorf("asked %q instead of what %q answers", q.Kind, says)
		return capture.Answer{Choice: "stop"}, nil
	}
	choice, text, _ := strings.Cut(rest, " ")
	if text != "" && choice == "don't" {
		return capture.Answer{Choice: session.DontKnow}, nil
	}
	a := capture.Answer{Choice: choice, Text: text}
	if v, err := strconv.ParseFloat(text, 64); err == nil && choice == "number" {
		a = capture.Answer{Choice: choice, Number: &v}
	}
	return a, nil
}

func newWorkbench(t *testing.T, supply, meter odd.Oddities) *workbench {
	t.Helper()
	sim := clock.NewSimulated(time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC))
	return workbenchBy(t, sim, sim.Outside, supply, meter)
}

// workbenchBy is newWorkbench by a clock; outside does what mustn't be waited for on it.
func workbenchBy(t *testing.T, by clock.Clock, outside func(func()), supply, meter odd.Oddities) *workbench {
	t.Helper()
	b := gig(t)
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	l, err := load.New(b.plan, nil, 1, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	o := rig.Options{Seed: 1, MemoryPorts: true, StrictLine: true}
	o.Supply.Odd, o.Meter.Odd = supply, meter
	r, err := onBench(context.Background(), by, b.plan, cfg, l, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { outside(func() { _ = r.Close() }) })
	x := &workbench{t: t, home: t.TempDir(), b: b, rig: r}
	x.w = world{session.World{Clock: by, Open: r.Opener()}, func(any) bool { return false }}
	return x
}

// run runs the verb and gives what it printed.
func (x *workbench) run(args ...string) (status int, out string, err error) {
	x.t.Helper()
	var stdout, stderr strings.Builder
	e := env{stdin: strings.NewReader(""), stdout: &stdout, stderr: &stderr, exit: func(int) {},
		getenv: func(k string) string {
			return map[string]string{"SEALWORTHY_HOME": x.home, "XDG_RUNTIME_DIR": x.t.TempDir()}[k]
		}}
	m := &benchMaker{t: x.t, says: x.says}
	if x.says != nil {
		g := capture.NewGuard(x.w.Clock)
		e.at = &seat{guard: g, desk: session.NewDesk(false, g.Go, m)}
	}
	status, err = benchIn(context.Background(), e, x.w, args)
	if len(m.says) > 0 {
		x.t.Errorf("never asked: %q", m.says)
	}
	return status, m.told.String() + stdout.String(), err
}

func (x *workbench) all() []string {
	p := x.rig.Ports()
	return []string{"--port", p.Supply, "--port", p.Meter, "--port", p.Relays, "--port", "memory:nobody"}
}

// Instruments are found, tried with the maker's hands and written down; a test of a
// build without a bench of its own takes them from there.
func TestBenchFindsTriesAndWritesDown(t *testing.T) {
	t.Parallel()
	x := newWorkbench(t, nil, nil)
	x.says = []string{"try try", "free yes", "free no", "fuse number 0.4", "write down write"} // no relay is to close
	_, out, err := x.run(x.all()...)
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, want := range []string{
		"supply: SIMULATED BENCH,SUPPLY", "meter: SIMULATED BENCH,METER", "relays: SIMULATED BENCH,RELAYS",
		"memory:nobody", "there is no such port", "The output is ON.", "The output is off, confirmed.",
		"Range 200 mA is fixed.", "Written down in ",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("it doesn't say %q", want)
		}
	}
	if strings.Contains(out, "Relay 1 is closed") || x.rig.Output().On {
		t.Error("the relays were closed after a no, or the output is on")
	}
	if t.Failed() {
		t.Log(out)
	}
	cfg, err := session.ReadBench(x.home)
	p := x.rig.Ports()
	if err != nil || cfg.Supply.Port != p.Supply || cfg.Meter.Port != p.Meter || cfg.Relays.Port != p.Relays ||
		!strings.HasPrefix(cfg.Supply.Identity, "SIMULATED BENCH,SUPPLY") || cfg.Meter.FuseAmps != 0.4 {
		t.Errorf("%+v, %v", cfg, err)
	}
	e := env{getenv: func(k string) string { return map[string]string{"SEALWORTHY_HOME": x.home}[k] }}
	empty := t.TempDir()
	got, err := benchOf(e, empty, bench.Overrides{})
	if err != nil || got.Supply != cfg.Supply || got.Meter != cfg.Meter || got.Relays != (bench.Relays{}) {
		t.Errorf("a build without a bench gets %+v, %v", got, err)
	}
	// The build's own goes first; a port that was given is another instrument.
	if err := os.WriteFile(filepath.Join(empty, benchFile), []byte("[supply]\nby_hand = true\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	got, err = benchOf(e, empty, bench.Overrides{MeterPort: "elsewhere"})
	if err != nil || !got.Supply.ByHand || got.Supply.Port != "" || got.Meter != (bench.Meter{}) {
		t.Errorf("a build with a bench gets %+v, %v", got, err)
	}
}

// Odd instruments get a profile of their own, made from what they answered, and are
// driven by it.
func TestBenchMakesProfiles(t *testing.T) {
	t.Parallel()
	for name, o := range map[string]odd.Oddities{
		"prompt": {odd.Prompt}, "echo": {odd.Echo}, "annotated": {odd.Annotated}, "no limiting": {odd.NoLimiting},
		"remote": {odd.Remote},
		"coarse": {odd.Coarse}, "slow": {odd.Slow}, "shortest": {odd.Shortest, odd.Unquoted, odd.OneField},
		"five": {odd.FiveFields},
		"all":  {odd.Prompt, odd.Annotated, odd.Shortest, odd.Unquoted, odd.OneField, odd.NoLimiting, odd.Remote},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			x := newWorkbench(t, o, o)
			p := x.rig.Ports()
			x.says = []string{"free yes", "fuse don't know"} // the supply may go on
			_, out, err := x.run("--port", p.Supply, "--port", p.Meter, "--try", "--save")
			if err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			if !strings.Contains(out, "The output is ON.") || !strings.Contains(out, "Range 200 mA is fixed.") ||
				strings.Contains(out, "  ! ") {
				t.Errorf("not driven:\n%s", out)
			}
			if !strings.Contains(out, "it doesn't hold the current back") {
				t.Errorf("what of constant current?\n%s", out)
			}
			if x.rig.Output().On {
				t.Error("the output is on")
			}
			cfg, err := session.ReadBench(x.home)
			own, perr := profile.Load(cfg.Supply.Profile, profileFolder(x.home))
			if perr != nil || o.Has(odd.Coarse) && own.Supply.StepAmps != odd.CoarseA {
				t.Errorf("the profile of the supply: %+v, %v", own, perr)
			}
			if err != nil || cfg.Supply.Port != p.Supply || cfg.Meter.Port != p.Meter {
				t.Errorf("%+v, %v", cfg, err)
			}
		})
	}
}

// What is broken, unknown or at the wrong end is named beside what is right.
func TestBenchNamesWhatItDoesntFind(t *testing.T) {
	t.Parallel()
	x := newWorkbench(t, nil, nil)
	folder := profileFolder(x.home)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "torn.toml"), []byte("kind = \"metre\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	p := x.rig.Ports()
	_, out, err := x.run("--json", "--port", p.Meter, "--port", "memory:nobody")
	if err != nil {
		t.Fatal(err)
	}
	mustConform(t, "bench", []byte(out))
	var rep benchReport
	if err := json.Unmarshal([]byte(out), &rep); err != nil {
		t.Fatal(err)
	}
	if len(rep.Looked) != 2 || rep.Looked[0].Found == nil || rep.Looked[1].Found != nil || rep.Looked[1].Why == "" {
		t.Errorf("%+v", rep.Looked)
	}
	if len(rep.Broken) == 0 || !strings.Contains(rep.Broken[0], "torn.toml:1") || rep.Saved != "" {
		t.Errorf("broken %q, saved %q", rep.Broken, rep.Saved)
	}
	// A profile that was chosen and doesn't fit is said so, not saved.
	_, out, err = x.run("--port", p.Meter, "--profile", "terse supply", "--save")
	if err != nil || !strings.Contains(out, "it can't be driven as terse supply") ||
		!strings.Contains(out, "Nothing was found that can be driven") {
		t.Errorf("%v\n%s", err, out)
	}
	if _, err := os.Stat(makersBenchFile(x.home)); err == nil {
		t.Error("a bench was written")
	}
	for _, args := range [][]string{{"--profile", "scpi meter"}, {"--port", "a", "--profile", "nonesuch"},
		{"--print", "nonesuch"}} {
		if status, _, err := x.run(args...); err == nil || status != exitUsage {
			t.Errorf("%q: %d, %v", args, status, err)
		}
	}
	if _, out, err := x.run("--print", "scpi meter"); err != nil || !strings.Contains(out, "[meter.current]") {
		t.Errorf("%v\n%s", err, out)
	}
}

// deaf is a port on which no instrument answers what tells its kind.
type deaf struct{ instruments.Port }

func (d deaf) Write(ctx context.Context, b []byte) error {
	for _, q := range []string{"OUTP?", "CONF?", "FUNC?", "ROUT:CLOS:STAT?"} {
		if strings.HasPrefix(string(b), q) {
			return nil
		}
	}
	return d.Port.Write(ctx, b)
}

// cutOff is a port whose cable is out as soon as the output went on.
type cutOff struct {
	instruments.Port
	on *bool
}

func (c cutOff) Write(ctx context.Context, b []byte) error {
	if *c.on {
		return instruments.ErrPortGone
	}
	*c.on = strings.HasPrefix(string(b), "OUTP ON") || strings.HasPrefix(string(b), "OUTP 1")
	return c.Port.Write(ctx, b)
}

// A trial whose off isn't confirmed ends as a test does whose off isn't: whoever shows that
// it was stopped, say, shows that it may be on.
func TestBenchOffNotConfirmed(t *testing.T) {
	t.Parallel()
	x := newWorkbench(t, nil, nil)
	open, on := x.w.Open, false
	x.w.Open = func(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
		port, err := open(ctx, name, l)
		if err == nil {
			port = cutOff{port, &on}
		}
		return port, err
	}
	x.says = []string{"try try", "free yes"}
	if _, out, err := x.run("--port", x.rig.Ports().Supply); !on || !errors.Is(err, capture.ErrOffNotConfirmed) {
		t.Errorf("on %v, %v\n%s", on, err, out)
	}
}

// What says who it is, and not what, is driven by the profile that the maker picks: one
// that doesn't fit is said so and asked for again. Of two of a kind the maker says which.
func TestBenchAsksWhatIsMeant(t *testing.T) {
	t.Parallel()
	x := newWorkbench(t, nil, nil)
	p, open := x.rig.Ports(), x.w.Open
	other := false
	x.w.Open = func(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
		if name == "memory:other" { // the meter under a second name, too
			name, other = p.Meter, true
		}
		port, err := open(ctx, name, l)
		if err == nil && name == p.Meter {
			port = deaf{port}
		}
		return port, err
	}
	x.says = []string{"profile pick scpi supply", "profile pick scpi meter", "profile leave", "try leave",
		"fuse number 0.2", "write down write"}
	_, out, err := x.run("--port", p.Meter, "--port", "memory:other")
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	cfg, err := session.ReadBench(x.home)
	if err != nil || cfg.Meter.Port != p.Meter || cfg.Meter.Profile != "scpi meter" || cfg.Meter.FuseAmps != 0.2 ||
		!other || !strings.Contains(out, "it can't be driven as scpi supply") {
		t.Errorf("%+v, %v, the other port looked at: %v\n%s", cfg.Meter, err, other, out)
	}
	// Both are one now: which is meant. The fuse is known, as it's the same meter.
	x.says = []string{"which pick memory:other", "try leave", "write down write"}
	_, out, err = x.run("--port", p.Meter, "--port", "memory:other", "--profile", p.Meter+"=scpi meter", "--profile",
		"memory:other=scpi meter")
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	cfg, err = session.ReadBench(x.home)
	if err != nil || cfg.Meter.Port != "memory:other" || cfg.Meter.FuseAmps != 0.2 ||
		!strings.Contains(out, "The meter on "+p.Meter+" isn't taken") {
		t.Errorf("%+v, %v\n%s", cfg.Meter, err, out)
	}
}

// An instrument on the port of one that is written down takes its place: a bench with two
// on one port couldn't be read any more.
func TestBenchPortsSwapped(t *testing.T) {
	t.Parallel()
	x := newWorkbench(t, nil, nil)
	p := x.rig.Ports()
	before := "[supply]\nport = \"" + p.Meter + "\"\nprofile = \"scpi supply\"\n"
	must(t, os.WriteFile(makersBenchFile(x.home), []byte(before), 0o644))
	if _, out, err := x.run("--port", p.Meter, "--save"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	cfg, err := session.ReadBench(x.home)
	if err != nil || cfg.Meter.Port != p.Meter || cfg.Supply.Port != "" {
		t.Errorf("%+v, %v", cfg, err)
	}
	// That the maker is the instrument is written down in its place, too, and nothing is looked at.
	if _, out, err := x.run("--supply-by-hand", "--typed-meter", "--save"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	cfg, err = session.ReadBench(x.home)
	if err != nil || !cfg.Supply.ByHand || !cfg.Meter.Typed || cfg.Meter.Port != "" {
		t.Errorf("%+v, %v", cfg, err)
	}
}
