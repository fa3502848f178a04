//go:build unix

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// A plan is changed by pointing: what it comes to is shown while one types, several
// changes are written as one, every other byte stays. When the file was changed
// meanwhile nothing is written and both are shown.
func TestPagePlan(t *testing.T) {
	b := newBrowser(t)
	p := servedPage(t, "tender")
	file := filepath.Join(p.dir, planFile)
	was, err := os.ReadFile(file)
	must(t, err)
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	plan := "http://" + p.at + "/build/" + buildID(p.dir) + "/plan"
	b.do(chromedp.Navigate(plan), chromedp.WaitVisible("#sketch"))
	b.await(".tree", "cabin lamps")
	b.shots(t, "plan")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll('.place').forEach((d) => { d.open = true; })`))
	number := `[name='f:group."cabin lamps".lights[0].count']`
	b.types(number, "3")
	b.await("#tried .draws li:nth-child(2)", "28.")
	b.types(number, "three")
	b.await("#tried .refused", "count")
	b.types(number, "3")
	b.types(`[name="new.name"]`, "mast lamp")
	b.do(chromedp.SetValue(`[name="new.on"]`, "joint main"))
	b.tap(`[data-for="new.part"]`)
	b.do(chromedp.WaitVisible("#cards"))
	b.shots(t, "cards")
	if over := evaluated[string](b, `(() => { const r = document.getElementById('stop').getBoundingClientRect();
		return document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2).id; })()`); over != "stop" {
		t.Errorf("over STOP lies %q", over)
	}
	b.tap(`.card[value="warm white 3 mm"]`)
	if !b.within(patience, func() bool { return strings.Contains(b.text("#tried .draws"), "mast lamp") }) {
		t.Fatalf("%s", b.text("#tried"))
	}
	b.shots(t, "plan-changed")
	b.tap(`button[name=save]`)
	if !b.within(patience, func() bool { now, _ := os.ReadFile(file); return string(now) != string(was) }) {
		t.Fatalf("nothing is written: %s", b.text("body"))
	}
	src, err := os.ReadFile(file)
	must(t, err)
	now := string(src)
	want := strings.Replace(string(was), "count = 2 } ]", "count = 3 } ]", 1)
	added, ok := strings.CutPrefix(now, want)
	if !ok || !strings.Contains(added, "[[group]]\nname = \"mast lamp\"\n") || !strings.Contains(added, `part = "warm white 3 mm"`) {
		t.Errorf("it holds now\n%s\nwant\n%s", now, want)
	}
	b.do(chromedp.WaitReady(`[name='f:group."mast lamp"']`))
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll('.place').forEach((d) => { d.open = true; })`))
	b.types(`[name='f:group."stern light".see']`, "a red one")
	must(t, os.WriteFile(file, []byte(now+"# by an editor\n"), 0o644))
	b.tap(`button[name=save]`)
	b.await("main", "Nothing was written")
	b.await("main .both", "# by an editor")
	b.await("main .both", `see = "a red one"`)
	b.shots(t, "plan-both")
	if now2, _ := os.ReadFile(file); string(now2) != now+"# by an editor\n" {
		t.Errorf("it holds\n%s", now2)
	}
}

// types replaces what stands in a field.
func (b *browser) types(selector, text string) {
	b.t.Helper()
	b.do(chromedp.WaitVisible(selector), chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).value = ''`, selector)),
		chromedp.SendKeys(selector, text))
}
