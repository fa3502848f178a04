//go:build unix

package main

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Hands free: nothing is touched but the clip. The page says sensing while it feels for
// it, takes the groups in the order of the hands, and goes off to solder by one touch.
func TestPageHandsFree(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('input[name=hands]').checked = true`))
	b.tap(".orders button.first")
	b.await("#output", "SENSING")
	b.shots(t, "sensing")
	b.tap(`[data-hand] button[value="clip cabin lamps"]`)                     // the plan has the stern light first
	b.await(".ask", "It could be \"stern light\" or \"cabin lamps\": which?") // they draw alike
	b.await("#output", "OUTPUT OFF")
	b.shots(t, "which")
	b.tap(`.ask form[data-choice=pick] button[value="2"]`)
	b.await("[data-region=last]", "cabin lamps: in band")
	if s := b.text("[data-region=rows]"); !strings.Contains(s, "not measured") {
		t.Errorf("the stern light, too?\n%s", s)
	}
	b.tap(`[data-hand] button[value=open]`)
	b.await("#output", "SENSING")
	b.shots(t, "sense")
	b.tap(`.ask button.solder`)
	b.await("#output", "OUTPUT OFF")
	b.await(".ask", "solder")
	b.shots(t, "solder")
	b.do(chromedp.WaitEnabled(".ask button[data-enter]"), chromedp.KeyEvent(kb.Enter)) // a pedal types it
	b.await(".ask", "touch")
	b.tap("#stop")
	b.await("#stopped", "off (read back)")
}
