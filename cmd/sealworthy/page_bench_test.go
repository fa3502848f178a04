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
	"github.com/chromedp/chromedp/kb"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/load"
	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/wire"
)

// newBench serves the page of an empty folder, for a maker of whom nothing is written down,
// on a computer with a rig behind pseudo terminals plugged in, and a port that is gone.
func newBench(t *testing.T, plan string) (p *pageUp, r *atRig, home string) {
	t.Helper()
	home = t.TempDir()
	e := env{stdin: strings.NewReader(""), stdout: outletOf(t.Output()), stderr: outletOf(t.Output()),
		getenv: func(k string) string { return map[string]string{"SEALWORTHY_HOME": home}[k] }}
	b, err := openBuild(e, filepath.Join("testdata/plans", plan))
	must(t, err)
	cfg, err := b.readBench()
	must(t, err)
	bench, err := putUpAs(context.Background(), clock.Wall{}, b.plan, cfg, nil, load.Options{}, rig.Options{Seed: 1})
	must(t, err)
	t.Cleanup(func() { _ = bench.Close() })
	dir := t.TempDir()
	w := &pageWork{e: e, w: machine(), dir: dir, flags: benchFlags{room: noRoom},
		seed: func() uint64 { return 1 }, sims: map[string]*simulatedBuild{},
		ports: func() ([]wire.Listed, error) {
			at := bench.Ports()
			return []wire.Listed{{Name: at.Supply}, {Name: filepath.Join(dir, "gone"), Hint: "left over"},
				{Name: at.Meter}}, nil
		}}
	p = serveWork(t, w, "")
	p.dir = dir
	return p, &atRig{Bench: bench, plan: b.plan, seed: 1}, home
}

// sizes makes pictures of a view from a phone to a screen, whole, beside what shots does.
func (b *browser) sizes(t *testing.T, name string) {
	t.Helper()
	b.shots(t, name)
	dir := os.Getenv("SEALWORTHY_SHOTS")
	if dir == "" {
		return
	}
	for _, wide := range []int64{360, 800, 1280, 1920} {
		b.do(chromedp.EmulateViewport(wide, 2600), chromedp.Sleep(150*time.Millisecond))
		src, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
		must(t, err)
		must(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-whole-%d.png", name, wide)), src, 0o644))
	}
	b.do(chromedp.EmulateViewport(1024, 768))
}

// says waits for a question of a kind and answers it: once more where that came before it
// could be read, as one may that stood on a page that was loaded with it.
func (b *browser) says(kind, choice string) {
	b.t.Helper()
	b.asked(kind)
	_, number := b.kind()
	var next time.Time
	if !b.within(patience, func() bool {
		if _, now := b.kind(); now != number {
			return true
		}
		if time.Now().After(next) {
			b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(
				`document.querySelector('.ask[data-question="%s"] button[data-choice="%s"]')?.click()`, number,
				choice)))
			next = time.Now().Add(time.Second)
		}
		return false
	}) {
		b.t.Fatalf("%s isn't taken:\n%s", choice, b.text("main"))
	}
}

// pictured: the pictures on the page were loaded, each says what it shows, and one of them
// is of a file.
func (b *browser) pictured(t *testing.T, file string) {
	t.Helper()
	if !b.within(patience, func() bool {
		return evaluated[bool](b, fmt.Sprintf(`(() => { const all = [...document.querySelectorAll('.lead img')];
			for (const x of all) x.loading = 'eager';
			return all.length > 0 && all.every((x) => x.naturalWidth > 0 && x.alt.length > 40) &&
				all.some((x) => x.src.endsWith(%q)); })()`, "/"+file))
	}) {
		t.Errorf("no picture of %s:\n%s", file, b.text("main"))
	}
}

// With nothing written down the instruments are found on their ports, tried with the maker's hands and written
// down; nothing goes on before a yes, and once. TestPageWalk goes on from there.
func TestPageBenchFromNothing(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p, r, home := newBench(t, "tender")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible("main"))
	b.await("main", "There is no build in this folder yet.")
	b.await("main", "No instrument is written down yet.")
	b.sizes(t, "empty")
	b.tap(`main a[href="/instruments"]`)
	b.await("main", "Find and try them")
	b.pictured(t, leadsInSeries)
	b.sizes(t, "instruments")
	b.tap(`.orders button.first`)
	b.asked("try")
	ports := b.text("[data-region=found]")
	for _, want := range []string{"Supply: SIMULATED BENCH,SUPPLY", "Meter: SIMULATED BENCH,METER",
		"there is no such port"} {
		if !strings.Contains(ports, want) {
			t.Errorf("it doesn't show %q:\n%s", want, ports)
		}
	}
	b.sizes(t, "found")
	b.says("try", session.TryThem)
	b.asked("free")
	if r.Output().On {
		t.Error("the output is on before the yes")
	}
	b.await("#output", "OUTPUT OFF")
	b.pictured(t, "bench-supply.svg")
	b.sizes(t, "free")
	// A pedal leaves it off: only a yes lets it go on.
	if got := evaluated[string](b, `document.querySelector('.ask button[data-enter]').dataset.choice`); got !=
		session.NotFree {
		t.Errorf("Enter alone answers %q", got)
	}
	b.says("free", session.Free)
	b.await("[data-region=log]", "The output is ON.")
	b.asked("fuse")
	if r.Output().On {
		t.Error("the output is left on")
	}
	ons := 0
	for _, x := range r.Outputs() {
		if x.On {
			ons++
			if x.Volts > 1 || x.LimitA > 0.011 {
				t.Errorf("it went on at %g V, %g A", x.Volts, x.LimitA)
			}
		}
	}
	if ons != 1 {
		t.Errorf("it went on %d times", ons)
	}
	b.pictured(t, "bench-meter.svg")
	b.sizes(t, "fuse")
	b.do(chromedp.SendKeys(".ask form input", "400 mA"))
	b.tap(".ask form button")
	b.says("write down", session.Write)
	b.await("[data-region=group]", "It is written down.")
	b.pictured(t, leadsInSeries)
	b.sizes(t, "written")
	cfg, err := session.ReadBench(home)
	if at := r.Ports(); err != nil || cfg.Supply.Port != at.Supply || cfg.Meter.Port != at.Meter ||
		cfg.Meter.FuseAmps != 0.4 {
		t.Fatalf("%+v, %v", cfg, err)
	}
}

