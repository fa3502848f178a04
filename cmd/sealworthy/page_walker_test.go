//go:build unix

package main

import (
	"context"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/load"
	"sealworthy/instruments"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/wire"
)

// walker is a maker at the page with a real bench: what stands on the page is read and touched, and what it
// asks of hands is done at the model's clips. Nothing else is called.
type walker struct {
	*browser
	t      *testing.T
	p      *pageUp
	r      *atRig
	last   string // the question that was answered last, with what it asked of hands
	on     string // the feed that the clip is on
	asked  map[string]int
	cables []wire.Listed // what is plugged in
	clock  quickClock
}

// open opens what is plugged in.
func (w *walker) open(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
	if w.r == nil {
		return nil, wire.ErrNoSuchPort
	}
	return w.r.Opener()(ctx, name, l)
}

// newWalker opens the page of an empty folder, for a maker of whom nothing is written down, with nothing plugged in.
func newWalker(t *testing.T) *walker {
	t.Helper()
	home, dir := t.TempDir(), t.TempDir()
	x := &walker{browser: newBrowser(t), t: t, asked: map[string]int{}, clock: newQuickClock(t)}
	e := env{stdin: strings.NewReader(""), stdout: outletOf(t.Output()), stderr: outletOf(t.Output()),
		getenv: func(k string) string { return map[string]string{"SEALWORTHY_HOME": home}[k] }}
	w := &pageWork{e: e, w: world{session.World{Clock: x.clock, Open: x.open}, func(any) bool { return true }},
		dir: dir, flags: benchFlags{room: noRoom}, seed: func() uint64 { return 1 },
		sims: map[string]*simulatedBuild{}, warm: time.Second, trace: 2 * time.Second,
		ports: func() ([]wire.Listed, error) { return x.cables, nil }}
	x.p = serveWork(t, w, "", func(o *page.Options) {
		o.Work, o.Clock, o.Faces = quickWork{w, x.clock}, x.clock, []session.Face{x.clock}
	})
	x.p.dir = dir
	return x
}

// builds puts the model on the bench as its plan says it is, and plugs the instruments in: what a maker does between
// the plan and the test.
func (w *walker) builds(name string) {
	w.t.Helper()
	b := mustOpen(w.t, filepath.Join(w.p.dir, name))
	cfg, err := b.readBench()
	must(w.t, err)
	bench, err := putUpAs(context.Background(), w.clock, b.plan, cfg, nil, load.Options{},
		rig.Options{Seed: 1, MemoryPorts: true})
	must(w.t, err)
	w.t.Cleanup(func() { _ = bench.Close() })
	w.r = &atRig{Bench: bench, plan: b.plan, seed: 1}
	w.cables = []wire.Listed{{Name: bench.Ports().Supply}, {Name: bench.Ports().Meter}}
}

// link touches the link or button that says so.
func (w *walker) link(says string) {
	w.t.Helper()
	w.touchNamed("main a, footer a, main button, main summary", says)
}

// touchNamed touches the one among some that is to be seen and says so.
func (w *walker) touchNamed(among, says string) {
	w.t.Helper()
	if !w.within(patience, func() bool {
		return evaluated[bool](w.browser, fmt.Sprintf(`(() => {
			const e = [...document.querySelectorAll(%q)].find((e) => e.checkVisibility() && !e.disabled &&
				e.innerText.replace(/\s+/g, ' ').trim().startsWith(%q));
			if (!e) return false;
			e.scrollIntoView({block: 'center'});
			e.removeAttribute('target'); // what opens beside it is looked at in its place
			e.click();
			return true;
		})()`, among, says))
	}) {
		w.t.Fatalf("nothing says %q:\n%s", says, w.text("body"))
	}
}

// asks answers the questions of a new plan, each with a button's words or, behind a =, with what is typed.
func (w *walker) asks(all [][2]string) {
	w.t.Helper()
	for _, x := range all {
		w.await("#question", x[0])
		w.plainly(w.t, x[0])
		before := w.text("main")
		if text, typed := strings.CutPrefix(x[1], "="); typed {
			if text != "" {
				w.do(chromedp.SendKeys("#typed", text))
			}
			w.touchNamed(".place button", "")
		} else {
			w.touchNamed(".place button", x[1])
		}
		if !w.within(patience, func() bool { now := w.text("main"); return now != "" && now != before }) {
			w.t.Fatalf("%s isn't taken:\n%s", x[1], before)
		}
	}
}

// clipOn reads which feed a clip is to go on.
var clipOn = regexp.MustCompile(`lip the plus lead to ((?:"[^"]+"(?:, | and )?)+)`)

// feeds are all that hang on the jack.
func (w *walker) feeds() (out []string) {
	for _, g := range w.r.plan.Groups {
		out = append(out, g.Name)
	}
	return out
}

