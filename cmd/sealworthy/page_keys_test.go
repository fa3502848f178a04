//go:build unix

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"sealworthy/cmd/sealworthy/tones"
)

// keys is somebody at the page who has no pointer.
type keyed struct{ *browser }

// focused describes what has the focus: what it matches, whether it's seen to have it, and
// whether anything lies over it (WCAG 2.2: 2.4.7, 2.4.11).
const focused = `((selector) => {
	const e = document.activeElement;
	if (!e || e === document.body) return ['', 'nothing has the focus', ''];
	const s = getComputedStyle(e), r = e.getBoundingClientRect();
	const ring = s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2;
	const within = (x, most) => Math.min(most - 1, Math.max(0, x));
	const at = document.elementFromPoint(within(r.x + r.width / 2, innerWidth),
		within(r.y + Math.min(r.height, 40) / 2, innerHeight));
	const clear = r.bottom > 0 && r.top < innerHeight && at &&
		(e === at || e.contains(at) || at.contains(e) || (e.labels && [...e.labels].some((l) => l.contains(at))));
	const what = e.tagName + ' ' + (e.innerText || e.name || '').slice(0, 40);
	const wrong = (ring ? '' : 'no ring round it ') + (clear ? '' : 'something lies over it ');
	return [e.matches(selector) ? 'here' : '', wrong, what];
})(%q)`

// press presses a key.
func (k keyed) press(key string) { k.do(chromedp.KeyEvent(key)) }

// tabTo goes to what a selector names with the Tab key alone, and holds each stop on the
// way to what focus must be. most is how many stops it may take.
func (k keyed) tabTo(selector string, most int) {
	k.t.Helper()
	var way []string
	for range most {
		k.press(kb.Tab)
		got := evaluated[[]string](k.browser, fmt.Sprintf(focused, selector))
		if len(got) != 3 {
			continue
		}
		if got[1] != "" && got[1] != "nothing has the focus" {
			k.t.Errorf("%s: %s", got[2], got[1])
		}
		if way = append(way, got[2]); got[0] != "" {
			return
		}
	}
	k.t.Fatalf("%s isn't reached by Tab within %d stops: %s\nthe page:\n%s", selector, most, strings.Join(way, ", "),
		k.text("main"))
}

// From the open page to READY by keys alone, with a choice by arrow; each question takes
// the focus, and what changes by itself is told to who can't see it.
func TestPageByKeysAlone(t *testing.T) {
	t.Parallel()
	k := keyed{newBrowser(t)}
	p := servedPage(t, "tender")
	k.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	k.press(kb.Tab)
	if got := k.text(":focus"); got != "To the page" {
		t.Errorf("the first stop is %q", got)
	}
	if got := recordedTones(k.browser); got != "" { // the first key has unlocked them
		t.Error(got)
	}
	k.press(kb.Enter)
	k.tabTo(`.orders input[name=stage]`, 8)
	k.press(kb.ArrowDown)
	if got := evaluated[string](k.browser, `document.activeElement.value`); got != "loose" {
		t.Errorf("the arrow chose %q", got)
	}
	k.press(kb.ArrowUp)
	k.tabTo(`.orders button.first`, 12)
	k.press(kb.Enter)
	k.await("#output", "OUTPUT")
	for id, want := range map[string]string{"group": "polite", "ask": "polite", "doing": "polite", "last": "polite",
		"closures": "polite"} {
		if got := evaluated[string](k.browser,
			fmt.Sprintf(`document.querySelector('[data-region=%s]').getAttribute('aria-live')`, id)); got != want {
			t.Errorf("region %s is told %q", id, got)
		}
	}
	got := evaluated[string](k.browser,
		`['output', 'stopped'].map((id) => document.getElementById(id).getAttribute('role')).join(' ')`)
	if got != "status alert" {
		t.Errorf("output and STOP are %q", got)
	}
	if n := evaluated[int](k.browser, `document.getAnimations().length`); n != 0 {
		t.Errorf("%d things move for who wants no motion", n)
	}
	last, asked := "", 0
	for k.text("[data-region=closures]") == "" {
		kind, number := k.kind()
		if number == last || kind == "" {
			time.Sleep(50 * time.Millisecond)
			continue
		}
		last = number
		choice := map[string]string{"look": "right", "touched": "nothing", "understood": "right"}[kind]
		if choice == "" {
			choice = "done"
		}
		if kind == "look" { // a pedal, or a key that was meant for something else, passes none
			k.do(chromedp.WaitEnabled(`.ask button[data-choice=right]`),
				chromedp.Evaluate[chromedp.Void](`document.querySelector('.ask').focus()`))
			k.press(kb.Enter)
			if k.within(time.Second, func() bool { _, n := k.kind(); return n != number }) {
				t.Error("Enter alone passed a look")
			}
		}
		selector := fmt.Sprintf(`.ask button[data-choice=%s]`, choice)
		k.do(chromedp.WaitEnabled(selector))
		k.tabTo(selector, 10)
		if asked++; asked > 1 && evaluated[int](k.browser, `scrollY`) > 400 {
			t.Error("the question is scrolled away")
		}
		k.press(kb.Enter)
		if !k.within(10*time.Second, func() bool {
			_, n := k.kind()
			return n != number || k.text("[data-region=closures]") != ""
		}) {
			t.Fatalf("Enter on %s answers nothing: %s", selector, k.text(".ask"))
		}
	}
	k.await("[data-region=closures]", "READY")
	if asked == 0 {
		t.Error("nothing was asked")
	}
	k.tabTo(`[data-region=closures] a.button`, 30)
	k.press(kb.Enter)
	k.await("main", "Past tests")
}