const leadsInSeries = "bench-series.svg"

// The bench is found by keys alone; stopped, nothing is written down. That the maker is
// the instrument is said there, too, and a build goes by it.
func TestPageBenchByKeys(t *testing.T) {
	t.Parallel()
	k := keyed{newBrowser(t)}
	p, r, home := newBench(t, "tender")
	dir := filepath.Join(p.dir, "tender")
	must(t, os.CopyFS(dir, os.DirFS("testdata/plans/tender")))
	k.do(chromedp.Navigate(p.address()), chromedp.WaitVisible("main"))
	k.do(chromedp.Navigate("http://"+p.at+"/instruments"), chromedp.WaitVisible(".orders"))
	k.tabTo(`.orders select`, 12)
	k.tabTo(`.orders button.first`, 12)
	k.press(kb.Enter)
	k.asked("try")
	k.do(chromedp.WaitEnabled(".ask button[data-choice=try]"))
	k.tabTo(`.ask button[data-choice=try]`, 12)
	k.press(kb.Enter)
	k.asked("free")
	k.do(chromedp.WaitEnabled(".ask button[data-choice=yes]"))
	k.tabTo(`#stop`, 20)
	k.press(kb.Enter)
	k.await("#stopped", "off (read back)")
	k.await("[data-region=group]", "Nothing was written down.")
	if _, err := os.Stat(makersBenchFile(home)); err == nil || r.Output().On {
		t.Errorf("written down: %v; the output is on: %v", err == nil, r.Output().On)
	}
	for _, x := range r.Outputs() {
		if x.On {
			t.Errorf("it went on at %g V", x.Volts)
		}
	}

	k.do(chromedp.Navigate("http://"+p.at+"/instruments"), chromedp.WaitVisible(".orders"))
	k.do(chromedp.Evaluate[chromedp.Void](`for (const x of document.querySelectorAll('.orders select')) x.value = '-';
		for (const x of ['byhand', 'typed']) document.querySelector('[name=' + x + ']').checked = true`))
	k.tap(`.orders button.first`)
	k.says("write down", session.Write)
	k.await("[data-region=group]", "It is written down.")
	k.do(chromedp.Navigate("http://"+p.at+"/build/"+buildID(dir)), chromedp.WaitVisible(".orders"))
	k.await(".orders", "Measured with supply: you set it by hand; meter: you type what it shows.")
	k.tap(".orders button.first")
	k.asked("supply")
	k.pictured(t, leadsInSeries)
	k.tap("#stop")

	// A simulated bench stands in for instruments, and each view of its build says so.
	k.do(chromedp.Navigate("http://"+p.at+"/instruments"), chromedp.WaitVisible(".orders"))
	k.tap(`form[action="/simulated"] button`)
	k.await("main", "SIMULATED BENCH")
	k.await("main", "Tender")
	k.tap(`main a[href$="/plan"]`)
	k.await(".plan", "Tender")
	k.await("main", "SIMULATED BENCH")
}

// A page can't have any file opened as a port, and where no supply is known it says how to
// find one in its own words, not in those of the command.
func TestPageBenchOpensNoFile(t *testing.T) {
	t.Parallel()
	home, dir := t.TempDir(), t.TempDir()
	e := env{stdin: strings.NewReader(""), stdout: outletOf(t.Output()), stderr: outletOf(t.Output()),
		getenv: func(k string) string { return map[string]string{"SEALWORTHY_HOME": home}[k] }}
	opened := ""
	w := &pageWork{e: e, w: machine(), dir: dir, flags: benchFlags{room: noRoom}, sims: map[string]*simulatedBuild{},
		ports: func() ([]wire.Listed, error) { return []wire.Listed{{Name: "plugged"}}, nil }}
	w.w.Open = func(_ context.Context, name string, _ instruments.Line) (instruments.Port, error) {
		opened = name
		return nil, fmt.Errorf("%s isn't to be opened", name)
	}
	do := func(o page.Order) page.Result {
		g := capture.NewGuard(clock.Wall{})
		return w.Do(t.Context(), o, session.NewDesk(true, g.Go), g)
	}
	r := do(page.Order{Verb: page.Bench, Ports: []string{"/etc/passwd"}})
	if r.Err == nil || opened != "" || !strings.Contains(r.Err.Error(), "isn't plugged in") {
		t.Errorf("%v; %q was opened", r.Err, opened)
	}
	if r = do(page.Order{Verb: page.Bench, Ports: []string{"plugged"}}); r.Err != nil || opened != "plugged" {
		t.Errorf("%v; %q was opened", r.Err, opened)
	}
	build := filepath.Join(dir, "gig")
	must(t, os.CopyFS(build, os.DirFS("testdata/plans/gig")))
	r = do(page.Order{Verb: page.Measure, Build: buildID(build), Stage: "fitted"})
	if hints := strings.Join(r.Hints, "; "); r.Err == nil || strings.Contains(hints, "--") ||
		!strings.Contains(hints, "Your bench") {
		t.Errorf("%v: %s", r.Err, hints)
	}
}
