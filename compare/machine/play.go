package machine

import (
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
)

// saidRight tells whether what was seen calls one group right. What this package
// says of looks is "all right", or "GROUP: words" apart by "; ".
func saidRight(seen, group string) bool {
	for part := range strings.SplitSeq(seen, ";") {
		if name, what, ok := strings.Cut(part, ":"); ok && strings.TrimSpace(name) == group {
			what = strings.TrimSpace(what)
			return what == allRight || strings.HasPrefix(what, allRight+", ") // counted
		}
	}
	return true
}

// Do lets one event happen. An event that doesn't fit the world, as one at a file
// that isn't there, changes nothing. The error is a fault of this package or of
// the record, not of a verdict.
func (w *World) Do(e Event) error {
	switch e.Verb {
	case Measure:
		return w.bench.Test(w, Run{Closure: e.A, Looks: e.B, DieIn: -1, N: e.N})
	case Resume:
		return w.bench.Test(w, Run{Closure: e.A, Looks: e.B, DieIn: -1, Resume: true, N: e.N})
	case Added:
		return w.bench.Test(w, Run{Closure: e.A, Looks: e.B, DieIn: -1, Added: true, N: e.N})
	case Redo:
		return w.bench.Test(w, Run{Closure: "all", Looks: "alone", DieIn: -1, Redo: []string{e.A}, N: e.N})
	case Kill:
		return w.kill(e)
	case Full:
		return w.bench.Test(w, Run{Closure: e.A, Looks: "looks", DieIn: -1, Room: int64(e.N)*64 + 1, N: e.N})
	case Rework:
		return w.rework(e)
	case Touch:
		w.untold = append(w.untold, e.A)
		return w.truth.Touch(e.A, e.B, uint64(e.N))
	case Pull:
		return w.bench.Test(w, Run{Closure: e.A, Looks: "looks", DieIn: -1, Pull: e.B, N: e.N})
	case Skip:
		return w.skip(e.A)
	case Accept:
		return w.accept(e.A)
	case Look:
		return w.look(e)
	case Edit:
		return w.edit(e)
	case Clock:
		s, err := strconv.Atoi(e.B)
		w.now = w.now.Add(time.Duration(s) * time.Second)
		return err
	case Stage:
		w.stage = e.A
		return nil
	case Flip, Drop, Double, Swap, Tear, DropFile, DropHead, OldHead, Rename, Copy, Editor, OldFile, Splice, Foreign:
		return w.hurt(e)
	case Second:
		return w.second(e.A)
	case Nothing:
		_, err := w.tell(capture.Mark{Kind: capture.MarkTouchedNothing})
		return err
	case Tick:
		return w.tick()
	case TakeBack:
		return w.takeBack(e.A)
	case Answer:
		return w.answer(e.A)
	case Allow:
		return w.allow()
	}
	return fmt.Errorf("no such event: %s", e)
}

// redone marks what is measured again as no longer counting.
func (w *World) redone(t *test, redo []string) error {
	if redo == nil {
		return nil
	}
	f, err := w.folded()
	if err != nil {
		return err
	}
	for _, r := range f.Steps {
		if r.Stage != w.stage || !redoes(r.Step, redo) {
			continue
		}
		if err := t.mark(r.Step, capture.Mark{Kind: capture.MarkRedone, Reason: "asked for"}); err != nil {
			return err
		}
	}
	return nil
}