// recordedTones says which of the tones a browser can't play; "": it can play all.
func recordedTones(b *browser) string {
	names, err := json.Marshal(tones.Names())
	must(b.t, err)
	ctx, cancel := context.WithTimeout(b.ctx, 20*time.Second)
	defer cancel()
	got, err := chromedp.Run(ctx, chromedp.Evaluate[string](fmt.Sprintf(
		`Promise.all(%s.map((n) => load(n).then((b) => (b && b.duration > .05 && b.duration < 2 ? '' : n))))
			.then((bad) => bad.filter((n) => n).map((n) => n + " can't be played").join('; '))`, names),
		chromedp.EvalAwaitPromise))
	must(b.t, err)
	return got
}

// STOP is two stops away at most, and a plan is changed by keys as well.
func TestPageStopAndPlanByKeys(t *testing.T) {
	t.Parallel()
	k := keyed{newBrowser(t)}
	p := servedPage(t, "tender")
	k.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"),
		chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
	k.tabTo("#stop", 2)
	k.press(kb.Enter)
	k.await("#stopped", "No test is under way")
	k.do(chromedp.Navigate("http://"+p.at+"/build/"+buildID(p.dir)+"/plan"), chromedp.WaitVisible(".tree"))
	k.tabTo(`.tree .at-group > a`, 30)
	k.press(kb.Enter)
	k.await("#place h2", "Group")
	k.tabTo(`#place input[name$=".see"]`, 60)
	k.do(chromedp.Evaluate[chromedp.Void](`document.activeElement.select()`))
	k.press("two bright ones")
	k.tabTo(`#place form > button.first`, 12)
	k.press(kb.Enter)
	k.await(".unsaved", "1 change, not saved")
	k.tabTo("#undo", 30)
	k.press(kb.Enter)
	if !k.within(20*time.Second, func() bool { return k.text(".unsaved") == "" && k.text("h1") != "" }) {
		t.Errorf("not undone: %s", k.text(".unsaved"))
	}
}

// fits: nothing of a view lies beside a window, from a telephone's to a large one.
func (b *browser) fits(t *testing.T, name string) {
	t.Helper()
	for _, wide := range []int64{360, 390, 600, 768, 1024, 1440, 1920} {
		b.do(chromedp.EmulateViewport(wide, 740))
		got := evaluated[[]string](b, tooWide)
		got = append(got, evaluated[[]string](b, brokenWords)...)
		got = append(got, evaluated[[]string](b, stopMoved)...)
		if len(got) > 0 {
			t.Errorf("%s at %d px: %s", name, wide, strings.Join(got, "; "))
		}
	}
	b.do(chromedp.EmulateViewport(1024, 768))
}

// stopMoved says where STOP is, where it isn't in the place that it has on every page. A sheet to print has none.
const stopMoved = `(() => {
	const e = document.getElementById('stop');
	if (!e || !document.querySelector('header .top')) return [];
	const r = e.getBoundingClientRect(), wide = document.documentElement.clientWidth;
	const right = (wide + Math.min(1400, wide)) / 2 - Math.min(32, Math.max(12, .02 * innerWidth));
	const off = Math.abs(r.top - 6) > 1 || Math.abs(r.right - right) > 2 || getComputedStyle(e).visibility !== 'visible';
	return off ? ['STOP is at ' + r.right + ', ' + r.top + ' and belongs at ' + right + ', 6'] : [];
})()`

