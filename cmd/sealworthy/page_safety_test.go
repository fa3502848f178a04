//go:build unix

package main

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"net/http"
	"os"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"sealworthy/instruments/rig"
)

// on waits until the simulated bench's output is on at its full voltage, and gives it.
func (p *pageUp) on(t *testing.T, b *browser) *rig.Bench {
	t.Helper()
	var bench *rig.Bench
	s := p.work.simulated(buildID(p.dir))
	if !b.within(60*time.Second, func() bool {
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.bench == nil {
			return false
		}
		bench = s.bench.Bench
		return bench.Output().On
	}) {
		t.Fatalf("the output never goes on: %s", b.text("main"))
	}
	return bench
}

// wentOff is when the output of a bench was switched off last.
func wentOff(b *rig.Bench) (at time.Time, off bool) {
	all := b.Outputs()
	if len(all) == 0 || all[len(all)-1].On {
		return at, false
	}
	return all[len(all)-1].At, true
}

// A page that is closed in the middle of a test: the output goes off; how long that
// took is told (TestUnseenPauses of package capture holds it in simulated time). The page says so when it's opened
// again, and one touch repeats the step.
func TestPageClosedPauses(t *testing.T) {
	b := newBrowser(t)
	w, first := simulatedWork(t, "tender")
	p := serveWork(t, w, first, asShipped)
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.tap(".orders button.first")
	bench := p.on(t, b)
	b.do(chromedp.Navigate("about:blank"))
	closed := time.Now()
	var at time.Time
	if !b.within(patience, func() (off bool) { at, off = wentOff(bench); return off }) {
		t.Fatal("the output stays on")
	}
	t.Logf("off %v after the page was closed", at.Sub(closed))
	b.do(chromedp.Navigate("http://"+p.at+"/bench"), chromedp.WaitVisible(".ask"))
	b.await("#output", "OUTPUT OFF")
	b.await(".ask", "obody could see the test")
	b.shots(t, "paused")
	b.tap(".ask button[data-choice=done]")
	b.await("[data-region=last]", "in band")
	b.tap("#stop")
	b.await("#stopped", "off (read back)")
}

// STOP, with ten pages open: the output goes off, and the page says what became of it.
// How long that took is told (BenchmarkStop of package page measures it).
func TestPageStop(t *testing.T) {
	b := newBrowser(t)
	w, first := simulatedWork(t, "tender")
	p := serveWork(t, w, first, asShipped)
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	for range 9 {
		b.tab().do(chromedp.Navigate("http://"+p.at+"/bench"), chromedp.WaitVisible(".live"))
	}
	for range 3 {
		b.do(chromedp.Navigate("http://"+p.at+"/build/"+buildID(p.dir)), chromedp.WaitVisible(".orders"))
		b.tap(".orders button.first")
		bench := p.on(t, b)
		b.do(chromedp.WaitVisible(".live"))
		touched := evaluated[int64](b, `(() => {
			document.getElementById('stop').dispatchEvent(new PointerEvent('pointerdown', {bubbles: true, cancelable: true}));
			return Date.now(); })()`)
		var at time.Time
		if !b.within(patience, func() (off bool) { at, off = wentOff(bench); return off }) {
			t.Fatal("the output stays on")
		}
		t.Logf("off %v after the touch", at.Sub(time.UnixMilli(touched)))
		b.await("#stopped", "off (read back)")
		b.await("#output", "NO TEST")
		b.shots(t, "stopped")
	}
}

