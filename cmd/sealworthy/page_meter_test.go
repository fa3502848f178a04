//go:build unix

package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/load"
	"sealworthy/instruments/clock"
)

// rigPage serves the page of a build whose bench is a rig behind its own ports, in real
// time, with hands at it.
func rigPage(t *testing.T, plan string) (*pageUp, *atRig) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), plan)
	must(t, os.CopyFS(dir, os.DirFS(filepath.Join("testdata/plans", plan))))
	e := env{stdin: strings.NewReader(""), stdout: outletOf(t.Output()), stderr: outletOf(t.Output()),
		getenv: func(string) string { return "" }}
	b, err := openBuild(e, dir)
	must(t, err)
	cfg, err := b.readBench()
	must(t, err)
	c := clock.Wall{}
	r, err := putUp(context.Background(), c, b.plan, cfg, nil, 1, load.Options{}, true)
	must(t, err)
	t.Cleanup(func() { _ = r.Close() })
	w := &pageWork{e: e, w: world{World: session.World{Clock: c, Open: r.Opener(), Others: func() []string {
		return nil
	}},
		terminal: func(any) bool { return true }}, only: dir, flags: benchFlags{room: noRoom},
		seed: func() uint64 { return 1 }, sims: map[string]*simulatedBuild{}}
	p := r.Ports()
	w.flags.over.SupplyPort, w.flags.over.MeterPort, w.flags.over.RelaysPort = p.Supply, p.Meter, p.Relays
	return serveWork(t, w, buildID(dir)), &atRig{Bench: r, plan: b.plan, seed: 1}
}

func (a *atRig) does(t *testing.T, line string) {
	t.Helper()
	if _, err := hand(a, line); err != nil {
		t.Fatal(err)
	}
}

// hands do at the rig what the page asks them for in the proof of a bench, question by question,
// until end. Others answers what else is asked; false: that is hands' own.
func (a *atRig) hands(t *testing.T, b *browser, end func() bool, others func(kind, text string) bool) {
	t.Helper()
	last := ""
	if !b.within(3*patience, func() bool {
		kind, number := b.kind()
		switch {
		case end():
			return true
		case kind == "" || number == last:
			return false
		}
		last = number
		text := b.text(".ask")
		switch {
		case others(kind, text):
			return false
		case strings.Contains(text, "together"):
			a.does(t, "together")
		case strings.Contains(text, "resistor"):
			a.does(t, "resistor 1000")
		default:
			a.does(t, "open")
		}
		b.tap(".ask button[data-choice=done]")
		return false
	}) {
		t.Fatalf("it doesn't go on:\n%s", b.text("main"))
	}
}

// seenAtOnce holds that these are to be seen on a tablet without scrolling.
func (b *browser) seenAtOnce(t *testing.T, selectors ...string) {
	t.Helper()
	for _, x := range selectors {
		if below := evaluated[float64](b, fmt.Sprintf(
			`document.querySelector(%q).getBoundingClientRect().bottom - innerHeight`, x)); below > 0 {
			t.Errorf("%s ends %.0f px below what is seen", x, below)
		}
	}
}

// powered waits until a group is read at its full voltage, and names it.
func (b *browser) powered(r *atRig) string {
	b.t.Helper()
	if !b.within(patience, func() bool {
		return r.Output().On && r.Output().Volts > 4.9 && strings.Contains(b.text("#output"), "OUTPUT ON")
	}) {
		b.t.Fatalf("nothing is powered:\n%s", b.text("main"))
	}
	return b.text("[data-region=group] h1")
}