// brokenWords lists words of ordinary length that are parted in two lines, where they head or do something.
const brokenWords = `(() => {
	const out = [], r = document.createRange();
	for (const e of document.querySelectorAll('th, h1, h2, h3, h4, legend, summary, button, .button')) {
		if (!e.checkVisibility()) continue;
		const walk = document.createTreeWalker(e, NodeFilter.SHOW_TEXT);
		for (let n; (n = walk.nextNode());) {
			for (const m of n.data.matchAll(/[^\s-]+/g)) {
				if (m[0].length > 12) continue;
				r.setStart(n, m.index);
				r.setEnd(n, m.index + m[0].length);
				if (new Set([...r.getClientRects()].map((x) => Math.round(x.top))).size > 1) out.push('"' + m[0] + '" is parted');
			}
		}
	}
	return out.slice(0, 4);
})()`

// tooWide lists what lies beside the window, and can't be scrolled to within something.
const tooWide = `(() => {
	const scrolls = (e) => e && e !== document.body &&
		(['auto', 'scroll'].includes(getComputedStyle(e).overflowX) || scrolls(e.parentElement));
	const right = (e) => Math.round(e.getBoundingClientRect().right);
	const wide = document.documentElement.clientWidth;
	if (document.documentElement.scrollWidth <= wide) return [];
	const out = [...document.querySelectorAll('body *')]
		.filter((e) => e.checkVisibility() && right(e) > wide + 1 && !scrolls(e)).slice(0, 4)
		.map((e) => [e.tagName, e.className, (e.textContent || '').trim().slice(0, 40), 'up to', right(e)].join(' '));
	const lines = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), r = document.createRange();
	for (let n; out.length < 4 && (n = lines.nextNode());) {
		r.selectNodeContents(n);
		const to = Math.max(0, ...[...r.getClientRects()].map((x) => x.right));
		if (to > wide && !scrolls(n.parentElement)) out.push('"' + n.data.trim().slice(0, 40) + '" up to ' + to);
	}
	return out.length > 0 ? out : ['something goes up to ' + document.documentElement.scrollWidth];
})()`

// The sheet is read on a telephone: each row is a block, with its cause whole.
func TestPageSheetOnATelephone(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender", "cabin lamps=open branch")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.tap(".orders button.first")
	seen := map[string]int{}
	for last := ""; b.text("[data-region=closures]") == ""; {
		kind, number := b.kind()
		if number == last || kind == "" {
			time.Sleep(50 * time.Millisecond)
			continue
		}
		last = number
		seen[kind]++
		b.answers(kind, seen[kind]+1)
	}
	b.do(chromedp.Navigate("http://" + p.at + "/build/" + buildID(p.dir) + "/sheet/test"))
	b.await("body", "cabin lamps")
	b.shots(t, "sheet")
	b.do(chromedp.EmulateViewport(390, 844))
	cause := evaluated[string](b, `(() => {
		const td = [...document.querySelectorAll('td')].find((e) => e.innerText.includes('is dark'));
		if (!td) return 'no cause';
		const r = td.getBoundingClientRect();
		return r.left >= 0 && r.right <= 390 && r.width > 250 ? '' : 'the cause lies from ' + r.left + ' to ' + r.right;
	})()`)
	if cause != "" {
		t.Error(cause)
	}
	if !strings.Contains(evaluated[string](b,
		`getComputedStyle(document.querySelector('td[data-is=measured]'), '::before').content`), "measured") {
		t.Error("a measured value isn't called so")
	}
}

