package main

import (
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
)

func TestNumberIn(t *testing.T) {
	for _, c := range []struct {
		typed, what string
		v           float64
		good        bool
	}{
		{"12.1", "volts", 12.1, true}, {"12,1", "volts", 12.1, true}, {"12.1 V", "volts", 12.1, true},
		{"12.1V", "volts", 12.1, true},
		{"-12.1", "volts", -12.1, true}, {" 12 volts ", "volts", 12, true}, {"12 volt", "volts", 12, true},
		{"24", "ohms", 24, true}, {"24 ohm", "ohms", 24, true}, {"24R", "ohms", 24, true}, {"24 Ω", "ohms", 24, true},
		{"24 o", "ohms", 24, true},
		{"12 A", "volts", 0, false}, {"12R", "volts", 0, false}, {"12 mV", "volts", 0, false}, {"", "volts", 0, false},
		{"twelve", "volts", 0, false},
		{"230", "volts", 0, false}, {"-3", "ohms", 0, false}, {"1.2.3", "volts", 0, false},
		{"12 13", "volts", 0, false}, {"24 V", "ohms", 0, false},
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
		a    session.ReturnAnswers
		want string // what is said of it; "": nothing is known
	}{
		{session.ReturnAnswers{}, ""},
		{session.ReturnAnswers{session.AskAdapter: session.DontKnow}, ""},
		{session.ReturnAnswers{session.AskAdapter: session.NotSent}, "not sent"},
		{session.ReturnAnswers{session.AskAdapter: session.WasSent, session.AskOpen: session.DontKnow},
			"not measured"},
		{session.ReturnAnswers{session.AskAdapter: session.WasSent, session.AskPolarity: session.PlusRight,
			session.AskOpen: "12.1"}, "good"},
		{session.ReturnAnswers{session.AskAdapter: session.WasSent, session.AskPolarity: session.DontKnow,
			session.AskOpen: "-12.1"}, "reversed"},
		{session.ReturnAnswers{session.AskAdapter: session.WasSent, session.AskPolarity: session.TurnedRound},
			"reversed"},
		{session.ReturnAnswers{session.AskAdapter: session.WasSent, session.AskOpen: "9"}, "low"},
		{session.ReturnAnswers{session.AskAdapter: session.WasSent, session.AskOpen: "12.1", session.AskLoad: "24",
			session.AskLoaded: "9.5"}, "sags"},
		{session.ReturnAnswers{session.AskAdapter: session.WasSent, session.AskOpen: "12.1", session.AskLoad: "24",
			session.AskLoaded: session.DontKnow}, "good"},
	} {
		p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12, LowVolts: 11.4, HighVolts: 12.6}}}
		s := &returns.Signature{Jack: "main",
			Whole: []returns.Whole{{Sweep: returns.Curve{Volts: []float64{12}, Amps: []float64{0.45}}}}}
		got := ""
		if a := c.a.Adapter(); a != nil {
			got = a.Says(p, s).Verdict
		}
		if got != c.want {
			t.Errorf("%v: %q, want %q", c.a, got, c.want)
		}
	}
}

// What may be typed stands on one line of a terminal, for any jack.
func TestHintsFit(t *testing.T) {
	about := session.About{Plug: "5.5 x 2.1 mm, centre plus", Volts: 12, LoadOhm: 26.7, LoadW: 5.4, Most: 60}
	for _, k := range []capture.QuestionKind{session.AskEye, session.AskGoOn, session.AskAdapter, session.AskPolarity,
		session.AskOpen, session.AskLoad, session.AskLoaded} {
		x, ok := inquiryOf(session.Question{Question: capture.Question{Kind: k}, About: &about})
		if !ok || len(x.text) == 0 || columns(x.hint)+2 >= width {
			t.Errorf("%s: %q", k, x.hint)
		}
	}
}
