//go:build unix

package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
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
	const at = document.elementFromPoint(Math.min(innerWidth - 1, Math.max(0, r.x + r.width / 2)), Math.min(innerHeight - 1, Math.max(0, r.y + Math.min(r.height, 40) / 2)));
	const clear = r.bottom > 0 && r.top < innerHeight && at && (e === at || e.contains(at) || at.contains(e) || (e.labels && [...e.labels].some((l) => l.contains(at))));
	const what = e.tagName + ' ' + (e.innerText || e.name || '').slice(0, 40);
	return [e.matches(selector) ? 'here' : '', (ring ? '' : 'no ring round it ') + (clear ? '' : 'something lies over it '), what];
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
	k.t.Fatalf("%s isn't reached by Tab within %d stops: %s\nthe page:\n%s", selector, most, strings.Join(way, ", "), k.text("main"))
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
	for id, want := range map[string]string{"group": "polite", "ask": "polite", "doing": "polite", "last": "polite", "closures": "polite"} {
		if got := evaluated[string](k.browser, fmt.Sprintf(`document.querySelector('[data-region=%s]').getAttribute('aria-live')`, id)); got != want {
			t.Errorf("region %s is told %q", id, got)
		}
	}
	if got := evaluated[string](k.browser, `document.getElementById('output').getAttribute('role') + ' ' + document.getElementById('stopped').getAttribute('role')`); got != "status alert" {
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

// STOP is two stops away at most, and a plan is changed by keys as well.
func TestPageStopAndPlanByKeys(t *testing.T) {
	t.Parallel()
	k := keyed{newBrowser(t)}
	p := servedPage(t, "tender")
	k.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"), chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
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
	k.await(".unsaved", "1 not saved")
	k.tabTo("#undo", 30)
	k.press(kb.Enter)
	if !k.within(20*time.Second, func() bool { return k.text(".unsaved") == "" && k.text("h1") != "" }) {
		t.Errorf("not undone: %s", k.text(".unsaved"))
	}
}
