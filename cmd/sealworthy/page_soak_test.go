//go:build unix

package main

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// A soak at the page: what it waits for stands there, in letters for two metres.
func TestPageSoak(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	p := servedPage(t, "tender")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.tap("form:has([value=soak]) button")
	b.await(".live h1", "Soak")
	b.await(".live .do", "It stays on for 4 h and is watched: each drop is noted. ")
	b.await(".count", "of Tender, the whole model, for 4 h")
	b.shots(t, "soak")
	b.tap("#stop")
	b.await(".count", "Stopped. What was measured is kept.")
}
