//go:build unix

package main

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"sealworthy/capture"
)

// handsAt are hands at the page of a simulated bench.
type handsAt struct {
	*browser
	p *pageUp
}

func (h handsAt) hand(line string) {
	h.t.Helper()
	must(h.t, h.p.work.Hand(buildID(h.p.dir), line))
}

// upTo waits until an element shows a text. false: an instrument answered too late before, as it may on a busy machine,
// so that the step isn't felt for or failed: it's said on the page, and the test begins anew.
func (h handsAt) upTo(selector, text string) bool {
	h.t.Helper()
	late := func() bool {
		return strings.Contains(h.text("[data-region=log]"), "Not hands-free: ") ||
			strings.Contains(h.text(".ask"), "Not measured. The reason: ")
	}
	if !h.within(60*time.Second, func() bool { return strings.Contains(h.text(selector), text) || late() }) {
		h.t.Fatalf("%s never shows %q; the page:\n%s", selector, text, h.text("body"))
	}
	return strings.Contains(h.text(selector), text)
}

// clipsInSight: the picture of where the clips go is there with the first question, and in a fold later; what is asked,
// the first answer and STOP stay in sight at each size.
func (h handsAt) clipsInSight(t *testing.T, open bool) {
	t.Helper()
	for _, size := range [][2]int64{{360, 740}, {768, 1024}, {1024, 768}, {1920, 1080}} {
		h.do(chromedp.EmulateViewport(size[0], size[1]))
		for _, x := range []string{".ask .do", ".ask .ways button", "#stop", ".ask .clips > summary"} {
			if x == ".ask .clips > summary" && size[0] == 360 { // below the answers there
				continue
			}
			if !evaluated[bool](h.browser, fmt.Sprintf(`((e) => { const r = e.getBoundingClientRect(); `+
				`return r.height > 0 && r.top >= 0 && r.bottom <= innerHeight; })(document.querySelector(%q))`, x)) {
				t.Errorf("at %d by %d %s isn't in sight", size[0], size[1], x)
			}
		}
		if h.within(time.Second, func() bool {
			return evaluated[bool](h.browser, `((e) => e.checkVisibility() && e.naturalWidth > 0 && e.alt !== '')`+
				`(document.querySelector('.ask .clips img'))`)
		}) != open {
			t.Errorf("at %d by %d the picture of the clips is shown: %v", size[0], size[1], !open)
		}
	}
	h.do(chromedp.EmulateViewport(1024, 768))
}

// tried goes through a test up to its last feed, which draws nothing; false: anew.
func (h handsAt) tried(t *testing.T) bool {
	h.do(chromedp.Navigate("http://"+h.p.at+"/build/"+buildID(h.p.dir)), chromedp.WaitVisible(".orders"))
	h.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('input[name=hands]').checked = true`))
	h.tap(".orders button.first")
	if !h.upTo("#output", "SENSING") {
		return false
	}
	if !h.upTo(".ask .do", `Clip the plus lead to "stern light".`) {
		return false
	}
	h.clipsInSight(t, true)
	h.shots(t, "sensing")
	h.hand("resistor 330") // a wrong clip
	if !h.upTo(".ask", "fits nothing that is left: it isn't powered") || !h.upTo("#output", "OUTPUT OFF") {
		return false
	}
	h.shots(t, "fitsnone")
	h.hand("open")
	h.tap(`.ask button[data-choice=sense]`)
	if !h.upTo("#output", "SENSING") {
		return false
	}
	h.tap(`[data-hand] button[value="clip cabin lamps"]`) // the plan has the stern light first, they draw alike
	if !h.upTo(".ask", "It could be \"stern light\" or \"cabin lamps\": which?") || !h.upTo("#output", "OUTPUT OFF") {
		return false
	}
	h.shots(t, "which")
	h.tap(`.ask form[data-choice=pick] button[value="2"]`)
	if !h.upTo("[data-region=last]", "cabin lamps: in band") {
		return false
	}
	if s := h.text("[data-region=rows]"); !strings.Contains(s, "not measured") {
		t.Errorf("the stern light, too?\n%s", s)
	}
	if !h.upTo(".ask .do", "Take the clip off.") {
		return false
	}
	h.shots(t, "sense")
	h.tap(`[data-hand] button[value=open]`)
	if !h.upTo(".ask .do", `Clip the plus lead to "stern light".`) || !h.upTo("#output", "SENSING") {
		return false
	}
	h.tap(`.ask button.solder`)
	if !h.upTo("#output", "OUTPUT OFF") || !h.upTo(".ask", "you may solder") {
		return false
	}
	h.shots(t, "solder")
	h.hand("key on") // at the supply, while it's said that one may solder
	if !h.upTo(".ask", "keep the iron away") || !h.upTo("#output", "OUTPUT OFF") {
		return false
	}
	if strings.Contains(h.text(".ask"), "may solder") {
		t.Errorf("asked %s", h.text(".ask"))
	}
	h.shots(t, "switchedon")
	h.do(chromedp.WaitEnabled(".ask button[data-enter]"), chromedp.KeyEvent(kb.Enter)) // a pedal types it
	if !h.upTo(".ask", "touch") {
		return false
	}
	h.tap(`.ask button[data-choice=nothing]`)
	if !h.upTo("#output", "SENSING") {
		return false
	}
	h.tap(`[data-hand] button[value="clip stern light"]`)
	if !h.upTo(".ask .do", "Nothing felt. Clip on? Tap its group.") {
		return false
	}
	if y := evaluated[int](h.browser, "Math.round(scrollY)"); y != 0 {
		t.Errorf("that stands %d px above what is in sight", y)
	}
	h.clipsInSight(t, false)
	h.shots(t, "nothingfelt")
	h.tap(`.ask button[data-choice=done]`)
	return h.upTo(".ask .verdict", "stern light: 0 mA")
}

// Hands free, a whole test: nothing is touched but the clip, where it can be felt. The page says sensing while it feels
// for it, powers nothing that it doesn't know, takes the groups in the order of the hands, goes off to solder by one
// touch, and asks for a tap where a feed draws nothing. What to do just then is the largest.
func TestPageHandsFree(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender", "stern light=reversed LED")
	h := handsAt{b, p}
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	for tries := 1; !h.tried(t); tries++ {
		if tries == 3 {
			t.Fatalf("each time an instrument answers too late: %s", b.text("[data-region=log]"))
		}
		t.Logf("begun anew: %s", b.text("[data-region=log]"))
		b.tap("#stop")
		b.await("#output", "NO TEST")
	}
	b.shots(t, "low")
	for last := ""; b.text("[data-region=closures]") == ""; time.Sleep(50 * time.Millisecond) {
		kind, number := b.kind()
		switch {
		case kind == "" || number == last:
			continue
		case strings.Contains(b.text(".ask"), "Not measured. The reason: "):
			b.tap(`.ask button[data-choice=redo]`)
		default:
			b.answers(kind, 2)
		}
		last = number
	}
	b.await("[data-region=closures]", "hull: KEEP OPEN")
	b.await("[data-region=rows]", "0 mA")
	b.await("#output", "NO TEST")
	f := mustBeWhole(t, p.dir)
	var order []string
	for _, s := range f.Steps {
		if s.Step.Kind == capture.Power && s.Outcome == capture.Measured {
			order = append(order, s.Step.Feed)
		}
	}
	if !slices.Equal(slices.Compact(order), []string{"cabin lamps", "stern light"}) {
		t.Errorf("measured: %q", order)
	}
}
