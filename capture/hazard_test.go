package capture

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
)

// hot is a step in which something may burn.
func hot(id string) Step {
	s := ledStep(id, "stern light")
	s.Hazards = []Hazard{{Check: "LED current: stern light",
		Text: `"stern light": red 1.8 mm carries 98 mA at 12 V, it is rated 20 mA`,
		Cure: "680 ohm instead of 100 ohm brings it to 15 mA", Value: 0.098}}
	return s
}

// answering gives answers one after another to what may burn, and "done" to all else.
func answering(t *testing.T, b *bench, left ...Answer) *face {
	f := &face{}
	f.answer = func(q Question) (Answer, error) {
		if q.Kind != AskHazard && q.Kind != AskReason {
			return plainest(q), nil
		}
		if b.outputOn() {
			t.Error("asked with the output on")
		}
		if len(left) == 0 {
			t.Errorf("not answered: %s", q.Text)
			return Answer{Choice: "stop"}, nil
		}
		a := left[0]
		left = left[1:]
		return a, nil
	}
	return f
}

func wentOn(b *bench) bool { return slices.Contains(b.lines(), "on") }

// What may burn isn't powered: skipped with its reason, or stopped; and not by a
// wrong name, by a name without a reason, or by many wrong answers.
func TestHazardIsNotPowered(t *testing.T) {
	name := Answer{Choice: "allow", Text: "LED current: stern light"}
	wrong := Answer{Choice: "allow", Text: "yes"}
	for _, c := range []struct {
		name    string
		answers []Answer
		err     error
	}{
		{"skip", []Answer{{Choice: "skip"}}, nil},
		{"stop", []Answer{{Choice: "stop"}}, ErrStopped},
		{"another choice", []Answer{{Choice: "done"}}, nil},
		{"no answer", []Answer{{}}, nil},
		{"yes, then skip", []Answer{wrong, {Choice: "skip"}}, nil},
		{"yes and yes", []Answer{wrong, wrong, wrong, wrong, wrong, wrong}, nil},
		{"name, then skip", []Answer{name, {Choice: "skip"}}, nil},
		{"name, then stop", []Answer{name, {Choice: "stop"}}, ErrStopped},
		{"no reason", []Answer{name, {Choice: "reason"}, {Choice: "reason", Text: "  "}, {Choice: "reason"},
			{Choice: "reason"}, {Choice: "reason"}}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, led)
			r := &record{}
			recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{hot("1")}},
				answering(t, b, c.answers...), r, seeded())
			if !errors.Is(err, c.err) || c.err == nil && err != nil {
				t.Fatalf("error %v, want %v", err, c.err)
			}
			b.mustOff()
			if wentOn(b) {
				t.Errorf("it was powered: %v", b.lines())
			}
			if strings.Contains(r.kinds(), string(MarkAllowed)) {
				t.Errorf("marks %q", r.kinds())
			}
			if len(recs) != 1 || c.err == nil && (recs[0].Outcome != Skipped ||
				!strings.HasPrefix(recs[0].Reason, NotPowered) || !strings.Contains(recs[0].Reason, "98 mA")) {
				t.Errorf("records %+v", recs)
			}
		})
	}
}

// The question names the part, the value and the cure. Its name and a reason
// power the step; that is kept before the output goes on, and serves for what
// comes with the same check, as long as it goes no further.
func TestHazardAllowed(t *testing.T) {
	b := newBench(t, led)
	again, further, other := hot("2"), hot("3"), hot("4")
	further.Hazards[0].Value = 0.3
	other.Hazards[0].Check = "resistor heat: stern light"
	both := hot("5")
	both.Hazards = append(both.Hazards, Hazard{Check: "wire: stern light", Text: "its wire melts",
		Cure: "a thicker one"})
	f := answering(t, b,
		Answer{Choice: "allow", Text: " led current:  Stern light "},
		Answer{Choice: "reason", Text: "an old LED, to see it fail"},
		Answer{Choice: "skip"}, Answer{Choice: "skip"}, Answer{Choice: "skip"})
	r := &record{}
	recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{hot("1"), again, further, other, both}}, f,
		r, seeded())
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	q := f.questions(AskHazard)
	for _, want := range []string{"98 mA", "red 1.8 mm", "680 ohm", "LED current: stern light"} {
		if !strings.Contains(q[0].Text, want) {
			t.Errorf("the question %q lacks %q", q[0].Text, want)
		}
	}
	var outcomes []Outcome
	for _, x := range recs {
		outcomes = append(outcomes, x.Outcome)
	}
	if want := []Outcome{Measured, Measured, Skipped, Skipped, Skipped}; !slices.Equal(outcomes, want) {
		t.Errorf("outcomes %v, want %v", outcomes, want)
	}
	if len(recs[0].Step.Hazards) != 0 || len(recs[2].Step.Hazards) != 1 {
		t.Errorf("hazards left: %+v, %+v", recs[0].Step.Hazards, recs[2].Step.Hazards)
	}
	if !strings.HasPrefix(r.kinds(), "begin allowed on settled end begin on settled end begin skipped end") {
		t.Errorf("marks %q", r.kinds())
	}
	m := r.marks[1]
	if m.Check != "LED current: stern light" || m.Reason != "an old LED, to see it fail" || m.Value != 0.098 ||
		m.Closure != "hull" || m.At.IsZero() {
		t.Errorf("mark %+v", m)
	}
	if len(recs[0].Warnings) == 0 || !strings.Contains(recs[0].Warnings[0], "to see it fail") {
		t.Errorf("warnings %q", recs[0].Warnings)
	}
}

// A look, a wiggle and the whole model are asked like any other step.
func TestHazardInEveryKind(t *testing.T) {
	for _, k := range []Kind{Power, Look, Wiggle, Whole} {
		b := newBench(t, led)
		s := hot("1")
		s.Kind = k
		recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{s}},
			answering(t, b, Answer{Choice: "skip"}), &record{}, seeded())
		if err != nil || wentOn(b) || recs[0].Outcome != Skipped {
			t.Errorf("%s: %v, %v", k, err, b.lines())
		}
	}
}

// Nobody there is no permission.
func TestHazardUnattended(t *testing.T) {
	b := newBench(t, led)
	r := &record{}
	recs, err := Run(context.Background(), b.withRelays(map[string]int{"stern light": 1}),
		&guide{steps: []Step{hot("1"), ledStep("2", "stern light")}}, Unattended{}, r, seeded())
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	if recs[0].Outcome != Skipped || !strings.HasPrefix(recs[0].Reason, NotPowered) || recs[1].Outcome != Measured {
		t.Errorf("%+v", recs)
	}
}

// Allowing it is kept on disk before the output goes on: a record that can't
// be kept powers nothing.
func TestHazardIsKeptFirst(t *testing.T) {
	b := newBench(t, led)
	r := &unsynced{}
	_, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{hot("1")}},
		answering(t, b, Answer{Choice: "allow", Text: "LED current: stern light"},
			Answer{Choice: "reason", Text: "it is spare"}), r, seeded())
	if !errors.Is(err, errDiskFull) || wentOn(b) {
		t.Errorf("error %v, the supply saw %v", err, b.lines())
	}
}

// unsynced is a record on a full disk.
type unsynced struct{ record }

func (*unsynced) Sync() error { return errDiskFull }
