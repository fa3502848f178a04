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
	number := `[name="g1.number"]`
	b.types(number, "3")
	b.await("#tried .draws li:nth-child(2)", "28.")
	b.types(number, "three")
	b.await("#tried", `"three" is no number of pieces`)
	b.types(number, "3")
	b.types(`[name="g2.name"]`, "mast lamp")
	b.await("#tried", "mast lamp: no part is chosen yet")
	b.tap(`[data-for="g2.part"]`)
	b.do(chromedp.WaitVisible("#cards"))
	b.shots(t, "cards")
	if over := evaluated[string](b, `(() => { const r = document.getElementById('stop').getBoundingClientRect();
		return document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2).id; })()`); over != "stop" {
		t.Errorf("over STOP lies %q", over)
	}
	b.tap(`.card[value="warm white 3 mm"]`)
	b.types(`[name="g2.ohms"]`, "10")
	b.await("#tried", "WRONG")
	b.types(`[name="g2.ohms"]`, "150")
	if !b.within(patience, func() bool {
		s := b.text("#tried")
		return strings.Contains(s, "mast lamp") && !strings.Contains(s, "WRONG")
	}) {
		t.Fatalf("%s", b.text("#tried"))
	}
	b.shots(t, "plan-changed")
	b.tap(`button[name=save]`)
	if !b.within(patience, func() bool { now, _ := os.ReadFile(file); return string(now) != string(was) }) {
		t.Fatalf("nothing is written: %s", b.text("body"))
	}
	now, err := os.ReadFile(file)
	must(t, err)
	want := strings.Replace(string(was), "count = 2 } ]", "count = 3 } ]", 1) +
		"\n[[group]]\nname = \"mast lamp\"\nclosure = \"hull\"\njoint = \"main\"\nlights = [{ part = \"warm white 3 mm\", ohms = 150 }]\n"
	if string(now) != want {
		t.Errorf("it holds now\n%s\nwant\n%s", now, want)
	}
	b.do(chromedp.WaitVisible(`[name="g3.name"]`))
	b.types(`[name="g0.see"]`, "a red one")
	must(t, os.WriteFile(file, []byte(want+"# by an editor\n"), 0o644))
	b.tap(`button[name=save]`)
	b.await("main", "Nothing was written")
	b.await("main .both", "# by an editor")
	b.await("main .both", `see = "a red one"`)
	b.shots(t, "plan-both")
	if now, _ := os.ReadFile(file); string(now) != want+"# by an editor\n" {
		t.Errorf("it holds\n%s", now)
	}
}

// types replaces what stands in a field.
func (b *browser) types(selector, text string) {
	b.t.Helper()
	b.do(chromedp.WaitVisible(selector), chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector(%q).value = ''`, selector)),
		chromedp.SendKeys(selector, text))
}
