package main

import (
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
)

func TestNumberIn(t *testing.T) {
	for _, c := range []struct {
		typed, what string
		v           float64
		good        bool
	}{
		{"12.1", "volts", 12.1, true}, {"12,1", "volts", 12.1, true}, {"12.1 V", "volts", 12.1, true}, {"12.1V", "volts", 12.1, true},
		{"-12.1", "volts", -12.1, true}, {" 12 volts ", "volts", 12, true}, {"12 volt", "volts", 12, true},
		{"24", "ohms", 24, true}, {"24 ohm", "ohms", 24, true}, {"24R", "ohms", 24, true}, {"24 Ω", "ohms", 24, true}, {"24 o", "ohms", 24, true},
		{"12 A", "volts", 0, false}, {"12R", "volts", 0, false}, {"12 mV", "volts", 0, false}, {"", "volts", 0, false}, {"twelve", "volts", 0, false},
		{"230", "volts", 0, false}, {"-3", "ohms", 0, false}, {"1.2.3", "volts", 0, false}, {"12 13", "volts", 0, false}, {"24 V", "ohms", 0, false},
		{"1e3", "ohms", 0, false}, {"NaN", "volts", 0, false},
	} {
		least := 0.0
		if c.what == "volts" {
			least = -mostVolts
		}
		v, why := numberIn(c.typed, c.what, least, 60)
		if (why == "") != c.good || c.good && v != c.v {
			t.Errorf("%q as %s: %g, %q", c.typed, c.what, v, why)
		}
	}
}

// What was answered makes the adapter; a minus in front of its volts turns it
// round as the question does.
func TestAnswersMakeAnAdapter(t *testing.T) {
	for _, c := range []struct {
		a    answers
		want string // what is said of it; "": nothing is known
	}{
		{answers{}, ""},
		{answers{askedAdapter: dontKnow}, ""},
		{answers{askedAdapter: notSent}, "not sent"},
		{answers{askedAdapter: wasSent, askedOpen: dontKnow}, "not measured"},
		{answers{askedAdapter: wasSent, askedPolarity: plusRight, askedOpen: "12.1"}, "good"},
		{answers{askedAdapter: wasSent, askedPolarity: dontKnow, askedOpen: "-12.1"}, "reversed"},
		{answers{askedAdapter: wasSent, askedPolarity: turnedRound}, "reversed"},
		{answers{askedAdapter: wasSent, askedOpen: "9"}, "low"},
		{answers{askedAdapter: wasSent, askedOpen: "12.1", askedOhms: "24", askedLoaded: "9.5"}, "sags"},
		{answers{askedAdapter: wasSent, askedOpen: "12.1", askedOhms: "24", askedLoaded: dontKnow}, "good"},
	} {
		p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12, LowVolts: 11.4, HighVolts: 12.6}}}
		s := &returns.Signature{Jack: "main", Whole: []returns.Whole{{Sweep: returns.Curve{Volts: []float64{12}, Amps: []float64{0.45}}}}}
		got := ""
		if a := c.a.adapter(); a != nil {
			got = a.Says(p, s).Verdict
		}
		if got != c.want {
			t.Errorf("%v: %q, want %q", c.a, got, c.want)
		}
	}
}

// What may be typed stands on one line of a terminal, for any jack.
func TestHintsFit(t *testing.T) {
	p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12, Plug: "5.5 x 2.1 mm, centre plus"}}}
	s := &returns.Signature{Jack: "main", Whole: []returns.Whole{{Sweep: returns.Curve{Volts: []float64{12}, Amps: []float64{0.45}}}}}
	q := inquirer{p: p, s: s}
	for _, x := range []inquiry{q.adapter(), q.polarity(), q.openVolts(), q.ohms(), q.loadedVolts()} {
		if columns(x.hint)+2 >= width {
			t.Errorf("%q", x.hint)
		}
		if len(x.text) == 0 || x.question == "" {
			t.Errorf("%+v", x)
		}
	}
}
