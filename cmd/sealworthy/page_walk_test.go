//go:build unix

package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"sealworthy/compare"
)

// walkPlan is what the maker says of an invented skiff of the lightship Brackwater.
var walkPlan = [][2]string{
	{"What feeds the model?", "an adapter"},
	{"How many volts?", "=12"},
	{"How many amperes", "=1.5"},
	{"What is glued shut", "=hull, locker in hull"},
	{"Solder points", "="},
	{"Under hull. Group 1", "=cabin lamps"},
	{"What is it?", "LEDs with a resistor of yours"},
	{"Which LED?", "warm white"},
	{"Which LED?", "3 mm"},
	{"How many", "=2"},
	{"Which resistor", "=680"},
	{"What should you see", "=two warm lamps"},
	{"Group 2", "=stern lamp"},
	{"What is it?", "LEDs with a resistor of yours"},
	{"How many", "=1"},
	{"What should you see", "="},
	{"Group 3", "="},
	{"Under locker. Group 3", "=locker lamp"},
	{"What is it?", "LEDs with a resistor of yours"},
	{"How many", "=1"},
	{"What should you see", "="},
	{"Group 4", "="},
	{"Their wires", "=red, white, blue"},
}

// From an empty folder to the client's page of a return, in one program, by touches on the page and hands at the
// clips: each step leads to the next.
func TestPageWalk(t *testing.T) {
	t.Parallel()
	w := newWalker(t)
	w.do(chromedp.Navigate(w.p.address()), chromedp.WaitVisible("main"))
	w.await("main", "There is no build in this folder yet.")
	w.views("empty")
	w.do(chromedp.SendKeys("input[name=name]", "Skiff"))
	w.link("Ask me for it")
	w.await("#question", "What feeds the model?")
	w.views("asked")
	w.asks(walkPlan)
	w.await("h1", "Skiff: the plan")
	w.views("plan")
	w.link("To the build and its test")
	w.await("main", "No supply is known yet.")
	w.await("main", "Try it on a simulated bench")
	w.views("nobench")

	w.builds("Skiff")
	w.link("Find my instruments")
	w.await("main", "Find and try them")
	w.views("instruments")
	w.link("Find them, and try them with me")
	w.goes("bench", func(kind string) bool {
		switch kind {
		case "try":
			w.tap(`.ask button[data-choice=try]`)
		case "free":
			w.tap(`.ask button[data-choice=yes]`)
		case "fuse":
			w.types("0.4")
		case "write down":
			w.tap(`.ask button[data-choice=write]`)
		}
		return true
	})
	w.await("main", "It is written down.")
	w.link("Choose a build")
	w.await(".builds", "Skiff")
	w.views("home")
	w.link("Skiff")
	w.await("main", "In the model already?")
	w.views("begin")
	w.touchNamed(".orders label", "all of them")
	w.link("Begin the test")
	w.goes("fitted", nil)
	w.await("[data-region=log]", "bench proved")
	w.await("[data-region=closures]", "hull: READY TO CLOSE")
	w.await("[data-region=closures]", "locker: READY TO CLOSE")
	w.await(".ready", "Measured last: "+time.Now().Format("2006-01-02"))
	for _, want := range []string{"Take its photo", "Print the sheet", "I've glued it", "A short recheck first"} {
		w.await(".ready", want)
	}

	// Glued, cured, and measured once more.
	w.link("I've glued it")
	w.await(".ready", "really glued?")
	w.link("Yes, ")
	w.await("#known", "locker: GLUED")
	w.do(chromedp.Evaluate[chromedp.Void](`scrollTo(0, 0)`)) // what lies half under the header can't be held to a size
	w.views("glued")
	w.link("It has cured: the short retest")
	w.goes("closed", nil)
	w.await("[data-region=closures]", "locker: GLUED")
	w.await("[data-region=closures]", "Measured since, and all right.")
	w.link("On to the next part")
	w.await(".sum", "hull: ready to close")
	w.await("main", "Stage by stage")
	w.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('img[src$=trend]').scrollIntoView()`))
	if !w.within(patience, func() bool {
		return evaluated[int64](w.browser, `document.querySelector('img[src$=trend]').naturalWidth`) > 0
	}) {
		t.Error("no picture of the stages")
	}
	w.views("stages")
	w.paper("The sheet to print", "locker lamp")

	// It leaves, with its adapter.
	w.link("Keep its signature")
	w.goes("keep", func(kind string) bool { return w.adapter(kind, "12,1", "200", "12.05") })
	w.await("[data-region=closures]", "The adapter gives 12.10 V, as it should. On 200 ohm it holds 12.05 V.")
	w.paper("The client's page", "Skiff")
	w.link("Go on with Skiff")
	w.link("Say first which pole")
	w.fill("jack.main.plug", "5.5 x 2.1 mm, centre plus")
	w.touch(`#place form[data-try] button.first`)
	w.await(".unsaved", "centre plus")
	w.touch("#save")
	w.gone(".unsaved")
	w.link("To the build and its test")
	w.await(".sum", "locker: glued") // a plug's words change no draw
	w.await(".sum", "hull: ready to close")
	if s := w.paper("The label for its jack", "Skiff", "12 V"); strings.Contains(s, "not stated") {
		t.Errorf("the label says\n%s", s)
	}

	// It comes back with a branch open.
	w.r.does(t, "fault cabin lamps=open branch")
	w.link("It came back")
	w.goes("return", func(kind string) bool {
		switch kind {
		case "eye":
			w.await("#output", "OUTPUT OFF")
			w.tap(`.ask button[data-choice=nothing]`)
		case "client":
			w.do(chromedp.SendKeys(".ask form[data-choice=said] input", "a cabin lamp is dark"))
			w.tap(`.ask form[data-choice=said] button`)
		case "colours":
			w.tap(`.ask button[data-choice=yes]`)
		case "look", "understood":
			w.answers(kind, 1)
		default:
			return w.adapter(kind, "12.08", "", "")
		}
		return true
	})
	w.await("[data-region=closures]", "The return, for the client")
	found := strings.Join(strings.Fields(w.text("[data-region=closures]")), " ")
	for _, want := range []string{"one place is at fault: cabin lamps", "the client said: a cabin lamp is dark",
		"when it left, its adapter gave 12.10 V with nothing on it, 12.05 V on 200 ohm"} {
		if !strings.Contains(found, want) {
			t.Errorf("%q isn't in\n%s", want, found)
		}
	}
	w.link("Go on with Skiff")
	w.await("main", "The return, for me")
	w.views("returned")
	if s := w.paper("The return, for me", "cabin lamps", "How sure"); !strings.Contains(s, "%") {
		t.Errorf("no chances on the maker's page:\n%s", s)
	}
	if s := w.paper("The return, for the client", "cabin lamps", "Your answer"); strings.Contains(s, "%") {
		t.Errorf("chances on the client's page:\n%s", s)
	}
	w.await("main", "Past tests")
	if w.r.Output().On {
		t.Error("the output is left on")
	}
	f := mustBeWhole(t, filepath.Join(w.p.dir, "Skiff"))
	for _, s := range f.Kept() {
		if s.Stage == compare.Closed && len(s.Step.Sweep) > 0 {
			t.Errorf("%s is swept in the short retest", s.Step.Feed)
		}
	}
	// The clips of the proof and of each group were felt, what was touched was asked once, and looks were.
	for _, kind := range []string{"fittedclip", "fittedsense", "fittedwiggle", "fittedlook", "closedsense", "closedlook",
		"returnclient"} {
		if w.asked[kind] == 0 {
			t.Errorf("never asked: %s, of %v", kind, w.asked)
		}
	}
	for _, kind := range []string{"fittedtouched", "closedtouched", "returneye", "returnopen volts"} {
		if w.asked[kind] != 1 {
			t.Errorf("%s is asked %d times", kind, w.asked[kind])
		}
	}
}