// The meter's cable is pulled in the middle of a step, then the supply's: the page says
// which and what the output does; once it's back the step is measured again, and what
// was measured before is still there.
func TestPagePulledCables(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p, r := rigPage(t, "tender")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('[name=noproof]').checked = true`))
	b.tap(".orders button.first")
	first := b.powered(r)
	r.does(t, "unplug meter")
	b.await(".ask", "The meter's cable is out.")
	b.await("#output", "OUTPUT OFF")
	if r.Output().On {
		t.Error("the output is on")
	}
	b.shots(t, "meterout")
	r.does(t, "replug meter")
	b.await("[data-region=last]", first+": in band")
	b.await("[data-region=last]", "Last") // so far, before its curve was measured

	second := b.powered(r)
	if second == first {
		t.Fatalf("%s comes again", first)
	}
	r.does(t, "unplug supply")
	b.await(".ask", "The supply's cable is out.")
	b.await(".ask", "Its output may still be on at its limit")
	b.await("#output", "NOT KNOWN")
	if !b.within(patience, func() bool { return strings.TrimSpace(b.text(".digits")) == "-" }) {
		t.Errorf("with the supply out of reach it shows %q", b.text(".digits"))
	}
	b.shots(t, "supplyout")
	r.does(t, "replug supply")
	b.await("[data-region=last]", second+": in band")
	b.await("[data-region=rows]", first)
	b.tap("#stop")
	b.await("#stopped", "off (read back)")
	if r.Output().On {
		t.Error("the output is on after STOP")
	}
	mustBeWhole(t, p.dir)
}

// In the middle of a step the maker takes another meter: one that he reads himself. The
// output goes off, the bench is proved with it, and the page says what stands and what it
// can't settle any more. What the old one measured isn't asked for again, and each reading
// has the error of its own meter.
func TestPageAnotherMeter(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p, r := rigPage(t, "tender")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.tap(".orders button.first")
	hands := func(end func() bool) {
		t.Helper()
		r.hands(t, b, end, func(kind, _ string) bool {
			switch kind {
			case "touched":
				b.tap(".ask button[data-choice=nothing]")
			case "number":
				time.Sleep(300 * time.Millisecond) // the question must have been read
				b.do(chromedp.SendKeys(".ask form input", fmt.Sprintf("%.1f", 1000*r.Output().Amps)))
				b.tap(".ask form button")
			default:
				return false
			}
			return true
		})
	}
	hands(func() bool { return strings.Contains(b.text("[data-region=last]"), "Last") }) // proved, and one measured
	first := strings.TrimSpace(strings.Split(strings.TrimPrefix(strings.TrimSpace(
		strings.TrimPrefix(b.text("[data-region=last]"), "Last")), "+"), ":")[0])
	b.powered(r)
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("[data-region=meter] button").click()`))
	b.asked("another meter")
	b.await("#output", "OUTPUT OFF")
	if r.Output().On {
		t.Error("the output is on")
	}
	b.shots(t, "anothermeter")
	if !b.within(patience, func() bool { return b.text("[data-region=meter]") == "" }) {
		t.Error("another meter is offered while it's asked for")
	}
	b.tap(".ask button[data-choice=typed]")
	b.asked("fuse")
	b.shots(t, "anothermeter-fuse")
	b.seenAtOnce(t, ".ask form button", ".ask form input", ".ask button[data-choice=\"don't know\"]")
	b.do(chromedp.SendKeys(".ask form input", "400"))
	b.tap(`.ask input[value=mA]`) // a tablet's keys for numbers have no letters
	b.tap(".ask form button")
	b.await("[data-region=log]", "Another meter now: a meter read by the maker. It has its own error. Its limits "+
		"aren't stated")
	b.await("[data-region=log]", "What the old one settled stands: "+first+".")
	b.await("[data-region=log]", "What is left it can settle as well as the old one.")
	proofs := 0
	hands(func() bool {
		if k, _ := b.kind(); k == "number" {
			proofs++
		}
		rows := b.text("[data-region=rows]")
		return strings.Count(rows, "in band")+strings.Count(rows, compare.Passed) == 2
	})
	b.shots(t, "anothermeter-on")
	b.tap("#stop")
	b.await("#output", "NO TEST")
	f := mustBeWhole(t, p.dir)
	meters := map[string]string{} // by the group that it measured last
	for _, s := range f.Kept() {
		if len(s.Step.Groups) == 1 && s.Outcome == "measured" {
			if _, again := meters[s.Step.Feed]; again && s.Step.Feed == first {
				t.Errorf("%s was measured again", first)
			}
			meters[s.Step.Feed] = s.Instruments["meter"].Identity
		}
	}
	const typed = "a meter read by the maker"
	if len(meters) != 2 || meters[first] == typed || meters[first] == "" {
		t.Errorf("measured with: %v", meters)
	}
	for feed, m := range meters {
		if feed != first && m != typed {
			t.Errorf("%s was measured with %s", feed, m)
		}
	}
	notes := 0
	for _, n := range f.Notes {
		if n.Name == "proof" {
			notes++
		}
	}
	if notes != 2 {
		t.Errorf("%d proofs are kept", notes)
	}
}