// kill runs a test that dies. Torn leaves half a line behind.
func (w *World) kill(e Event) error {
	if e.B == "redo" {
		return w.bench.Test(w, Run{Closure: "all", Looks: "alone", DieIn: 0, Redo: []string{e.A}, N: e.N})
	}
	s, err := w.kit.at(w.stage)
	if err != nil {
		return err
	}
	if err := w.bench.Test(w, Run{Closure: e.A, Looks: "looks", DieIn: e.N % len(s.steps), N: e.N}); err != nil {
		return err
	}
	files := w.files()
	if e.B != "torn" || len(files) == 0 {
		return nil
	}
	f, err := os.OpenFile(files[len(files)-1], os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString("reading,build=Model\\ 1,clos")
	return errors.Join(err, f.Close())
}

func (w *World) rework(e Event) error {
	if err := w.truth.Touch(e.A, e.B, uint64(e.N)); err != nil {
		return err
	}
	behind := w.behind(e.A)
	kept, err := w.tell(capture.Mark{Kind: capture.MarkReworked, Feed: e.A, Groups: behind, Reason: "touched"})
	if err != nil || !kept {
		return err
	}
	w.Told(e.A)
	return nil
}

// skip leaves a feed out, with a reason.
func (w *World) skip(group string) error {
	s, err := w.kit.at(w.stage)
	if err != nil {
		return err
	}
	for _, step := range s.steps {
		if redoes(step, []string{group}) {
			return w.outside(step, capture.Mark{Kind: capture.MarkSkipped, Reason: "no time"}, capture.Skipped)
		}
	}
	return nil
}

// outside writes a step that is a mark and nothing else.
func (w *World) outside(s capture.Step, m capture.Mark, o capture.Outcome) error {
	m.StepID, m.Closure, m.Feed, m.Groups, m.Pace = s.ID, s.Closure, s.Feed, s.Groups, s.Pace
	begin, end := m, m
	begin.Kind, begin.Step, begin.PlanRevision = capture.MarkBegin, &s, s.PlanRevision
	end.Kind, end.Outcome = capture.MarkEnd, o
	_, err := w.tell(begin, m, end)
	return err
}

func (w *World) accept(group string) error {
	_, err := w.tell(capture.Mark{Kind: capture.MarkAccepted, Feed: group, Groups: []string{group},
		Reason: "good enough for a night"})
	return err
}

// look is a look outside a test.
func (w *World) look(e Event) error {
	s, err := w.kit.at(w.stage)
	if err != nil {
		return err
	}
	for _, step := range s.steps {
		if step.Kind != capture.Look || step.Closure != e.A {
			continue
		}
		seen := allRight
		switch e.B {
		case "honest":
			seen = w.truth.looks(step.Groups)
		case "wrong":
			seen = step.Groups[e.N%len(step.Groups)] + ": 1 dark"
		}
		if err := w.outside(step, capture.Mark{Kind: capture.MarkLooked, Seen: seen}, capture.Measured); err != nil {
			return err
		}
		w.Saw(step.Groups, seen)
		return nil
	}
	return nil
}

// edit changes the plan; the model stays what it is.
func (w *World) edit(e Event) error {
	b := w.first
	if e.B != "undo" {
		var ok bool
		if b, ok = w.edited(e); !ok {
			return nil
		}
		w.untellable = w.untellable || slices.Contains(untold, strings.TrimPrefix(e.B, "fit ")) || e.B == "fit any"
	}
	k, err := w.shop.kit(b)
	if err != nil {
		return nil // a plan that can't be read stays as it was
	}
	w.build, w.kit = b, k
	return nil
}

// misfitting is by how much of what its plan says a group must be off to be made to fit.
const misfitting = 0.03

// edited is the plan with an edit of one group, or of all that misfit it.
func (w *World) edited(e Event) (Build, bool) {
	b, some := w.build, false
	for _, g := range w.build.groups() {
		if e.A != "all" && e.A != g {
			continue
		}
		drawn := 0.0
		if a, err := w.truth.draw(g, w.kit.plan.Jacks[0].Volts); err == nil && w.kit.by[g].amps > 0 {
			drawn = a / w.kit.by[g].amps
		}
		if e.A == "all" && math.Abs(drawn-1) < misfitting {
			continue
		}
		if x, ok := b.edited(g, e.B, drawn); ok {
			b, some = x, true
		}
	}
	if e.A == "jack" {
		return b.edited(e.A, e.B, 0)
	}
	return b, some
}

// second opens the record while another program has it.
func (w *World) second(string) error {
	k, err := w.open(w.disk())
	if err != nil {
		return err
	}
	other, err := w.open(w.disk())
	if err == nil {
		return errors.Join(errors.New("two programs write to one record"), other.rec.Close(), k.rec.Close())
	}
	if !errors.Is(err, record.ErrInUse) {
		return errors.Join(err, k.rec.Close())
	}
	return k.rec.Close()
}
