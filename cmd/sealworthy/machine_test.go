package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	play "sealworthy/compare/machine"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// ports is a machine.Bench that runs a sitting as the command does, over the
// memory ports of a simulated bench in simulated time, with hands that answer.
type ports struct {
	hasty bool // a planted bug: whatever was typed counts, ahead of its question, too
}

// robot is a maker at a test: it answers as the run says, pulls a cable and
// it back, and tell the oracle what the engine said was done and kept.
type robot struct {
	w     *play.World
	run   play.Run
	r     *rig.Bench
	stop  context.CancelCauseFunc
	steps int
	shown int
	step  *capture.Step
	seen  map[string]string // of the look under way, by group
	gone  []string          // cables that are out
	last  []string          // the groups of the last look that was answered
	undid bool
	asked int
	hasty bool
}

var errKilled = errors.New("the test was broken off")

// Test implements machine.Bench.
func (x ports) Test(w *play.World, run play.Run) (err error) {
	dir := filepath.Dir(w.Dir())
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, planFile), w.Source(), 0o644); err != nil {
		return err
	}
	e := quiet()
	b, err := openBuild(e, dir)
	if err != nil {
		return err
	}
	cfg, err := b.readBench()
	if err != nil {
		return err
	}
	l, err := w.Model()
	if err != nil {
		return err
	}
	ctx := context.Background()
	testing, stop := context.WithCancelCause(ctx) // the bench outlives a test that is broken off
	defer stop(nil)
	c := clock.NewSimulated(w.Now().Add(2 * time.Second))
	r, err := onBench(ctx, c, b.plan, cfg, l, rig.Options{Seed: w.Seed(), MemoryPorts: true})
	if err != nil {
		return err
	}
	defer func() { c.Outside(func() { err = errors.Join(err, r.Close()) }) }()
	bot := &robot{w: w, run: run, r: r, stop: stop, hasty: x.hasty}
	p := r.Ports()
	over := bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter, RelaysPort: p.Relays}
	world := session.World{Clock: c, Open: r.Opener(), Others: func() []string {
		p := r.Ports()
		return slices.DeleteFunc([]string{p.Supply, p.Meter, p.Relays}, func(s string) bool { return s == "" })
	}}
	bs, err := session.OpenBench(ctx, world, b.plan, cfg, over, bot)
	if err != nil {
		return err
	}
	defer bs.Close()
	u, err := useOf(b, bs, bot)
	if err != nil {
		return err
	}
	s := session.Sitting{Stage: w.Stage(), Seed: w.Seed(), Redo: run.Redo, Replug: 5 * time.Second}
	if run.Closure != "all" {
		s.Closure = run.Closure
	}
	s.Resume = run.Resume
	if run.Added {
		s.Way = capture.Added
	}
	_, err = u.Run(testing, s)
	w.Until(c.Now())
	if r.Output().On {
		return fmt.Errorf("the output is still on after %v", err)
	}
	if notOfThisTest(err) {
		return nil
	}
	return err
}

// notOfThisTest: ways in which a test may end that tell of no fault here.
func notOfThisTest(err error) bool {
	if errors.Is(err, errKilled) || errors.Is(err, capture.ErrStopped) {
		return true
	}
	// A closure without a group, a redo of what was never measured, a lost instrument.
	for _, s := range []string{"nothing to measure", "no test at stage", "lost"} {
		if err != nil && strings.Contains(err.Error(), s) {
			return true
		}
	}
	return false
}

// Nobody: whether there is anybody to ask.
func (b *robot) Nobody() bool { return b.run.Looks == "alone" }

// Show implements capture.Face.
func (b *robot) Show(e capture.Event) {
	switch e.What {
	case capture.StepBegins:
		b.step, b.seen = e.Step, map[string]string{}
		b.steps++
	case capture.OutputOn:
		if b.step != nil && play.Powers(*b.step) {
			b.w.Began(*b.step)
		}
	case capture.Sampling, capture.Settling:
		b.shown++
		if b.steps == b.run.DieIn+1 && b.run.DieIn >= 0 {
			b.stop(errKilled)
		}
		if b.run.Pull != "" && b.shown == 5+b.run.N%60 {
			b.pull()
		}
	case capture.StepEnds:
		b.ended(e)
	}
}

// pull takes a cable out; a supply's is put back at once, for without it nobody
// can switch off.
func (b *robot) pull() {
	which := []string{b.run.Pull}
	if b.run.Pull == "swap" {
		which = []string{rig.Meter, rig.Supply}
	}
	for _, x := range which {
		if b.r.Unplug(x) == nil {
			b.gone = append(b.gone, x)
		}
	}
	if slices.Contains(which, rig.Supply) {
		b.back()
	}
}

func (b *robot) back() {
	for _, x := range b.gone {
		_, _ = b.r.Replug(x, b.run.Pull == "swap" || b.run.N%2 == 0)
	}
	b.gone = nil
}

// ended tells the oracle of a step that was kept: it is shown after that.
func (b *robot) ended(e capture.Event) {
	switch {
	case e.Step == nil:
	case e.Step.Kind == capture.Power && len(e.Said) > 0:
		b.w.Measured(*e.Step, 12)
	case e.Step.Kind == capture.Look && len(b.seen) > 0 && e.Text == "":
		var groups, said []string
		for _, g := range e.Step.Groups {
			if s, ok := b.seen[g]; ok {
				groups, said = append(groups, g), append(said, g+": "+s)
			}
		}
		b.w.Saw(groups, strings.Join(said, "; "))
	}
}