// A new build is asked for on the page, by keys: what is typed, what is chosen, one question
// back; then its plan is there. What a joint holds is added to it.
//
// What was typed isn't taken for the first choice: each has a form of its own.
func TestPageAsksForABuild(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	e := quiet()
	dir := t.TempDir()
	w := &pageWork{e: e, w: machine(), dir: dir, flags: benchFlags{room: noRoom}, seed: func() uint64 { return 1 },
		sims: map[string]*simulatedBuild{}}
	p := serveWork(t, w, "")
	k := keyed{b}
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible("input[name=name]"))
	b.shots(t, "homenew")
	k.tabTo("input[name=name]", 10)
	k.press("Gig")
	k.press(kb.Enter) // the first way: to be asked
	b.await("h2", "What feeds the model?")
	b.shots(t, "asked")
	k.tabTo(`button[name=answer][value="1"]`, 10)
	k.press(kb.Enter)
	answer := func(question, typed string) {
		t.Helper()
		b.await("h2", question)
		b.within(10*time.Second, func() bool { // the field gets the focus a moment after it's there
			return evaluated[bool](b, `document.readyState === 'complete' && document.activeElement.name === 'typed'`)
		})
		k.press(typed)
		k.press(kb.Enter)
	}
	answer("How many volts?", "much")
	b.await(".refused", "isn't understood")
	b.shots(t, "askedrefused")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('input[name=typed]').select()`))
	answer("How many volts?", "12")
	answer("How many amperes", "1.5")
	answer("What is glued shut", "")
	b.await("h2", "Solder points")
	k.tabTo(`form[action$='/back'] button`, 10)
	k.press(kb.Enter)
	answer("What is glued shut", "hull")
	answer("Solder points", "keel")
	answer("its name", "bow lamp")
	b.await("h2", "bow lamp: What is it?")
	k.tabTo(`button[name=answer][value="2"]`, 10)
	k.press(kb.Enter)
	b.await("h2", "Which LED with its resistor?")
	b.shots(t, "askedpart")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('input[name=typed]').focus()`))
	k.press("smd red 12 V")
	k.press(kb.Enter)
	answer("How many?", "2")
	b.await(".saidof", "all lit")
	b.shots(t, "askedsaid")
	b.do(chromedp.Navigate("http://" + p.at + "/"))
	b.await("main", "Go on with the questions of Gig")
	b.tap(`a[href^='/new/']`)
	b.await("h2", "What feeds it?")
	b.within(10*time.Second, func() bool { return evaluated[bool](b, `document.readyState === 'complete'`) })
	for range 6 {
		if b.text("h1") == "Gig: the plan" {
			break
		}
		was := b.text("h2")
		if b.text("input[name=typed]") != "" || evaluated[bool](b, `!!document.querySelector('input[name=typed]')`) {
			b.tap(`form.line[action$='/answer'] button`)
		} else {
			b.tap(`form[action$='/answer'] button[name=answer]`)
		}
		b.within(10*time.Second, func() bool {
			return b.text("h2") != was && b.text("h2") != "" && evaluated[bool](b, `document.readyState === 'complete'`)
		})
	}
	b.await("h1", "Gig: the plan")
	b.await(".tree", "the 2 pieces of smd red 12 V")
	b.do(chromedp.Navigate("http://" + p.at + "/build/" + buildID(dir+"/Gig") + "/plan?at=joint:keel#place"))
	b.await("#place h2", "keel")
	b.do(chromedp.Evaluate[chromedp.Void](
		`document.querySelectorAll('details.add').forEach((d) => { d.open = d.innerText.includes('fuse'); })`))
	b.shots(t, "holds")
	b.tap(`#place input[name="i part"][value="resettable fuse"]`)
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('input[name="i amps"]').focus()`))
	k.press("750 mA")
	k.press(kb.Enter)
	b.await(".unsaved", "1 change, not saved")
	b.await("#place", "Resettable fuse 0.75 A")
	b.shots(t, "held")
	b.tap("#undo")
	b.await("h1", "Gig: the plan")
	if !b.within(10*time.Second, func() bool { return b.text(".unsaved") == "" }) {
		t.Error("not undone")
	}
	b.otherName(t, p, "Gig")
	b.brokenPlan(t, p, filepath.Join(dir, "Gig"))
}

// otherName: a name that is a build's already is answered with one that a touch takes.
func (b *browser) otherName(t *testing.T, p *pageUp, taken string) {
	t.Helper()
	b.do(chromedp.Navigate("http://"+p.at+"/"), chromedp.WaitVisible("input[name=name]"),
		chromedp.SendKeys("input[name=name]", taken))
	b.tap("button[name=ask]")
	b.await("h1", "It needs another name")
	b.await("main", `"`+taken+`" is that of a build already.`)
	b.shots(t, "named")
	b.tap("button[name=ask]")
	b.await("h1", taken+" 2: a new build")
}

// brokenPlan: of a plan that can't be read it's said in which line, and what to do.
func (b *browser) brokenPlan(t *testing.T, p *pageUp, dir string) {
	t.Helper()
	src, err := os.ReadFile(filepath.Join(dir, planFile))
	must(t, err)
	must(t, os.WriteFile(filepath.Join(dir, planFile), append(src, "\n[[group]]\nname = 7\n"...), 0o600))
	b.do(chromedp.Navigate("http://" + p.at + "/"))
	b.await(".builds", "Its plan can't be read")
	b.shots(t, "homebroken")
	b.tap(".builds li:has(.refused) a")
	b.await("h1", "The plan can't be read")
	b.await(".wronglines", fmt.Sprintf("Line %d.", strings.Count(string(src), "\n")+3))
	b.shots(t, "broken")
}
