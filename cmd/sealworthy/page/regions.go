package page

import (
	"cmp"
	"fmt"
	"html/template"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

// The regions of a page. Each is a template of that name, filled with a live.
var regionNames = []string{"output", "stopped", "whose", "wassimulated", "running", "group", "lit", "relight", "draw",
	"doing", "ask", "last", "closures", "found", "trace", "hands", "meter", "rows", "log"}

// live is the state as templates take it.
type live struct {
	State
	Subject, Left, Doing string
	Steps                string // which of how many
	ByHand               bool
	Asks                 *asking
	Bar                  *bar
	Curve                *curve
	Ended                bool
	// Lit says how long a look stays lit yet, or that it went dark; Light is how more is asked
	// for. Empty: no look is asked about.
	Lit, Light string
	// Wrong: what is asked comes of the last verdicts, so they stand in the question; nil: it doesn't
	Wrong            *wrong
	SimulatedVerdict string
	// Withdrawn is when that was found which isn't true of the build's files any more; "": it still is
	Withdrawn string
	NotAgain  string // why it isn't judged again now; "": it is
}

// Volts is what the output is set to, as far as that is known here.
func (l live) Volts() string {
	if l.ByHand {
		return wording.SetByHand
	}
	return fmt.Sprintf("%.2f V", l.Test.SetVolts)
}

// SaysSoFar is what a verdict rests on that is told while its curve is measured.
func (l live) SaysSoFar() string { return wording.SoFar }

// OffersMeter: a button takes another meter, where no question does.
func (l live) OffersMeter() bool {
	return l.Running && l.Bench != nil && (l.Ask == nil || l.Ask.Kind != session.AskMeter &&
		l.Ask.Kind != session.AskFuse && !slices.Contains(l.Ask.Choices, capture.Another))
}

// write fills all regions in. A region that can't be filled says so in its place.
func (s *Server) write(st State) map[string]string {
	l := live{State: st, ByHand: st.byHand(), SimulatedVerdict: plots.SimulatedVerdict}
	l.Ended = st.Over != nil
	if st.Step != nil {
		e := st.Test
		e.Step = st.Step
		l.Subject = cmp.Or(wording.Subject(*st.Step), wording.BenchProof)
		switch {
		case st.Purpose != "":
			l.Subject = wording.StepLabel(*st.Step, st.Purpose)
		case st.Ask != nil && st.Ask.Kind == capture.AskTouched && st.Ask.Step == nil: // of all that was measured
			l.Subject = st.Name
		}
		nth := e.Done + 1
		if e.What == capture.StepEnds { // it counts itself
			nth = e.Done
		}
		l.Steps = fmt.Sprintf("step %d of %d", nth, max(e.Total, e.Done+1))
		if st.soaks() {
			l.Subject = wording.Soak
			l.Steps = fmt.Sprintf("of %s, the whole model, for %s", st.Name, wording.Lasting(st.Step.For))
		}
		if e.Remaining > 0 {
			l.Left = wording.TimeLeft(e.Remaining.Round(time.Second))
		}
		l.Doing = wording.Doing(e, st.Ask != nil, st.Drops)
		if st.soaks() && st.Output == On && l.Left != "" { // that is what is asked across the room
			l.Doing += ". " + capital(l.Left)
		}
	}
	if st.Ask != nil {
		l.Asks = askingOf(*st.Ask, st.Refused)
		l.Asks.felt(st.Felt)
		l.Asks.Clips = clipsOf(*st.Ask, st.Bench)
		l.Asks.Unfolded = !slices.ContainsFunc(st.Rows, func(r Row) bool { return !r.Earlier })
		l.Wrong = wrongOf(*st.Ask, st.Last)
	}
	switch {
	case !looks(st.Ask):
	case st.Output == On && st.Test.LitFor > 0: // else it isn't told yet how long
		l.Lit, l.Light = wording.LitFor(st.Test.LitFor), wording.LightMore
	case st.Output == Off:
		l.Lit, l.Light = wording.WentDark, wording.LightAgain
	}
	l.Bar, l.Curve = barOf(st), curveOf(st)
	l.Closures = wording.Gravest(st.Closures)
	if len(st.Closures) > 0 && !s.present.stillTrue(st.Order.Build, st.FoundOf) {
		l.Withdrawn, l.NotAgain = s.clock(st.FoundAt), s.notAgain(st.Order.Build)
	}
	out := map[string]string{}
	for _, name := range regionNames {
		src, err := s.fill(name, l)
		if err != nil {
			src = []byte(template.HTMLEscapeString("this can't be shown: " + s.clean(err.Error())))
		}
		out[name] = string(src)
	}
	return out
}

// looks: a question is about what is lit.
func looks(q *session.Question) bool {
	return q != nil && (q.Kind == capture.AskLook || q.Kind == capture.AskUnderstood)
}

// frame is what a page shows around its own, with the regions as they are now.
func (s *Server) frame(title string, page any) frame {
	regions, _, _, _ := s.regions()
	f := frame{Title: title, Page: page, Live: map[string]template.HTML{}}
	for id, html := range maps.All(regions) {
		f.Live[id] = template.HTML(html) // written by a template, cleaned as a whole
	}
	return f
}

// asking is a question as it's shown.
type asking struct {
	session.Question
	Head, Tail string   // its first sentence, and the others
	Mind       []string // what to mind, line by line
	Refused    string
	Ways       []wording.Way
	Clip       bool   // the clip may have been all that was touched
	Named      string // the place that going on stands for already; "": none
	Clips      *Lead  // that of the clips, in a fold; nil: none fits
	Unfolded   bool   // the fold is open: nothing was measured yet in this test
	Leads      []Lead // pictures of which lead goes where
}

func askingOf(q session.Question, refused string) *asking {
	if q.About != nil && q.Kind == capture.AskLook {
		q.Text, q.Help = wording.LookQuestion(q.Groups, *q.About)
	}
	if q.About != nil && q.About.Stopped {
		q.Text = wording.StoppedByLimit
	}
	a := &asking{Question: q, Refused: refused, Leads: leadsOf(q), Clip: q.Kind == capture.AskTouched && q.Step != nil}
	if q.Kind == capture.AskSense && q.Step != nil && slices.Contains(q.Choices, "done") {
		a.Named = q.Step.Feed
	}
	if lines := wording.Inquired(q); lines != nil {
		a.Head, a.Mind = lines[0], lines[1:]
	} else if head, tail, ok := failed(q); ok {
		a.Head, a.Tail = head, tail
	} else {
		a.Head, a.Tail = asksWhat(q.Text)
	}
	for _, w := range wording.Ways(q) {
		if w.Choice != "stop" { // STOP is always there
			a.Ways = append(a.Ways, w)
		}
	}
	return a
}

// felt puts what was felt in the place of the question, which stays open meanwhile.
func (a *asking) felt(e capture.Event) {
	switch {
	case a.Kind == capture.AskClip && e.What == capture.Contact && e.Text != "": // in the proof of the bench
		a.Head, a.Tail = e.Text, ""
		return
	case a.Kind != capture.AskSense:
		return
	}
	switch e.What {
	case capture.Contact:
		a.Head, a.Tail = wording.FeltSomething, ""
	case capture.HandsOff:
		a.Head, a.Tail = e.Text, ""
	case capture.NothingYet:
		a.Head, a.Tail = wording.NothingYet, wording.DrawsNothing
	}
}

// HasElse: it has places that lie elsewhere.
func (a *asking) HasElse() bool { return wording.HasElse(a.Question.Question) }

// wayOn is a way to answer that needs something said with it, of the question it's on.
type wayOn struct {
	On    *asking
	Way   wording.Way
	First bool // it's the one that goes on: it stands before the buttons
}

// FirstForm is the way that goes on, where it needs something said with it; nil: it's
// a button.
func (a *asking) FirstForm() *wayOn {
	if len(a.Ways) == 0 || a.Ways[0].Wants == wording.Nothing {
		return nil
	}
	return &wayOn{On: a, Way: a.Ways[0], First: true}
}

// OtherForms are the other ways that need something said with them.
func (a *asking) OtherForms() (out []wayOn) {
	for i, w := range a.Ways {
		if i > 0 && w.Wants != wording.Nothing && !(w.Wants == wording.Places && a.onlyNamed()) {
			out = append(out, wayOn{On: a, Way: w})
		}
	}
	return out
}

// onlyNamed: no other place is there to be picked.
func (a *asking) onlyNamed() bool {
	return a.Named != "" && !slices.ContainsFunc(a.Places, func(p capture.Place) bool { return p.Name != a.Named })
}

// asksWhat parts the question itself from what is said with it: the first sentence
// that asks, else the first of all.
func asksWhat(s string) (head, tail string) {
	all := sentences(s)
	at := slices.IndexFunc(all, func(x string) bool { return strings.HasSuffix(x, "?") })
	at = max(at, 0)
	return all[at], strings.Join(slices.Delete(slices.Clone(all), at, at+1), " ")
}

// sentences parts a text after each stop that a capital or a quoted name follows.
func sentences(s string) (out []string) {
	from := 0
	for i := 0; i+2 < len(s); i++ {
		ends := s[i] == '.' || s[i] == '?' || s[i] == '!'
		begins := s[i+2] >= 'A' && s[i+2] <= 'Z' || s[i+2] == '"'
		if ends && s[i+1] == ' ' && begins {
			out, from = append(out, s[from:i+1]), i+2
		}
	}
	return append(out, s[from:])
}

// bar is what flows, over the band, on a line of 1000 parts.
type bar struct {
	Low, Width int // of the band
	At         int // what flows; -1: not known
	Says       string
	Out        bool // it lies outside the band
	Apart      bool // it flows at another voltage than the band is of: neither in it nor out of it
}

// barOf lays the band in the middle third where it can.
func barOf(s State) *bar {
	if s.Band == nil || !(s.Band.HighA > 0) {
		return nil
	}
	most := 1.5 * s.Band.HighA
	if s.Amps != nil && *s.Amps > most {
		most = 1.1 * *s.Amps
	}
	at := func(a float64) int { return int(1000 * max(0, min(1, a/most))) }
	b := &bar{Low: at(s.Band.LowA), At: -1,
		Says: expectedBy(s.BandOf) + " " + words.MilliampBand(s.Band.LowA, s.Band.HighA)}
	b.Width = max(4, at(s.Band.HighA)-b.Low)
	if s.Amps != nil {
		b.At = at(*s.Amps)
		b.Apart = s.Step != nil && s.Output == On && !s.Test.Sweeping &&
			math.Abs(s.Test.SetVolts-s.Step.Volts) > 0.02*s.Step.Volts
		b.Out = !b.Apart && (*s.Amps < s.Band.LowA || *s.Amps > s.Band.HighA)
	}
	return b
}

// expectedBy says by what something is expected.
func expectedBy(of bandOf) string {
	if of == byPlan {
		return "expected by the plan"
	}
	return "expected"
}

// curve is the trace over the band, 1000 by 240.
type curve struct {
	Points   string
	Low, Hgt int // of the band; Hgt 0: none
	Most     string
	Last     string
	Strip    string // what the band is
}

// The size of a curve's box.
const (
	curveWide = 1000.0
	curveHigh = 240.0
)

func curveOf(s State) *curve {
	if len(s.Trace) < 2 || s.Over != nil {
		return nil
	}
	first, last := s.Trace[0].at, s.Trace[len(s.Trace)-1].at
	span := last.Sub(first).Seconds()
	most := 0.0
	for _, p := range s.Trace {
		most = max(most, p.a)
	}
	if s.Band != nil {
		most = max(most, s.Band.HighA)
	}
	if !(most > 0) || !(span > 0) {
		return nil
	}
	most *= 1.15
	y := func(a float64) float64 { return curveHigh * (1 - max(0, a)/most) }
	var b strings.Builder
	for _, p := range s.Trace {
		fmt.Fprintf(&b, "%.0f,%.1f ", curveWide*p.at.Sub(first).Seconds()/span, y(p.a))
	}
	c := &curve{Points: strings.TrimSpace(b.String()), Most: words.Milliamps(most, most/50),
		Last: fmt.Sprintf("%.0f s", span)}
	if s.Band != nil {
		c.Low = int(y(s.Band.HighA))
		c.Hgt = max(1, int(y(s.Band.LowA))-c.Low)
		c.Strip = "the shaded strip is what is " + expectedBy(s.BandOf)
	}
	return c
}

// overview is what is known of a build, as templates take it.
type overview struct {
	Overview
	Awaited          awaited
	Stages           []string
	SimulatedVerdict string
}

// viewOf puts first what is worst; while nothing was judged, closures stand in the order of the plan.
func viewOf(o Overview, wait awaited) overview {
	if o.Findings != nil {
		f := *o.Findings
		f.Closures = wording.Gravest(f.Closures)
		o.Findings, o.Parts = &f, nil
		for _, c := range f.Closures {
			o.Parts = append(o.Parts, c.Closure)
		}
	}
	return overview{o, wait, []string{compare.Fitted, compare.Loose, compare.Closed}, plots.SimulatedVerdict}
}