// handsDo does with the clips what the page asks for; false: it asks for nothing of the kind.
func (w *walker) handsDo(says string) bool {
	w.t.Helper()
	feeds := clipOn.FindStringSubmatch(says)
	switch {
	case strings.Contains(says, "Touch the clips together, then"):
		w.r.does(w.t, "together")
		w.await(".ask .do", "Felt. Now hold them apart.")
		w.r.does(w.t, "open")
	case strings.Contains(says, "together"):
		w.r.does(w.t, "together")
	case strings.Contains(says, "resistor of"):
		w.r.does(w.t, "resistor 1000")
	case strings.Contains(says, "apart"), strings.Contains(says, "Take the clip off"):
		w.r.does(w.t, "open")
	case strings.Contains(says, "model's own"): // its jack: all of it hangs on it
		w.on = strings.Join(w.feeds(), ", ")
		w.r.does(w.t, "clip "+w.on)
	case feeds != nil:
		w.on = strings.ReplaceAll(feeds[1], `"`, "")
		w.r.does(w.t, "clip "+w.on)
	default:
		return false
	}
	return true
}

// types types a value that is asked for.
func (w *walker) types(value string) {
	w.t.Helper()
	w.do(chromedp.SendKeys(".ask form input", value))
	w.tap(".ask form button")
}

// goes does what the page asks for until its test is over. saw answers what only this test knows; it gives false for
// all else.
func (w *walker) goes(name string, saw func(kind string) bool) {
	w.t.Helper()
	w.do(chromedp.WaitVisible(".live"))
	since := time.Now()
	over := false
	w.within(8*patience, func() bool {
		if over = w.text("[data-region=closures]") != ""; over || time.Since(since) > patience {
			return true
		}
		kind, number := w.kind()
		says := w.text(".ask .do")
		if kind == "" || says == "" || number+says == w.last {
			return false
		}
		w.last, since = number+says, time.Now()
		if w.asked[name+kind]++; w.asked[name+kind] == 1 {
			w.views(name + "-" + strings.ReplaceAll(kind, " ", "-"))
		}
		if saw != nil && saw(kind) {
			return false
		}
		switch kind {
		case "look", "understood":
			w.tap(".ask button[data-choice=right]")
		case "again": // an instrument answered too late, as it may on a busy machine
			w.tap(".ask button[data-choice=redo]")
		case "touched":
			w.tap(".ask button[data-choice=nothing]")
		case "sense":
			if !w.handsDo(says) && strings.Contains(says, "which?") {
				w.touchNamed(".ask button", w.on)
			}
		default:
			felt := strings.Contains(w.text(".ask"), "felt")
			if w.handsDo(says); felt {
				return false
			}
			w.tap(".ask button[data-choice=done]")
		}
		return false
	})
	if !over {
		w.t.Fatalf("%s doesn't end:\n%s", name, w.text("main"))
	}
	w.views(name + "-over")
}

// views makes pictures of a view. What comes of a simulated bench says so, on a screen and on paper.
func (w *walker) views(name string) {
	w.t.Helper()
	marked := func() bool { return strings.Contains(w.text("body"), "SIMULATED") }
	if w.r != nil && len(w.r.Outputs()) > 1 && !w.within(patience, marked) {
		w.t.Errorf("%s isn't marked as simulated:\n%s", name, w.text("body"))
	}
	w.shots(w.t, "walk-"+name)
}

// paper looks at a page to print, beside the view that leads to it.
func (w *walker) paper(link string, want ...string) string {
	w.t.Helper()
	// The view that leads there may say the same.
	w.do(chromedp.Evaluate[chromedp.Void](`document.body.dataset.before = 'yes'`))
	w.link(link)
	w.within(patience, func() bool {
		return evaluated[bool](w.browser, `document.readyState === 'complete' && !('before' in document.body.dataset)`)
	})
	for _, x := range want {
		w.await("body", x)
	}
	w.views("paper-" + strings.ReplaceAll(strings.ToLower(link), " ", "-"))
	text := w.text("body")
	w.do(chromedp.NavigateBack())
	return text
}

// adapter answers what is asked of an adapter that is here; "": there is no resistor to load it with.
func (w *walker) adapter(kind, open, ohms, loaded string) bool {
	switch {
	case kind == "adapter":
		w.tap(`.ask button[data-choice=sent]`)
	case kind == "polarity":
		w.tap(`.ask button[data-choice="as it should be"]`)
	case kind == "open volts":
		w.types(open)
	case kind == "load ohm" && ohms == "":
		w.tap(`.ask button[data-choice="don't know"]`)
	case kind == "load ohm":
		w.types(ohms)
	case kind == "loaded volts":
		w.types(loaded)
	default:
		return false
	}
	return true
}

func mustOpen(t *testing.T, dir string) build {
	t.Helper()
	b, err := openBuild(env{stderr: outletOf(t.Output()), getenv: func(string) string { return "" }}, dir)
	must(t, err)
	return b
}