// Ask implements capture.Face: the answer is typed at the terminal's own face, and
// before it what hasty hands type ahead of the question.
func (b *robot) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	if b.Nobody() {
		return capture.Answer{}, capture.ErrUnattended
	}
	line := b.answer(q)
	if b.asked++; b.asked > 500 {
		line = "q"
	}
	var typed time.Time
	f := newFace(quiet(), false, instruments.Go, nil)
	f.now = func() time.Time { return sittingBegan } // when the question stands there
	f.keys = newKeyboard(func() time.Time { return typed })
	for _, early := range []time.Duration{-time.Minute, -time.Second, tooSoon - time.Millisecond} {
		if typed = sittingBegan.Add(early); !b.hasty || q.Kind == capture.AskLook {
			f.keys.enter("a")
		}
	}
	typed = sittingBegan.Add(2 * time.Second)
	if b.run.Looks == "mistype" && q.Kind == capture.AskLook {
		f.keys.enter("aa") // no answer
		line = b.slip(line)
	}
	f.keys.enter(line)
	f.keys.end()
	if b.hasty {
		f.settle = -time.Hour
	}
	return f.Ask(ctx, session.Question{Question: q})
}

// answer is what the maker types.
func (b *robot) answer(q capture.Question) string {
	switch q.Kind {
	case capture.AskLook:
		return b.look(q)
	case capture.AskUnderstood:
		if b.run.Looks == "mistype" {
			return b.look(q) // anew, and well
		}
		if slices.Contains(q.Choices, "right") {
			return "a"
		}
		for _, g := range q.Groups {
			delete(b.seen, g)
		}
		return "s"
	case capture.AskTouched:
		return b.touched()
	case capture.AskPlug:
		b.back()
	case capture.AskAgain:
		return "n" // nothing was mended
	}
	return "" // Enter: go on, but never a look passed, nor what may burn powered
}

// look says what is seen of the groups that are asked for. Of those that aren't
// named the next question asks.
func (b *robot) look(q capture.Question) string {
	switch {
	case b.run.Looks == "ahead" || b.undid:
		return "s"
	case b.run.Looks == "undo" && len(b.last) > 0 && slices.Contains(q.Choices, capture.Undo):
		return b.undo()
	}
	b.last = nil // the groups that this answer speaks of
	seen := b.w.Looks(q.Groups, b.run.Looks)
	if seen == capture.AllRight {
		for _, g := range q.Groups {
			b.seen[g], b.last = capture.AllRight, append(b.last, g)
		}
		return "a"
	}
	for part := range strings.SplitSeq(seen, "; ") {
		g, what, _ := strings.Cut(part, ": ")
		b.seen[g], b.last = what, append(b.last, g)
	}
	return seen
}

// slip doubles, drops or swaps letters of a line, in every other answer.
func (b *robot) slip(line string) string {
	r := []rune(line)
	i := (b.run.N + 7*b.asked) % max(1, len(r)-1)
	if len(r) < 4 || b.asked%2 == 0 {
		return line
	}
	switch b.run.N % 3 {
	case 0:
		r = slices.Insert(r, i, r[i])
	case 1:
		r = slices.Delete(r, i, i+1)
	default:
		r[i], r[i+1] = r[i+1], r[i]
	}
	return string(r)
}

// undo takes the last look back, and leaves out what is asked for then.
func (b *robot) undo() string {
	var kept []string // of a step that has ended
	for _, g := range b.last {
		if _, open := b.seen[g]; !open {
			kept = append(kept, g)
		}
		delete(b.seen, g)
	}
	b.w.Unsaw(kept)
	b.undid = true
	return "u"
}

// touched says what was touched, if this maker is one who tells.
func (b *robot) touched() string {
	places := b.w.Untold()
	if len(places) == 0 || b.run.N%3 == 0 {
		return "n"
	}
	b.w.Told(places...)
	return strings.Join(places, ", ")
}

// TestTheMachineSeesWhatIsTypedAhead: with a terminal that takes what was typed before
// the question, a healthy build that nobody looked at is called ready, and the
// oracle sees it; with ours it isn't.
func TestTheMachineSeesWhatIsTypedAhead(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	s, err := play.ParseScript("build 0\npieces 11\nmeasure | all | ahead | 0\n")
	if err != nil {
		t.Fatal(err)
	}
	for _, hasty := range []bool{true, false} {
		o, err := play.Play(play.NewShop(), ports{hasty: hasty}, s, play.Defect{})
		if err != nil {
			t.Fatal(err)
		}
		if found := len(o.Breaches) > 0; found != hasty {
			t.Errorf("typed ahead counts: %v, found: %v", hasty, o.Breaches)
		}
	}
}

// TestReadyIsEarnedOverPorts plays random sequences over the ports of a simulated
// bench, through the sittings that the command runs. The environment says the same
// as for compare/machine, with SEALWORTHY_MACHINE_PORTS for the file to go on from.
func TestReadyIsEarnedOverPorts(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	seed, n := uint64(1001), uint64(50)
	if long() {
		seed, n = rand.Uint64N(1<<40), 10_000
	}
	seed, n = fromEnvironment(t, "SEALWORTHY_SEED", seed), fromEnvironment(t, "SEALWORTHY_SEQUENCES", n)
	tally, state := play.NewTally(seed), os.Getenv("SEALWORTHY_MACHINE_PORTS")
	if state != "" {
		var err error
		if tally, err = play.LoadTally(state, seed); err != nil {
			t.Fatal(err)
		}
	}
	play.PlayMany(t, ports{}, tally, n, state)
}

func fromEnvironment(t *testing.T, name string, otherwise uint64) uint64 {
	t.Helper()
	if os.Getenv(name) == "" {
		return otherwise
	}
	n, err := strconv.ParseUint(os.Getenv(name), 10, 64)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return n
}
