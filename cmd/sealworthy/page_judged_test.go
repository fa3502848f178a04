//go:build unix

package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// heldBack is the work of a page whose judgements wait until a test lets them go.
type heldBack struct {
	*pageWork
	let    chan struct{}
	judged atomic.Int32
}

func (h *heldBack) Judge(ctx context.Context, id string) (page.Findings, error) {
	h.judged.Add(1)
	select {
	case <-h.let:
	case <-ctx.Done():
		return page.Findings{}, context.Cause(ctx)
	}
	return h.pageWork.Judge(ctx, id)
}

// A build that nobody judged yet is shown at once, with STOP and no verdict; what its readings say comes
// when it's there, in each tab from the same judgement, and no focus is lost by it.
func TestPageBeforeItIsJudged(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "gig")
	must(t, os.CopyFS(dir, os.DirFS("testdata/plans/gig")))
	built, err := openBuild(quiet(), dir)
	must(t, err)
	sit(t, built, session.Sitting{Stage: compare.Fitted, Seed: 3}, sittingBegan)
	w := &pageWork{e: quiet(), w: machine(), only: dir, flags: benchFlags{room: noRoom},
		seed: func() uint64 { return 1 }, sims: map[string]*simulatedBuild{}}
	h := &heldBack{pageWork: w, let: make(chan struct{})}
	p := serveWork(t, w, buildID(dir), func(o *page.Options) { o.Work, o.Plans = h, h })
	b := newBrowser(t)
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	other := b.tab()
	other.do(chromedp.Navigate("http://"+p.at+"/build/"+buildID(dir)), chromedp.WaitVisible(".orders"))
	for _, x := range []*browser{b, other} {
		x.await("#output", "NO TEST")
		x.await("#known [role=status]", "Working out what the readings say")
		if s := x.text("main"); strings.Contains(s, "SETTLED") || strings.Contains(s, "FIRST") ||
			evaluated[bool](x, `document.querySelector('.closure, .ready') !== null`) {
			t.Errorf("before it's judged the page says\n%s", s)
		}
	}
	known := chromedp.Evaluate[chromedp.Void](`document.querySelector('#known').scrollIntoView()`)
	b.do(known)
	b.shots(t, "unjudged")
	b.tap("#stop")
	b.await("#stopped", "No test is under way")
	b.do(chromedp.Focus("#known [role=status] a"))
	other.do(chromedp.Click(`input[name=stage][value=loose]`))
	close(h.let)
	b.await("#known", "locker: LOOK FIRST")

	other.await("#known", "locker: LOOK FIRST")
	for x, want := range map[*browser]string{b: "awaited", other: "loose"} {
		x.await("#known [role=status]", "is worked out")
		got := evaluated[string](x, `document.activeElement.dataset.region || document.activeElement.value`)
		if got != want {
			t.Errorf("the focus is at %q, want it at %q", got, want)
		}
	}

	b.do(known)
	b.shots(t, "judgedlater")
	if n := h.judged.Load(); n != 1 {
		t.Errorf("it was judged %d times", n)
	}
	b.do(chromedp.Reload(), chromedp.WaitVisible(".closure"))
	if evaluated[bool](b, `document.querySelector('[data-awaits]') !== null`) || h.judged.Load() != 1 {
		t.Error("what is known is awaited again")
	}

	// What is told elsewhere takes it from each page that shows it, until it's judged again.
	must(t, w.Tell(t.Context(), buildID(dir), page.Told{Kind: page.ToldTouched, Names: []string{"locker lamp"}}))
	for _, x := range []*browser{b, other} {
		x.await("#known", "Changed since")
		x.await("#known", "locker: NOT SETTLED")
	}
	must(t, os.Rename(filepath.Join(dir, planFile), filepath.Join(dir, "elsewhere")))
	must(t, os.WriteFile(filepath.Join(dir, planFile), []byte("no plan"), 0o600))
	b.await("#known", "can't be worked out")
	if s := b.text("#known"); strings.Contains(s, "SETTLED") {
		t.Errorf("under a plan that is broken: %s", s)
	}
}
