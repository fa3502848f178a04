//go:build unix

package main

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// Neither instrument has a port: the page asks for the supply to be set and for what
// the meter shows, and says that it can't switch anything itself.
func TestPageByHand(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender")
	clear(p.work.sims) // no simulated bench
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('.orders input[value=loose]').checked = true;
		document.querySelector('[name=typed]').checked = true; document.querySelector('[name=byhand]').checked = true`))
	b.tap(".orders > button")
	amps := map[string]string{"stern light": "13.8", "cabin lamps": "19,4"}
	seen := map[string]bool{}
	last := ""
	for end := time.Now().Add(2 * patience); !seen["look"] && time.Now().Before(end); {
		kind, number := b.kind()
		if kind == "" || number == last {
			time.Sleep(50 * time.Millisecond)
			continue
		}
		last = number
		if !seen[kind] {
			b.shots(t, "byhand-"+kind)
		}
		seen[kind] = true
		switch feed := b.text("[data-region=group] h1"); {
		case kind == "number":
			b.do(chromedp.SendKeys(".ask form input", amps[feed]))
			b.tap(".ask form button")
		case b.text("[data-region=rows] .good") != "" && kind == "clip" && amps[feed] == "":
			seen["look"] = true // all is measured
		default:
			b.tap(".ask button[data-choice=done]")
		}
	}
	if !seen["supply"] || !seen["number"] {
		t.Errorf("asked: %v", seen)
	}
	b.await("#output", "you switch it yourself")
	b.tap("#stop")
	b.await("#stopped", "Switch the supply off yourself")
}
