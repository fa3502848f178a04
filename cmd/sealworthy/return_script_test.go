package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
	"sealworthy/testdata/brackwater"
)

// TestReturnScripts runs keep, soak and return as a maker would type them, over
// the ports of a simulated bench in simulated time.
func TestReturnScripts(t *testing.T) {
	t.Parallel()
	p := benchScripts("testdata/returns")
	if raceEnabled { // a diagnosis takes twenty times as long; what runs at once is the same in each
		p.Dir, p.Files = "", []string{"testdata/returns/shorted.txtar"}
	}
	testscript.Run(t, p)
}

// benchScripts are scripts that a simulated bench is put up for.
func benchScripts(dir string) testscript.Params {
	return testscript.Params{
		Dir: dir,
		Setup: func(e *testscript.Env) error {
			e.Setenv("SEALWORTHY_HOME", filepath.Join(e.WorkDir, "home"))
			e.Setenv("XDG_RUNTIME_DIR", filepath.Join(e.WorkDir, "run"))
			e.Setenv("TZ", "UTC")
			e.Values["days"] = new(int)
			return os.CopyFS(filepath.Join(e.WorkDir, "gig"), os.DirFS("testdata/plans/gig"))
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"exits": exits, "json": isJSON, "fits": fits, "bench": onSimulatedBench, "counts": counts,
			// meter NAME BUILD: its bench has a meter of another profile.
			"meter": func(ts *testscript.TestScript, neg bool, args []string) {
				file := filepath.Join(ts.MkAbs(args[1]), benchFile)
				b, err := os.ReadFile(file)
				ts.Check(err)
				b = append([]byte("[meter]\nprofile = \""+args[0]+"\"\n\n"), b...)
				ts.Check(os.WriteFile(file, b, 0o644))
			},
			"fitted": func(ts *testscript.TestScript, neg bool, args []string) {
				x := simulatedBench{seed: 3}
				b, err := openBuild(silent(), ts.MkAbs(args[0]))
				ts.Check(err)
				ts.Check(x.sit(b, session.Sitting{Stage: compare.Fitted, Seed: 3, Sweep: true}, dayOf(ts)))
			},
		},
	}
}

// counts FILES N TEXT: the files of this pattern hold TEXT so often, together.
func counts(ts *testscript.TestScript, neg bool, args []string) {
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	m, err := filepath.Glob(ts.MkAbs(args[0]))
	ts.Check(err)
	if len(m) == 0 {
		ts.Fatalf("no file matches %s", args[0])
	}
	got := 0
	for _, f := range m {
		b, err := os.ReadFile(f)
		ts.Check(err)
		got += bytes.Count(b, []byte(args[2]))
	}
	if got != n {
		ts.Fatalf("%s hold %q %d times, not %d", args[0], args[2], got, n)
	}
}

// dayOf is the next day of a script: each test begins on one of its own.
func dayOf(ts *testscript.TestScript) time.Time {
	n := ts.Value("days").(*int)
	*n++
	return time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC).AddDate(0, 0, *n)
}

// simulatedBench is a bench with a model on it, in simulated time.
type simulatedBench struct {
	seed   uint64 // of the model
	load   load.Options
	faults []fault.Fault
	other  bool    // another meter and supply, of 0.5 %
	open   bool    // no relays, and nothing clipped on
	noPort bool    // no relays: the clips are put on by hand
	cut    string  // the test is cut when this is said
	ohm    float64 // of a resistor that is put in the model's place when it's asked for; 0: none
	pace   float64 // simulated seconds a second; 0: as fast as it goes
}

// up puts it up and gives the world that a verb finds, with the flags that name
// its ports.
func (x simulatedBench) up(b build, from time.Time) (*clock.Simulated, *rig.Bench, []string, error) {
	c := clock.NewSimulated(from)
	cfg, err := b.readBench()
	if err != nil {
		return nil, nil, nil, err
	}
	l, err := load.New(b.plan, x.faults, x.seed, x.load)
	if err != nil {
		return nil, nil, nil, err
	}
	o := rig.Options{Seed: x.seed, MemoryPorts: true, AmbientC: x.load.RoomC()}
	if x.other {
		o.Seed, o.Meter.Ranges = x.seed+77, rig.DefaultRanges()
		for i := range o.Meter.Ranges {
			a := &o.Meter.Ranges[i]
			a.Accuracy.OfReading, a.Accuracy.Floor = 0.005, 3*a.Resolution
		}
	}
	var felt benchLoad = l
	if x.ohm > 0 {
		felt = andResistor{l, x.ohm}
	}
	r, err := onBench(context.Background(), c, b.plan, cfg, felt, o)
	if err != nil {
		return nil, nil, nil, err
	}
	p := r.Ports()
	ports := []string{"--supply", p.Supply, "--meter", p.Meter}
	if x.open {
		return c, r, ports, nil
	}
	if x.noPort {
		return c, r, ports, r.Connect(l.Terminals()...)
	}
	return c, r, append(ports, "--relays", p.Relays), nil
}

