package main

import (
	"math"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
)

// A value is taken with its unit, or without as the question asks for it; what is none, is
// in a unit of something else or can't be is told with what could.
func TestValueTyped(t *testing.T) {
	for _, c := range []struct {
		kind  capture.QuestionKind
		typed string
		v     float64
		good  bool
	}{
		{session.AskOpen, "12.1", 12.1, true}, {session.AskOpen, "12,1", 12.1, true},
		{session.AskOpen, "12.1 V", 12.1, true}, {session.AskOpen, "12.1V", 12.1, true},
		{session.AskOpen, "-12.1", -12.1, true}, {session.AskOpen, " 12 volts ", 12, true},
		{session.AskOpen, "12 volt", 12, true}, {session.AskOpen, "12100 mV", 12.1, true},
		{session.AskOpen, "12 A", 0, false}, {session.AskOpen, "12R", 0, false}, {session.AskOpen, "", 0, false},
		{session.AskOpen, "twelve", 0, false}, {session.AskOpen, "230", 0, false},
		{session.AskOpen, "1.2.3", 0, false}, {session.AskOpen, "12 13", 0, false},
		{session.AskOpen, "NaN", 0, false},
		{session.AskLoad, "24", 24, true}, {session.AskLoad, "24 ohm", 24, true}, {session.AskLoad, "24R", 24, true},
		{session.AskLoad, "24 Ω", 24, true}, {session.AskLoad, "1k", 1000, true}, {session.AskLoad, "4k7", 4700, true},
		{session.AskLoad, "-3", 0, false}, {session.AskLoad, "3", 0, false}, {session.AskLoad, "24 V", 0, false},
		{session.AskLoad, "1e3", 0, false},
		{session.AskFuse, "0.4", 0.4, true}, {session.AskFuse, "0,4", 0.4, true},
		{session.AskFuse, "400 mA", 0.4, true},
		{session.AskFuse, "400mA", 0.4, true}, {session.AskFuse, "32 mA", 0.032, true},
		{session.AskFuse, "0.032 A", 0.032, true}, {session.AskFuse, "10 A", 10, true},
		{session.AskFuse, "400", 0, false}, {session.AskFuse, "0.4 V", 0, false}, {session.AskFuse, "OL", 0, false},
	} {
		about := session.About{Volts: 12, LoadOhm: 24, Least: -60, Most: 60}
		switch c.kind {
		case session.AskLoad:
			about.Least, about.Most = 6, 1e5
		case session.AskFuse:
			about.Least, about.Most = 0.01, 30
		}
		q := session.Question{About: &about,
			Question: capture.Question{Kind: c.kind, Choices: []string{"number", session.DontKnow, "stop"}}}
		x, ok := inquiryOf(q)
		if !ok {
			t.Fatalf("%s isn't asked", c.kind)
		}
		a, why := x.typed(c.typed)
		if (why == "") != c.good || c.good && (a.Number == nil || math.Abs(*a.Number-c.v) > 1e-12) {
			t.Errorf("%q at %s: %+v, %q", c.typed, c.kind, a, why)
		}
		if !c.good && !strings.Contains(why, wording.ValueWanted(q)) {
			t.Errorf("%q at %s: %q doesn't say what is wanted", c.typed, c.kind, why)
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
