package page

import (
	"context"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// What goes on with a question stands first, also where something is typed with it;
// what passes it stands behind.
func TestTypedAnswerStandsFirst(t *testing.T) {
	for _, c := range []struct {
		kind    capture.QuestionKind
		choices []string
		first   string
		others  int
	}{
		{capture.AskNumber, []string{"number", "overload", "stop"}, "number", 0},
		{session.AskClient, []string{session.Said, session.NothingSaid, session.DontKnow}, session.Said, 0},
		{session.AskEye, []string{session.NothingSeen, session.Seen}, "", 1},
		{capture.AskAgain, []string{"next", "redo", "accept"}, "", 1},
	} {
		q := session.Question{Question: capture.Question{Kind: c.kind, Text: "What is it?", Choices: c.choices}}
		if c.kind == session.AskClient || c.kind == session.AskEye {
			q.About = &session.About{}
		}
		a := askingOf(q, "")
		first := ""
		if f := a.FirstForm(); f != nil {
			first = f.Way.Choice
		}
		if first != c.first || len(a.OtherForms()) != c.others {
			t.Errorf("%s: first %q, others %v", c.kind, first, a.OtherForms())
		}
	}
}

// A return's verdict is its text's first line, its mark that line's.
func TestVerdictOfAText(t *testing.T) {
	text := "Tender, returned: ! one place is at fault\n  + not this one\n"
	if firstLine(text) != "Tender, returned: ! one place is at fault" || markIn(firstLine(text)) != "!" {
		t.Errorf("%q, %q", firstLine(text), markIn(firstLine(text)))
	}
	if got := verdictOf(text); got != "! one place is at fault" {
		t.Errorf("under the build's name: %q", got)
	}
	const doubt = "? can't tell: it may be as it was"
	if got := verdictOf("Tender: two, returned: " + doubt); got != doubt {
		t.Errorf("under the build's name: %q", got)
	}
	if kindOf(markIn("Tender, returned: ? not settled")) != "open" {
		t.Error("in doubt it isn't open")
	}
}

// A button takes another meter in every test that has a bench in use; not where a question
// is open that does it already.
func TestOffersAnotherMeter(t *testing.T) {
	ask := func(k capture.QuestionKind, choices ...string) *session.Question {
		return &session.Question{Question: capture.Question{Kind: k, Choices: choices}}
	}
	used := &session.OnBench{}
	for _, c := range []struct {
		s    State
		want bool
	}{
		{State{Running: true, Bench: used}, true},
		{State{Running: true, Bench: used, Order: Order{Verb: Return}, Ask: ask(capture.AskClip, "done")}, true},
		{State{Running: true, Bench: used, Ask: ask(capture.AskPlug, "done", capture.Another)}, false},
		{State{Running: true, Bench: used, Ask: ask(session.AskMeter, "done", session.Typed)}, false},
		{State{Running: true, Bench: used, Ask: ask(session.AskFuse, "number")}, false},
		{State{Running: true}, false}, {State{Bench: used}, false},
	} {
		if got := (live{State: c.s}).OffersMeter(); got != c.want {
			t.Errorf("%+v: %v", c.s, got)
		}
	}
}

// A look at a board with a button has a tap for its next pace, beside those that answer it.
func TestALookOffersTheNextPace(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	ask := session.Question{Number: 1, Question: capture.Question{Kind: capture.AskLook, Text: "Look at 'lamp'.",
		Choices: []string{"right", "wrong", capture.Press, "skip", "stop"}, Groups: []string{"lamp"},
		Places: []capture.Place{{Name: "beacon", Kind: "board"}}}}
	html := x.s.write(State{Running: true, Ask: &ask})["ask"]
	press := strings.Index(html, `<form data-choice="press">`)
	if press < 0 || !strings.Contains(html[press:], `name="text" value="1">beacon</button>`) ||
		!strings.Contains(html, `data-choice="right"`) {
		t.Error(html)
	}
}

// While a look is asked about the page counts down and offers more light, and once it went dark
// to light it again; its question stays as it is, with what was chosen in it. A touch asks for
// light, and no other question is lit.
func TestALookCountsDown(t *testing.T) {
	w := &fakeWork{name: "launch"}
	x := newSite(t, w)
	maker := x.enter()
	x.send(x.request("POST", "/light", "", maker))
	x.send(x.request("POST", "/begin", "build=b1&verb=measure", maker))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	_, _, desk := w.count()
	step := capture.Step{Kind: capture.Look, Feed: "hull"}
	region := func() (lit, light, ask string) {
		s, _, _, _ := x.s.regions()
		return s["lit"], s["relight"], s["ask"]
	}
	show := func(e capture.Event) {
		e.Step = &step
		desk.Show(e)
	}
	show(capture.Event{What: capture.OutputOn, OutputOn: true})
	if lit, light, _ := region(); lit+light != "" {
		t.Errorf("before anything is asked: %s%s", lit, light)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	go func() {
		_, _ = desk.Ask(ctx, capture.Question{Kind: capture.AskLook, Text: "Look.", Groups: []string{"lamp"},
			Choices: []string{"right", "wrong", "skip", "stop"}})
	}()
	until(t, func() bool { _, _, ask := region(); return ask != "" })
	if lit, light, _ := region(); lit+light != "" {
		t.Errorf("before it's told for how long: %s%s", lit, light)
	}
	show(capture.Event{What: capture.Lit, OutputOn: true, LitFor: 92 * time.Second})
	lit, light, asked := region()
	if !strings.Contains(lit, "Lit for 1:32 more") || !strings.Contains(light, "Two minutes more") {
		t.Errorf("lit: %s%s", lit, light)
	}
	if desk.Lights() {
		t.Error("light is wanted already")
	}
	if a, src := x.send(x.request("POST", "/light", "", maker)); a.StatusCode != http.StatusSeeOther || !desk.Lights() {
		t.Errorf("%s %s", a.Status, src)
	}
	show(capture.Event{What: capture.Warning, OutputOn: true, Unsure: true, Text: "no answer to off"})
	if lit, light, _ := region(); lit+light != "" {
		t.Errorf("its off isn't confirmed: %s%s", lit, light)
	}
	show(capture.Event{What: capture.OutputOff})
	show(capture.Event{What: capture.Lit, Text: "It went dark."})
	lit, light, still := region()
	if !strings.Contains(lit, "Dark now") || !strings.Contains(light, "Light it again") || still != asked {
		t.Errorf("dark: %s%s%s", lit, light, still)
	}
}

// Where a question comes of a verdict, that stands in it; what else the question says it says, too. A question that
// comes of none has none.
func TestVerdictStandsInItsQuestion(t *testing.T) {
	wrong := capture.Said{Group: "cabin lamps", Verdict: "low"}
	other := capture.Said{Group: "stern light", Verdict: "not measured"}
	open := capture.Said{Group: "cabin lamps", Verdict: "can't tell", Undecided: true}
	for _, c := range []struct {
		kind capture.QuestionKind
		text string
		last []capture.Said
		want bool
		why  string
	}{
		{capture.AskAgain, `"cabin lamps" is low. The output is off.`, []capture.Said{{Good: true}, wrong}, true, ""},
		{capture.AskAgain, "The relay didn't close. The output is off.", []capture.Said{other}, true,
			"The relay didn't close."},
		{capture.AskAgain, `"cabin lamps" is low. The output is off.`, []capture.Said{wrong, other}, true,
			`"cabin lamps" is low.`},
		{capture.AskAgain, `The current alone can't settle "cabin lamps".`, []capture.Said{open}, true, ""},
		{capture.AskAgain, `"cabin lamps" is low.`, []capture.Said{{Good: true}}, false, ""},
		{capture.AskLook, `"cabin lamps" is low.`, []capture.Said{wrong}, false, ""},
	} {
		q := session.Question{Question: capture.Question{Kind: c.kind, Text: c.text}}
		got := wrongOf(q, c.last)
		if (got != nil) != c.want || got != nil && got.Why != c.why {
			t.Errorf("%q after %v: %+v", c.text, c.last, got)
		}
	}
}

// What flows on the way up, and at the other voltages of a step, is no draw outside the band.
func TestBarIsOfItsVoltage(t *testing.T) {
	amps := 0.009
	for _, c := range []struct {
		volts      float64
		out, apart bool
	}{{12, true, false}, {4.5, false, true}, {2.03, false, true}} {
		b := barOf(State{Output: On, Step: &capture.Step{Volts: 12}, Test: capture.Event{SetVolts: c.volts},
			Amps: &amps,
			Band: &session.Band{LowA: 0.018, HighA: 0.020}})
		if b.Out != c.out || b.Apart != c.apart {
			t.Errorf("at %v V: outside %v, apart %v", c.volts, b.Out, b.Apart)
		}
	}
}

// A report keeps its lines and how far they're set in; where they break is for the page.
func TestReportAsLines(t *testing.T) {
	got := linesOf("kept.\n  note: one\n\n      deep\nlast")
	want := []textLine{{0, "kept."}, {1, "note: one"}, {3, "deep"}, {0, "last"}}
	if !slices.Equal(got, want) {
		t.Errorf("%v", got)
	}
}

// What is done before any step of the model has a name, too, and isn't one of its steps.
func TestTheProofHasAName(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	for _, c := range []struct {
		step      capture.Step
		has, hasn string
	}{
		{capture.Step{ID: "bench proof", Volts: 5}, "<h1>proof of the bench</h1>", "step 1"},
		{capture.Step{Feed: "cabin", Kind: capture.Power}, "<h1>cabin</h1>", "proof"},
	} {
		html := x.s.write(State{Running: true, Step: &c.step, Test: capture.Event{Step: &c.step}})["group"]
		if !strings.Contains(html, c.has) || strings.Contains(html, c.hasn) {
			t.Errorf("%s: %s", c.step.ID, html)
		}
	}
}

// What going on stands for already isn't offered beside it.
func TestOtherPlacesToPick(t *testing.T) {
	q := session.Question{Question: capture.Question{Kind: capture.AskSense, Text: "Clip on.",
		Choices: []string{"done", "pick", "stop"}, Step: &capture.Step{Feed: "a"},
		Places: []capture.Place{{Name: "a"}}}}
	if got := askingOf(q, "").OtherForms(); len(got) > 0 {
		t.Errorf("one place, and it's offered once more: %v", got)
	}
	q.Places = append(q.Places, capture.Place{Name: "b"})
	if got := askingOf(q, "").OtherForms(); len(got) != 1 {
		t.Errorf("of two places the other isn't offered: %v", got)
	}
	q.Choices = []string{"pick", "stop"} // it isn't offered otherwise
	if got := askingOf(q, ""); got.Named != "" {
		t.Errorf("%q can't be picked", got.Named)
	}
}

// What lies in other closures is behind "something else", with its number.
func TestPlacesElsewhereStandBehind(t *testing.T) {
	s, err := New(t.Context(), Options{Work: &fakeWork{}, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	q := session.Question{Question: capture.Question{Kind: capture.AskTouched, Text: "What did you touch?",
		Choices: []string{"nothing", "touched", "stop"}, Places: []capture.Place{{Name: "keel", Kind: "joint"},
			{Name: "mast", Kind: "joint", Elsewhere: true}}}}
	for _, elsewhere := range []bool{true, false} {
		q.Places[1].Elsewhere = elsewhere
		src := strings.Join(slices.Collect(maps.Values(s.write(State{Running: true, Ask: &q}))), "\n")
		own, others, _ := strings.Cut(src, "Something else")
		if has := strings.Contains(own, `value="1"> joint keel`) &&
			strings.Contains(src, `value="2"> joint mast`); !has ||
			strings.Contains(own, "mast") == elsewhere || (others != "") != elsewhere {
			t.Errorf("elsewhere %v:\n%s", elsewhere, src)
		}
	}
}

// Once a step is measured its curve is read at lower voltages: that is what goes on, and what flows is held against
// what is expected there, by the plan. After the verdict the bar has the band of the verdict.
func TestTheBarHasTheBandOfItsVoltage(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	w := x.s.watch
	w.begun(Order{}, Overview{}, time.Now())
	w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{}})
	step := capture.Step{Feed: "nav lights", Kind: capture.Power, Volts: 5}
	show := func(e capture.Event, band *session.Band) map[string]string {
		e.Step = &step
		w.Tell(session.Event{What: session.Shown, Test: &e, Band: band})
		return x.s.write(w.state)
	}
	show(capture.Event{What: capture.StepBegins}, &session.Band{LowA: 0.0184, HighA: 0.020})
	html := show(capture.Event{What: capture.Sampling, OutputOn: true, SetVolts: 5}, nil)
	if !strings.Contains(html["draw"], "expected by the plan 18.4 to 20.0 mA") {
		t.Errorf("at the step's own voltage: %s", html["draw"])
	}
	html = show(capture.Event{What: capture.RampStep, OutputOn: true, SetVolts: 1.7, Sweeping: true},
		&session.Band{LowA: 0.0009, HighA: 0.0012})
	if !strings.Contains(html["draw"], "0.90 to 1.20 mA") || strings.Contains(html["doing"], "Raising") ||
		!strings.Contains(html["doing"], "curve for returns, at lower voltages") {
		t.Errorf("at a point of the curve: %s\n%s", html["draw"], html["doing"])
	}
	html = show(capture.Event{What: capture.RampStep, OutputOn: true, SetVolts: 1.6, Sweeping: true}, nil)
	if strings.Contains(html["draw"], "expected") {
		t.Errorf("where nothing is known of it: %s", html["draw"])
	}
	html = show(capture.Event{What: capture.StepEnds, Said: []capture.Said{{Group: "nav lights", Verdict: "in band",
		Good: true, Measured: "19.1 mA", Expected: "18.79 to 19.43 mA", LowA: 0.01879, HighA: 0.01943}}}, nil)
	if !strings.Contains(html["draw"], "expected 18.79 to 19.43 mA") {
		t.Errorf("after the verdict: %s", html["draw"])
	}
}

// By hand the program doesn't know what the supply is turned to just now, and raises nothing.
func TestByHandNoVoltageIsCertain(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	w := x.s.watch
	w.begun(Order{}, Overview{}, time.Now())
	w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{ByHand: true}})
	step := capture.Step{Feed: "nav lights", Kind: capture.Power, Volts: 12}
	w.Tell(session.Event{What: session.Shown, Test: &capture.Event{What: capture.RampStep, Step: &step, OutputOn: true,
		ByHand: true, SetVolts: 12}})
	html := x.s.write(w.state)
	if strings.Contains(html["output"], "12.00 V") || !strings.Contains(html["output"], "as you set it") {
		t.Error(html["output"])
	}
	if strings.Contains(html["doing"], "Raising") || !strings.Contains(html["doing"], "comes next") {
		t.Error(html["doing"])
	}
}