// andResistor is a model and, beside it, a resistor.
type andResistor struct {
	*load.Load
	ohm float64
}

func (l andResistor) Terminals() []string { return append(l.Load.Terminals(), compare.ResistorFeed) }

func (l andResistor) Current(s rig.State) float64 {
	a := l.Load.Current(s)
	if n := len(s.On); s.On[n-1] {
		a += s.Volts / l.ohm
	}
	return a
}

// sit does a sitting with nobody there.
func (x simulatedBench) sit(b build, s session.Sitting, from time.Time) error {
	cfg, err := b.readBench()
	if err != nil {
		return err
	}
	return bout{cfg: cfg, start: from, seed: x.seed, load: x.load, faults: x.faults, s: s,
		memory: true}.run(context.Background(), silent(), b)
}

// onSimulatedBench is bench [OPTION]... STATUS measure|keep|soak|return|part|bench BUILD ARG...:
// the verb with the ports of a simulated bench, answers from the file "typed" where
// there is one, or from "talk" to a verb that speaks in events. What it says goes to stdout.txt and stderr.txt.
// Options: fault=GROUP=KIND, break=FEED (open for 2 s every 200 s), other (another
// bench), years=N, hands (no relays, everything clipped on), open (no relays, nothing is), cut=TEXT (Ctrl-C when it
// says so), resistor=OHM (hands that put one in the model's place when asked to), script (nobody
// at a terminal), pace=N (so much faster than the machine's time, for hands that are as fast as
// a maker's).
func onSimulatedBench(ts *testscript.TestScript, neg bool, args []string) {
	x := simulatedBench{seed: 3, load: load.Options{AmbientC: degC(21)}}
	var seeded []string
	var err error
	terminal := true
	for ; len(args) > 0; args = args[1:] {
		word, value, _ := strings.Cut(args[0], "=")
		if _, err := strconv.Atoi(word); err == nil {
			break
		}
		switch word {
		case "fault":
			seeded = append(seeded, value)
		case "break":
			x.load.Breaks = append(x.load.Breaks, load.Break{Feed: value, Every: 200 * time.Second,
				For: 2 * time.Second})
		case "other":
			x.other, x.load.AmbientC = true, degC(26)
		case "years":
			n, err := strconv.ParseFloat(value, 64)
			ts.Check(err)
			x.load.Years = n
		case "open":
			x.open = true
		case "hands":
			x.noPort = true
		case "cut":
			x.cut = value
		case "resistor":
			x.ohm, err = strconv.ParseFloat(value, 64)
			ts.Check(err)
			x.noPort = true
		case "pace":
			n, err := strconv.ParseFloat(value, 64)
			ts.Check(err)
			x.pace = n
		case "script":
			terminal = false
		default:
			ts.Fatalf("no option %q", word)
		}
	}
	if len(args) < 3 {
		ts.Fatalf("usage: bench [OPTION]... STATUS VERB BUILD ARG...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	verb := map[string]func(context.Context, env, world, []string) (int, error){"measure": measureIn, "keep": keepIn,
		"soak": soakIn, "return": returnIn, "part": partIn, "bench": benchIn}[args[1]]
	if verb == nil {
		ts.Fatalf("no verb %q here", args[1])
	}
	rest := append([]string(nil), args[2:]...)
	rest[0] = ts.MkAbs(rest[0])
	b, err := openBuild(silent(), rest[0])
	ts.Check(err)
	if args[1] == "part" { // the pieces are clipped where the build's feeds are
		rest = append(rest[1:], "--bench", rest[0])
	}
	x.faults, err = parseFaults(b.plan, seeded, 3)
	ts.Check(err)
	if x.other {
		ts.Check(os.MkdirAll(ts.MkAbs("home/profiles"), 0o755))
		ts.Check(os.WriteFile(ts.MkAbs("home/profiles/"+brackwater.PlainMeterName+".toml"), brackwater.PlainMeter,
			0o644))
	}
	c, r, ports, err := x.up(b, dayOf(ts))
	ts.Check(err)
	c.Pace(x.pace)
	defer func() { c.Outside(func() { ts.Check(r.Close()) }) }()
	var stdout, stderr bytes.Buffer
	ctx, cut := context.WithCancel(context.Background())
	defer cut()
	screen := &cutter{w: &stderr, at: x.cut, cut: cut}
	if x.ohm > 0 {
		screen.at, screen.cut = "Take the clips off the model", func() { _ = r.Connect(compare.ResistorFeed) }
	}
	over := make(chan struct{})
	defer close(over)
	e := env{stdin: &typist{lines: typedIn(ts), asked: screen.asked, ended: over}, stdout: &stdout, stderr: screen,
		getenv: ts.Getenv, exit: func(int) {}}
	if args[1] == "bench" {
		p := r.Ports()
		rest, ports = rest[1:], []string{"--port", p.Supply, "--port", p.Meter}
	}
	heard := func() {}
	if slices.Contains(args, "--events") {
		e.stdin, e.stdout, heard = talk(ts, r, &stdout)
	}
	status, err := verb(ctx, e, world{session.World{Clock: c, Open: r.Opener()}, func(any) bool { return terminal }},
		append(rest, ports...))
	got := ended(e, status, err)
	heard()
	ts.Check(os.WriteFile(ts.MkAbs("stdout.txt"), stdout.Bytes(), 0o644))
	ts.Check(os.WriteFile(ts.MkAbs("stderr.txt"), stderr.Bytes(), 0o644))
	ts.Logf("[stderr]\n%s[stdout]\n%s", stderr.String(), stdout.String())
	if got != want {
		ts.Fatalf("%q ended with %d, want %d", args[1:], got, want)
	}
	mustHaveSwitched(ts, r, args[1] != "measure" && args[1] != "part" && args[1] != "bench")
}

// typedIn is what the maker types, line by line.
func typedIn(ts *testscript.TestScript) []string {
	b, err := os.ReadFile(ts.MkAbs("typed"))
	if err != nil {
		return nil
	}
	ts.Check(os.Remove(ts.MkAbs("typed")))
	return strings.SplitAfter(strings.TrimSuffix(string(b), "\n")+"\n", "\n")
}

// typist types one line at each question, once it could be read.
type typist struct {
	lines []string
	asked func() int // questions so far
	given int
	ended <-chan struct{}
}

func (x *typist) Read(p []byte) (int, error) {
	for x.given < len(x.lines) && x.lines[x.given] != "" {
		select {
		case <-x.ended:
			return 0, io.EOF
		case <-time.After(5 * time.Millisecond):
		}
		if x.asked() > x.given {
			time.Sleep(tooSoon + tooSoon/4)
			x.given++
			return copy(p, x.lines[x.given-1]), nil
		}
	}
	return 0, io.EOF
}

// cutter ends a test when something is said.
type cutter struct {
	mu  sync.Mutex
	w   *bytes.Buffer
	at  string
	cut func()
}

func (c *cutter) Write(p []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	n, err := c.w.Write(p)
	if c.at != "" && bytes.Contains(c.w.Bytes(), []byte(c.at)) {
		c.cut()
	}
	return n, err
}

// asked counts the questions that stand there.
func (c *cutter) asked() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return bytes.Count(c.w.Bytes(), []byte("q: stop")) + bytes.Count(c.w.Bytes(), []byte("Enter: stop here"))
}

// mustHaveSwitched: the output is off at the end, it never went on twice in a
// row, and where it is gentle with little current at little voltage.
func mustHaveSwitched(ts *testscript.TestScript, r *rig.Bench, gentle bool) {
	if o := r.Output(); o.On {
		ts.Fatalf("the output is left on at %.2f V", o.Volts)
	}
	on := false
	for _, x := range r.Outputs() {
		if x.On && (on || gentle && (x.Volts > 1 || x.LimitA > 0.05)) {
			ts.Fatalf("it went on at %.2f V, limit %.3f A, on before: %v", x.Volts, x.LimitA, on)
		}
		on = x.On
	}
}

func degC(c float64) *float64 { return &c }
