//go:build unix

package main

import (
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"sealworthy/cmd/sealworthy/page"
)

// chromium is Debian's browser of that name; a test that needs it runs where it is,
// and must where CI is set.
func chromium(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is missing")
		}
		t.Skip("chromium is missing")
	}
	if raceEnabled || testing.Short() {
		t.Skip("drives a browser in real time")
	}
	return path
}

// browser is a browser without a window.
type browser struct {
	t     *testing.T
	ctx   context.Context
	begun bool
}

func newBrowser(t *testing.T, more ...chromedp.ExecAllocatorOption) *browser {
	o := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(t)), chromedp.NoSandbox,
		chromedp.Flag("force-prefers-reduced-motion", true))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), append(o, more...)...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	return &browser{t: t, ctx: ctx}
}

// tab is another one of the same browser.
func (b *browser) tab() *browser {
	ctx, cancel := chromedp.NewContext(b.ctx)
	b.t.Cleanup(cancel)
	return &browser{t: b.t, ctx: ctx}
}

func (b *browser) do(what ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if !b.begun { // the first context that does something is the browser's own
		b.begun = true
		if err := chromedp.Do(b.ctx); err != nil {
			b.t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, what...); err != nil {
		b.t.Fatalf("%v\nthe page shows:\n%s", err, b.text("main"))
	}
}

// text is what an element shows; "": there is none, or it's hidden.
func (b *browser) text(selector string) string {
	return evaluated[string](b, fmt.Sprintf("((e) => e && e.checkVisibility() ? e.innerText : "+
		"'')(document.querySelector(%q))", selector))
}

// evaluated is what a script gives; where it gives nothing, the zero T.
func evaluated[T any](b *browser, script string) T {
	ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
	defer cancel()
	v, _ := chromedp.Run(ctx, chromedp.Evaluate[T](script)) // the page may just be going
	return v
}

// await waits until an element shows a text.
func (b *browser) await(selector, text string) {
	b.t.Helper()
	if !b.within(60*time.Second, func() bool { return strings.Contains(b.text(selector), text) }) {
		b.t.Fatalf("%s never shows %q; it shows:\n%s\n\nthe page:\n%s", selector, text, b.text(selector),
			b.text("body"))
	}
}

// within tells whether something comes true in time.
func (b *browser) within(d time.Duration, is func() bool) bool {
	for end := time.Now().Add(d); ; time.Sleep(40 * time.Millisecond) {
		if is() {
			return true
		}
		if time.Now().After(end) || b.ctx.Err() != nil {
			return false
		}
	}
}

// tap touches a button once it takes a touch.
func (b *browser) tap(selector string) {
	b.t.Helper()
	b.do(chromedp.WaitEnabled(selector),
		chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).scrollIntoView({block: 'center'})`,
			selector)),
		chromedp.Click(selector))
}

// kind is that of the question that is open, with its number.
func (b *browser) kind() (kind, number string) {
	got := evaluated[[]string](b,
		`(() => { const q = document.querySelector('.ask'); return q ? [q.dataset.kind, q.dataset.question] : ['', `+
			`'']; })()`)
	if len(got) != 2 {
		return "", ""
	}
	return got[0], got[1]
}

// pageUp serves the page of a build on a simulated bench, in this process, and gives
// the address that lets a browser in.
type pageUp struct {
	dir     string
	at      string
	work    *pageWork
	address func() string
	beyond  *page.Beyond           // nil: it's served on this computer alone
	device  func(page.Role) string // an address for another device
}

func servedPage(t *testing.T, plan string, faults ...string) *pageUp {
	t.Helper()
	w, first := simulatedWork(t, plan, faults...)
	return serveWork(t, w, first)
}

// simulatedWork is the work of a page on a build whose bench is simulated.
func simulatedWork(t *testing.T, plan string, faults ...string) (w *pageWork, first string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), plan)
	must(t, os.CopyFS(dir, os.DirFS(filepath.Join("testdata/plans", plan))))
	e := env{stdin: strings.NewReader(""), stdout: outletOf(t.Output()), stderr: outletOf(t.Output()),
		getenv: func(string) string { return "" }}
	b, err := openBuild(e, dir)
	must(t, err)
	w = &pageWork{e: e, w: machine(), only: dir, flags: benchFlags{room: noRoom}, seed: func() uint64 { return 1 },
		sims: map[string]*simulatedBuild{}}
	seeded, err := parseFaults(b.plan, faults, 1)
	must(t, err)
	return w, w.simulate(&simulatedBuild{dir: dir, faults: seeded, seed: 1})
}

// asShipped serves a page as the program does: one that is silent for a second isn't seen.
// On a busy machine a browser is, so that what isn't about it waits longer.
func asShipped(o *page.Options) { o.MissedAfter = 0 }

func serveWork(t *testing.T, w *pageWork, first string, with ...func(*page.Options)) *pageUp {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	at := l.Addr().String()
	o := page.Options{Work: w, Plans: w, Now: time.Now, Hosts: []string{at}, First: first, MissedAfter: patience}
	for _, f := range with {
		f(&o)
	}
	s, err := page.New(ctx, o)
	must(t, err)
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return &pageUp{dir: w.only, at: at, work: w, beyond: o.Beyond, device: s.Address,
		address: func() string { return "http://" + at + page.Entry(s.Code()) }}
}

// A whole test with a fault hidden in it, by touches alone: the page shows the states,
// asks, takes what is seen, and says what keeps the closure open. It's loaded again in
// the middle and shows the same.
func TestPageWholeTest(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender", "cabin lamps=open branch")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.shots(t, "build")
	b.tap(".orders button.first")
	b.await("#output", "OUTPUT ON")
	b.await("[data-region=draw]", "expected")
	b.shots(t, "reading")
	group := b.text("[data-region=group] h1")
	b.do(chromedp.Reload(), chromedp.WaitVisible(".live"))
	if !b.within(patience, func() bool {
		return b.text("[data-region=group] h1") == group || strings.Contains(b.text("[data-region=last]"), group)
	}) {
		t.Errorf("after it was loaded again it shows %q, before %q", b.text("main"), group)
	}
	seen := map[string]int{}
	last := ""
	for b.text("[data-region=closures]") == "" {
		kind, number := b.kind()
		if number == last {
			time.Sleep(50 * time.Millisecond)
			continue
		}
		if kind == "" {
			continue
		}
		last = number
		if seen[kind]++; seen[kind] == 1 {
			b.shots(t, kind)
		}
		b.answers(kind, seen[kind])
	}
	b.await("[data-region=closures]", "KEEP OPEN")
	b.await("[data-region=closures]", "SIMULATED")
	b.await("[data-region=rows]", "low")
	b.await("#output", "NO TEST")
	b.shots(t, "over")
	if seen["look"] == 0 || seen["again"] == 0 || seen["touched"] == 0 {
		t.Errorf("asked: %v", seen)
	}
	b.tap("a.button") // go on with it
	b.await("main", "Past tests")
	b.shots(t, "past")
	b.do(chromedp.Click(`form:has([value=accept]) input[value="cabin lamps"]`),
		chromedp.SendKeys(`form:has([value=accept]) input[name=reason]`, "shown dark"))
	b.tap(`form:has([value=accept]) button`)
	b.await("#said", "Accepted as it is: cabin lamps. Why: shown dark")
	b.shots(t, "said")
	b.tap("#said button")
	if !b.within(patience, func() bool { s := b.text("main"); return s != "" && !strings.Contains(s, "shown dark") }) {
		t.Errorf("it isn't taken back:\n%s", b.text("#said"))
	}
	b.do(chromedp.Navigate("http://" + p.at + "/build/" + buildID(p.dir) + "/sheet/test"))
	b.await("body", "cabin lamps")
	b.do(chromedp.Navigate("http://" + p.at + "/"))
	b.await("main", "Tender")
	b.shots(t, "home")
	f := mustBeWhole(t, p.dir)
	looked := ""
	for _, s := range f.Steps {
		if s.Seen != "" {
			looked = s.Seen
		}
	}
	if !strings.Contains(looked, "stern light: all right, 1 lit") || !strings.Contains(looked, "cabin lamps: 1 dark") {
		t.Errorf("seen: %q", looked)
	}
}

// answers answers a question as a maker does whose cabin lamps have a dark one.
func (b *browser) answers(kind string, nth int) {
	b.t.Helper()
	switch kind {
	case "look":
		// They may be behind something that is closed yet.
		if !evaluated[bool](b, `[...document.querySelectorAll('.ask .light legend')].some((l) =>
			l.textContent.trim() === 'cabin lamps')`) {
			b.tap(`.ask button[data-choice=right]`)
			return
		}
		b.do(chromedp.Evaluate[chromedp.Void](
			`document.querySelectorAll('.ask details').forEach((d) => { d.open = true; })`))
		b.do(chromedp.Evaluate[chromedp.Void](`(() => {
			for (const f of document.querySelectorAll('.ask .light')) {
				const dark = f.querySelector('legend').innerText === 'cabin lamps';
				f.querySelector(dark ? 'input[value=dark]' : 'input[value="all right"]').click();
				f.querySelector('input[type=number]').value = '1';
			}
		})()`))
		b.tap(`.ask form[data-lights] > button`)
	case "understood":
		b.tap(`.ask button[data-choice=right]`)
	case "touched":
		b.tap(`.ask button[data-choice=nothing]`)
	case "again":
		if nth == 1 {
			b.tap(`.ask button[data-choice=redo]`)
			return
		}
		b.tap(`.ask button[data-choice=next]`)
	default:
		b.tap(`.ask button[data-choice=done]`)
	}
}

// shots holds a view against axe, and makes pictures of it at three sizes, where SEALWORTHY_SHOTS names a folder
// for them: they're to be looked at.
func (b *browser) shots(t *testing.T, name string) {
	t.Helper()
	b.accessible(t, name)
	b.fits(t, name)
	b.largeEnough(t, name)
	b.plainly(t, name)
	dir := os.Getenv("SEALWORTHY_SHOTS")
	if dir == "" {
		return
	}
	must(t, makeFolder(dir))
	for _, wide := range []int64{360, 1024, 1920} {
		high := map[int64]int64{360: 740, 1024: 768, 1920: 1080}[wide]
		b.do(chromedp.EmulateViewport(wide, high), chromedp.Sleep(150*time.Millisecond))
		src, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
		must(t, err)
		must(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.png", name, wide)), src, 0o644))
	}
	b.do(chromedp.EmulateViewport(1024, 768))
}
