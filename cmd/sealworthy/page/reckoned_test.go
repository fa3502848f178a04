package page

import (
	"context"
	"encoding/json"
	"html"
	"net/http"
	"strings"
	"testing"
	"time"

	"sealworthy/compare/plan"
)

// slowPlans takes as long for what comes of a plan as a test wants.
type slowPlans struct {
	*fakePlans
	let chan struct{}
}

func (f *slowPlans) Reckon(ctx context.Context, id string, p *plan.Plan) (Reckoned, error) {
	select {
	case <-f.let:
	case <-ctx.Done():
		return Reckoned{}, context.Cause(ctx)
	}
	return f.fakePlans.Reckon(ctx, id, p)
}

// A plan's page is there before what comes of its plan is: it says that this is worked out, and no more of it; then it
// gets the same as a page that waited, and two pages of one draft the same. Meanwhile the plan can be changed.
func TestPlanBeforeItIsReckoned(t *testing.T) {
	f := &slowPlans{&fakePlans{src: gig}, make(chan struct{})}
	x := newSite(t, &fakeWork{name: "Gig"}, func(o *Options) { o.Plans, o.ReckonedWith = f, time.Nanosecond })
	cookie := x.enter()
	get := func(path string) (int, string) {
		t.Helper()
		a, src := x.send(x.request("GET", path, "", cookie))
		return a.StatusCode, src
	}
	from := func(src string) string { return html.UnescapeString(between(src, `data-reckoned="`, `"`)) }
	_, first := get("/build/b1/plan?at=group:bow")
	_, second := get("/build/b1/plan")
	for _, src := range []string{first, second} {
		if !strings.Contains(src, "Working out what it draws") || strings.Contains(src, "No check says") ||
			strings.Contains(src, "mA</span>") || from(src) == "" {
			t.Errorf("before it's reckoned:\n%s", src)
		}
	}
	late := from(first)
	if late != from(second) {
		t.Errorf("two pages wait for %s and %s", late, from(second))
	}
	type answer struct {
		status int
		src    string
	}
	came := make(chan answer, 1)
	go func() {
		status, src := get(late)
		came <- answer{status, src}
	}()
	close(f.let)
	a := <-came
	var told tried
	if err := json.Unmarshal([]byte(a.src), &told); err != nil || a.status != http.StatusOK {
		t.Fatalf("%d, %v: %s", a.status, err, a.src)
	}
	if !strings.Contains(told.Reckoned, "Jack main, all lit") || !strings.Contains(told.Figures["group:bow"], "mA") {
		t.Errorf("%+v", told)
	}
	if status, again := get(late); status != http.StatusOK || again != a.src {
		t.Errorf("asked once more: %d\n%s", status, again)
	}
	f.mu.Lock()
	if f.reckoned != 1 {
		t.Errorf("reckoned %d times for three pages", f.reckoned)
	}
	f.mu.Unlock()
	p := planSite{site: x, plans: f.fakePlans, cookie: cookie}
	p.does("change", "at", "group:bow", bowOhms, "560")
	if status, src := get(late); status != http.StatusConflict {
		t.Errorf("of a draft that isn't any more: %d\n%s", status, src)
	}
}
