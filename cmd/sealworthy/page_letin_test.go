//go:build unix

package main

import (
	"net"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"sealworthy/cmd/sealworthy/identity"
	"sealworthy/cmd/sealworthy/page"
)

// A tablet is let in by two touches on the bench's own page, takes the tests over, and is cut off by one: what it
// showed isn't known there any more.
func TestPageLetsATabletIn(t *testing.T) {
	t.Parallel()
	id, _, err := identity.New(time.Now(), []string{"127.0.0.1"})
	must(t, err)
	var b *page.Beyond
	w, first := simulatedWork(t, "tender")
	p := &pageBeyond{id: id}
	p.pageUp = serveWork(t, w, first, func(o *page.Options) {
		o.Listen = func() (*page.Beyond, error) {
			l, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				return nil, err
			}
			at := l.Addr().String()
			b = &page.Beyond{Listener: l, TLS: id.TLS(), Hosts: []string{at}, Address: "https://" + at, Words: id.Words(),
				Print: id.Print()}
			return b, nil
		}
	})
	desk := newBrowser(t)
	desk.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	desk.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('footer a[href="/devices"]').click()`))
	desk.await("main", "Let a tablet see this")
	desk.shots(t, "letin")
	desk.tap("button[value=maker]")
	desk.do(chromedp.WaitVisible("svg.qr"))
	desk.shots(t, "lettingin")
	tablet := p.device(t, 1024, 768)
	tablet.do(chromedp.Navigate(desk.text(".device code")), chromedp.WaitVisible("button.first"))
	if desk.text(".device .sixwords") != tablet.text(".sixwords") {
		t.Errorf("the words are %q here, %q there", desk.text(".device .sixwords"), tablet.text(".sixwords"))
	}
	tablet.tap("button.first")
	tablet.do(chromedp.WaitVisible(".orders"))
	desk.await(".forfollower", "Another page starts tests now")
	desk.tap(".forfollower button")
	desk.await("h1", "No test yet")
	desk.do(chromedp.Navigate("http://"+p.at+"/devices"), chromedp.WaitVisible("form[action='/listen/end']"))
	desk.shots(t, "letin-one")
	desk.tap("form[action='/listen/end'] button")
	desk.await("main", "Let a tablet see this")
	tablet.await("#output", "NOT KNOWN")
}
