//go:build unix

package main

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// A model is measured at its jack, its signature kept; it comes back with a branch open
// and is led through on the page, one question at a time, to what is wrong with it.
func TestPageReturn(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender")
	p.work.warm, p.work.trace = time.Second, 2*time.Second
	build := "http://" + p.at + "/build/" + buildID(p.dir)
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.tap(`form:has(input[value=keep]) button`)
	b.asked("adapter") // the one that goes along
	b.shots(t, "keep-adapter")
	b.tap(`.ask button[data-choice=sent]`)
	b.asked("polarity")
	b.tap(`.ask button[data-choice="as it should be"]`)
	for _, x := range [][2]string{{"open volts", "5,12"}, {"load ohm", "160"}, {"loaded volts", "5.05"}} {
		b.asked(x[0])
		b.do(chromedp.SendKeys(".ask form input", x[1]))
		b.tap(`.ask form button`)
	}
	b.await("[data-region=closures] .told", "signature")
	b.await("[data-region=closures] .told", "The adapter gives 5.12 V, as it should.")
	b.shots(t, "kept")
	s := p.work.simulated(buildID(p.dir))
	faults, err := parseFaults(mustOpen(t, p.dir).plan, []string{"cabin lamps=open branch"}, 1)
	must(t, err)
	s.faults = faults
	b.do(chromedp.Navigate(build), chromedp.WaitVisible(".orders"))
	b.tap(`form:has(input[value=return]) button`)
	seen := map[string]int{}
	last := ""
	b.do(chromedp.WaitVisible(".ask"))
	for b.text("[data-region=closures]") == "" {
		kind, number := b.kind()
		if kind == "" || number == last {
			time.Sleep(50 * time.Millisecond)
			continue
		}
		last = number
		if seen[kind]++; seen[kind] == 1 {
			b.shots(t, "return-"+strings.ReplaceAll(kind, " ", "-"))
		}
		switch kind {
		case "eye":
			b.await("#output", "OUTPUT OFF")
			b.tap(`.ask button[data-choice=nothing]`)
		case "client":
			b.do(chromedp.SendKeys(".ask form[data-choice=said] input", "a cabin lamp is dark"))
			b.tap(`.ask form[data-choice=said] button`)
		case "colours":
			b.tap(`.ask button[data-choice=yes]`)
		case "adapter":
			b.tap(`.ask button[data-choice=sent]`)
		case "polarity":
			b.tap(`.ask button[data-choice="as it should be"]`)
		case "open volts":
			b.do(chromedp.SendKeys(".ask form input", "5,08"))
			b.tap(`.ask form button`)
		case "load ohm":
			b.tap(`.ask button[data-choice="don't know"]`)
		default:
			b.answers(kind, seen[kind])
		}
	}
	b.shots(t, "return-over")
	found := b.text("[data-region=closures]")
	if !strings.Contains(found, "cabin lamps") || !strings.Contains(found, "the client said: a cabin lamp is dark") {
		t.Errorf("found:\n%s", found)
	}
	if !strings.Contains(strings.Join(strings.Fields(found), " "),
		"when it left, its adapter gave 5.12 V with nothing on it, 5.05 V on 160 ohm") {
		t.Errorf("nothing of the adapter that went along:\n%s", found)
	}
	b.do(chromedp.Navigate(build), chromedp.WaitVisible(".orders"))
	b.shots(t, "returned")
	for form, want := range map[string]string{"return": "How sure", "reply": "Your answer"} {
		b.do(chromedp.Navigate(build + "/sheet/" + form))
		b.await("body", want)
		b.await("body", "cabin lamps")
		b.shots(t, "sheet-"+form)
		if s := b.text("body"); strings.Contains(s, "%") != (form == "return") {
			t.Errorf("chances on the page %s:\n%s", form, s)
		}
	}
	if seen["eye"] != 1 || seen["open volts"] != 1 {
		t.Errorf("asked: %v", seen)
	}
}

func mustOpen(t *testing.T, dir string) build {
	t.Helper()
	b, err := openBuild(env{stderr: outletOf(t.Output()), getenv: func(string) string { return "" }}, dir)
	must(t, err)
	return b
}
