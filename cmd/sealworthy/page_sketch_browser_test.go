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

// servedPlan serves the page of a plan of testdata's, without a bench.
func servedPlan(t *testing.T, src []byte) *pageUp {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "brackwater")
	must(t, os.Mkdir(dir, 0o755))
	must(t, os.WriteFile(filepath.Join(dir, planFile), src, 0o644))
	e := env{stdin: strings.NewReader(""), stdout: outletOf(t.Output()), stderr: outletOf(t.Output()),
		getenv: func(string) string { return "" }}
	w := &pageWork{e: e, w: machine(), only: dir, flags: benchFlags{room: noRoom}, seed: func() uint64 { return 1 },
		sims: map[string]*simulatedBuild{}}
	return serveWork(t, w, buildID(dir))
}

func (p *pageUp) plan(t *testing.T) string {
	t.Helper()
	src, err := os.ReadFile(filepath.Join(p.dir, planFile))
	must(t, err)
	return string(src)
}

// fill types into a field of the form of a place.
func (b *browser) fill(path, text string) {
	b.t.Helper()
	field := `[name='f ` + path + `']`
	if !b.within(patience, func() bool {
		return evaluated[bool](b,
			fmt.Sprintf("!!document.querySelector(%q)", field))
	}) {
		b.t.Fatalf("there is no field %s:\n%s", path, b.text("main"))
	}
	b.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.querySelector(%q).select()", field)),
		chromedp.SendKeys(field, text))
}

// touch touches something, wherever it lies on the page.
func (b *browser) touch(selector string) {
	b.t.Helper()
	if !b.within(patience, func() bool {
		return evaluated[bool](b, fmt.Sprintf("(() => { const e = document.querySelector(%q); if (e) e.click(); "+
			"return !!e; })()", selector))
	}) {
		b.t.Fatalf("there is no %s:\n%s", selector, b.text("main"))
	}
}

// gone waits until there is no such element.
func (b *browser) gone(selector string) {
	b.t.Helper()
	if !b.within(patience, func() bool {
		return evaluated[string](b, fmt.Sprintf("String(!document.querySelector(%q))", selector)) == "true"
	}) {
		b.t.Fatalf("%s stays:\n%s", selector, b.text("main"))
	}
}

// A plan is changed by pointing: what comes of it changes as it's typed, what can't be is
// refused in the plan's own words, it can be taken back, and it's saved without a change
// to any other byte.
func TestPagePlanIsChanged(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	src, err := os.ReadFile("../../testdata/brackwater/plan.toml")
	must(t, err)
	p := servedPlan(t, src)
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.do(chromedp.Navigate("http://"+p.at+"/build/"+buildID(p.dir)+"/plan"), chromedp.WaitVisible(".tree"))
	b.shots(t, "plan")
	b.touch(`.tree .at-group > a[href*='cabin%2Bwindows'], .tree .at-group > a[href*='cabin+windows']`)
	b.await("#place h2", "cabin windows")
	if n := evaluated[int](b, "document.documentElement.outerHTML.length"); n == 0 || n > 150<<10 {
		t.Errorf("the page weighs %d bytes", n)
	}
	b.gone("[data-reckoned]") // under load the figures come after the page
	was := b.text(`[data-figures='group:cabin windows'] .amps`)
	b.fill(`group."cabin windows".lights[0].segments`, "60")
	if !b.within(patience, func() bool { return b.text(`[data-figures='group:cabin windows'] .amps`) != was }) {
		t.Fatalf("still %q", was)
	}
	b.shots(t, "plantyped")
	b.fill(`group."cabin windows".lights[0].segments`, "many")
	b.await("[data-sketch=answer]", "isn't understood: a whole number, as 6")
	b.shots(t, "planrefused")
	b.fill(`group."cabin windows".lights[0].segments`, "5")
	b.touch(`#place button.first`)
	b.await(".unsaved", "segments 5")
	for _, size := range [][2]int64{{360, 740}, {1024, 768}, {1920, 1080}} { // wherever the page stands
		b.do(chromedp.EmulateViewport(size[0], size[1]), chromedp.Evaluate[chromedp.Void](
			`document.getElementById('place').scrollIntoView()`))
		if !evaluated[bool](b, `((r) => r.top >= 0 && r.bottom <= innerHeight)(`+
			`document.getElementById('save').getBoundingClientRect())`) {
			t.Errorf("at %d by %d nobody sees how it's saved", size[0], size[1])
		}
	}
	if p.plan(t) != string(src) {
		t.Error("it was written before it was saved")
	}
	b.touch("#undo")
	b.gone(".unsaved")
	b.fill(`group."cabin windows"`, "cabin lights")
	b.touch(`#place button.first`)
	b.await(".unsaved", "cabin lights")
	b.shots(t, "plandraft")
	b.do(chromedp.Evaluate[chromedp.Void](
		`document.querySelectorAll('.place details').forEach((d) => { d.open = true; })`))
	b.shots(t, "plancards")
	// What is typed is taken in by whatever is done next: it's saved with the rest, and not lost for another place.
	b.fill(`group."cabin lights".lights[0].segments`, "5")
	b.touch("#save")
	b.gone(".unsaved")
	want := strings.Replace(strings.Replace(string(src), `name = "cabin windows"`, `name = "cabin lights"`, 1),
		`"window strip", segments = 6`, `"window strip", segments = 5`, 1)
	if got := p.plan(t); got != want {
		t.Errorf("saved:\n%s", got)
	}
	// An editor saves meanwhile: both versions stand side by side, and nothing is written over.
	b.fill(`group."cabin lights".lights[0].segments`, "4")
	b.touch(`.tree .at-jack > a`)
	b.await("#place h2", "Jack")
	b.await(".unsaved", "segments 4")
	edited := strings.Replace(want, `segments = 5`, `segments = 7`, 1)
	must(t, os.WriteFile(filepath.Join(p.dir, "edited"), []byte(edited), 0o644))
	must(t, os.Rename(filepath.Join(p.dir, "edited"), filepath.Join(p.dir, "plan.toml")))
	b.touch("#save")
	b.await(".parted .file", "segments = 7")
	b.await(".parted .yours", "segments = 4")
	b.shots(t, "planparted")
	if got := p.plan(t); got != edited {
		t.Errorf("after it was changed in an editor:\n%s", got)
	}
	b.do(chromedp.Navigate("http://" + p.at + "/build/" + buildID(p.dir) + "/buy"))
	b.await("h1", "what to buy")
	b.shots(t, "buy")
}
