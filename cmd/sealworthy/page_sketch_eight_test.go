//go:build unix

package main

import (
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"sealworthy/compare/plan"
)

// Beside what a person types and reads: how long pointing takes (the keystroke-level
// model of Card, Moran and Newell, 1980, from memory), and a view until it's there,
// whatever machine the test runs on.
const (
	pointTime = 1100 * time.Millisecond
	viewTime  = 300 * time.Millisecond
)

// sketcher is a person at the page of a plan.
type sketcher struct {
	person
	b *browser
}

// taps points at something, thinks for a moment, and touches it.
func (s *sketcher) taps(selector string) {
	s.b.t.Helper()
	s.spent += nods + pointTime
	s.b.touch(selector)
}

// fills points at a field and types.
func (s *sketcher) fills(selector, text string) {
	s.b.t.Helper()
	s.spent += pointTime
	s.types(text)
	s.b.touch(selector)
	s.b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.querySelector(%q).select()", selector)),
		chromedp.SendKeys(selector, text))
}

// view waits for a text, and reads what of the form is new.
func (s *sketcher) view(selector, text string) {
	s.b.t.Helper()
	s.b.await(selector, text)
	s.spent += viewTime
	s.reads(evaluated[string](s.b,
		`[...document.querySelectorAll('h1, .place h2, .place > .figures, .place .field > span, .place legend, `+
			`.place summary, .place button')].map((e) => e.innerText).join('\n')`))
}

// goes chooses a place of the tree.
func (s *sketcher) goes(kind, name string) {
	s.b.t.Helper()
	s.taps(fmt.Sprintf(`.tree a[href*='at=%s#']`, url.QueryEscape(kind+":"+name)))
	s.view("#place h2", name)
}

// sketchedGroup is a group as somebody knows it who has built it.
type sketchedGroup struct{ name, part, key, count, closure string }

// A first build of eight groups, from an empty folder to a saved plan, by pointing alone:
// an invented ferry. A person at the speed above needs less than five minutes. What
// isn't counted: reading the checks and the parts' figures, which are there to look up.
func TestPageEightGroupsInFiveMinutes(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	e := env{stdin: strings.NewReader(""), stdout: outletOf(t.Output()), stderr: outletOf(t.Output()),
		getenv: func(string) string { return "" }}
	dir := t.TempDir()
	w := &pageWork{e: e, w: machine(), dir: dir, flags: benchFlags{room: noRoom}, seed: func() uint64 { return 1 },
		sims: map[string]*simulatedBuild{}}
	p := serveWork(t, w, "")
	s := &sketcher{person{t: t, known: map[string]bool{}}, b}
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible("input[name=name]"))
	s.fills("input[name=name]", "Ferry")
	s.taps(`#example`)
	s.view("h1", "Ferry")
	s.taps(`main a[href$='/plan']`)
	s.view("h1", "the plan")
	groups := []sketchedGroup{
		{"saloon", "strip warm white 12 V", "segments", "8", "deckhouse"},
		{"bridge", "strip red 12 V", "segments", "2", "deckhouse"},
		{"car deck", "strip cold white 12 V", "segments", "10", "hull"},
		{"engine room", "smd warm white 12 V", "count", "5", "hull"},
		{"mast", "smd cold white 12 V", "count", "2", "deckhouse"},
		{"port side", "red 1.8 mm", "ohms", "1000", "deckhouse"},
		{"starboard", "green 1.8 mm", "ohms", "560", "deckhouse"},
		{"ramp", "amber 1.8 mm", "ohms", "820", "hull"},
	}
	for _, g := range groups {
		s.goes("joint", "keel")
		s.taps("#place details.add summary")
		s.fills("#place details.add input[name=name]", g.name)
		if g.key != "ohms" {
			s.fills("#place details.add input[name=count]", g.count)
		}
		s.spent += 2 * pointTime // the list, and the choice in it
		b.do(chromedp.Evaluate[chromedp.Void](
			fmt.Sprintf(`document.querySelector('#place details.add select[name=closure]').value = %q`, g.closure)))
		s.taps(fmt.Sprintf("#place details.add input[value='%s']", g.part))
		s.taps("#place details.add button.first")
		s.view("#place h2", g.name)
		if g.key != "ohms" {
			continue
		}
		s.fills(fmt.Sprintf("[name='f %s.lights[0].ohms']", plan.PathOf("group", g.name)), g.count)
		s.taps("#place form[data-try] button.first")
		s.view(".unsaved", "resistor "+g.count+" ohm")
	}
	for _, name := range []string{"cabin windows", "galley", "anchor light", "port beacon", "starboard beacon",
		"lantern", "galley stove"} {
		if !evaluated[bool](b, fmt.Sprintf("!!document.querySelector(%q)", `.tree a[href*='at=`+
			url.QueryEscape("group:"+name)+`#']`)) {
			continue // the plan to begin with has no such group
		}
		s.goes("group", name)
		s.taps("#place form[action$='/remove'] button")
		s.view(".unsaved", name+" taken out")
	}
	b.shots(t, "eight")
	s.taps("#save")
	b.gone(".unsaved")
	src, err := os.ReadFile(filepath.Join(dir, "Ferry", planFile))
	must(t, err)
	made, problems := plan.Parse(planFile, src)
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	for _, g := range groups {
		found := false
		for _, x := range made.Groups {
			found = found || x.Name == g.name && x.Closure == g.closure &&
				strings.Contains(string(src), g.key+" = "+g.count)
		}
		if !found {
			t.Errorf("%q isn't as it was made:\n%s", g.name, src)
		}
	}
	t.Logf("%d groups in %v of a person's time", len(made.Groups), s.spent.Round(time.Second))
	if s.spent > 5*time.Minute {
		t.Errorf("it takes a person %v", s.spent)
	}
}