// The program is killed in the middle of a test: the page says that nothing is known,
// and shows no figure any more.
func TestPageOfKilledProgram(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	dir := tender(t)
	m := start(t, "page", dir, "--simulated", "--no-open")
	var address string
	if !b.within(patience, func() bool {
		address = regexp.MustCompile(`http://\S+`).FindString(m.out.raw())
		return address != ""
	}) {
		t.Fatal("no address: " + m.err.raw())
	}
	b.do(chromedp.Navigate(address), chromedp.WaitVisible(".orders"))
	b.tap(".orders button.first")
	b.await("#output", "OUTPUT ON")
	// The device's clock is set back meanwhile: what counts is how long nothing was heard.
	b.do(chromedp.Evaluate[chromedp.Void](`Date.now = ((was) => () => was() - 864e5)(Date.now); undefined`))
	must(t, m.cmd.Process.Signal(syscall.SIGKILL))
	b.await("#output", "NOT KNOWN")
	b.do(chromedp.EmulateViewport(360, 740))
	if got := evaluated[int64](b,
		`Math.round(document.getElementById('stop').getBoundingClientRect().top)`); got != 6 {
		t.Errorf("STOP has moved to %d", got)
	}
	if s := b.text(".digits"); strings.TrimSpace(s) != "" {
		t.Errorf("it still shows %q", s)
	}
	b.shots(t, "notknown")
	b.tap("#stop")
	b.await("#stopped", "NOT CONFIRMED: switch the supply off.")
}

// axe finds nothing against a page. SEALWORTHY_AXE is the script of axe-core 4 (npm); CI
// fetches it.
func (b *browser) accessible(t *testing.T, name string) {
	t.Helper()
	file := os.Getenv("SEALWORTHY_AXE")
	if file == "" {
		if os.Getenv("CI") != "" {
			t.Error("SEALWORTHY_AXE names no script of axe-core")
		}
		return
	}
	src, err := os.ReadFile(file)
	must(t, err)
	b.do(chromedp.Evaluate[chromedp.Void](string(src) + "; undefined"))
	ctx, cancel := context.WithTimeout(b.ctx, 30*time.Second)
	defer cancel()
	found, err := chromedp.Run(ctx, chromedp.Evaluate[string](
		`axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'], rules: {'color-contrast-enhanced': {enabled: true}}})
			.then((r) => JSON.stringify(r.violations.map((v) => ({id: v.id, help: v.help, nodes: v.nodes.map((n) => n.html.slice(0, 200))}))))`,
		chromedp.EvalAwaitPromise))
	must(t, err)
	var violations []struct {
		ID    string   `json:"id"`
		Help  string   `json:"help"`
		Nodes []string `json:"nodes"`
	}
	must(t, json.Unmarshal([]byte(found), &violations))
	for _, v := range violations {
		t.Errorf("%s: %s: %s\n%s", name, v.ID, v.Help, strings.Join(v.Nodes, "\n"))
	}
}

// Each view weighs little, all told.
func TestPageWeight(t *testing.T) {
	t.Parallel()
	p := servedPage(t, "tender")
	c := &http.Client{}
	sum := 0
	r, err := http.NewRequestWithContext(t.Context(), "GET", p.address(), nil)
	must(t, err)
	a, err := c.Do(r)
	must(t, err)
	cookie := a.Cookies()[0]
	a.Body.Close()
	paths := []string{"/build/" + buildID(p.dir), "/build/" + buildID(p.dir) + "/plan", "/bench", "/"}
	must(t, fs.WalkDir(os.DirFS("page/static"), ".", func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() { // scripts, styles, tones
			paths = append(paths, "/static/"+path)
		}
		return err
	}))
	for _, path := range paths {
		r, err := http.NewRequestWithContext(t.Context(), "GET", "http://"+p.at+path, nil)
		must(t, err)
		r.AddCookie(cookie)
		a, err := c.Do(r)
		must(t, err)
		n, err := io.Copy(io.Discard, a.Body)
		must(t, errors.Join(err, a.Body.Close()))
		if a.StatusCode != 200 || n == 0 {
			t.Errorf("%s: %s", path, a.Status)
		}
		sum += int(n)
	}
	t.Logf("%d bytes all told, of %d files and views", sum, len(paths))
	if sum > 200<<10 {
		t.Errorf("%d bytes all told", sum)
	}
}
