package page

import (
	"context"
	"net/http"
	"strings"
	"testing"
)

// strange is an interview whose answers can't be gone on with, until it's begun anew.
type strange struct {
	*fakeWork
	anew bool
}

func (*strange) Unfinished(context.Context) ([]Build, error)         { return nil, nil }
func (*strange) BeginAsking(context.Context, string) (string, error) { return "i1", nil }

func (w *strange) Asked(context.Context, string) (Interview, error) {
	if w.anew {
		return Interview{ID: "i1", Name: "tram", Question: "What feeds the model?"}, nil
	}
	return Interview{ID: "i1", Name: "tram", Strange: "the answers are of another version"}, nil
}

func (w *strange) Reply(ctx context.Context, id string, _ int, _ string) (Interview, error) {
	return w.Asked(ctx, id)
}
func (w *strange) Back(ctx context.Context, id string, _ int) (Interview, error) {
	return w.Asked(ctx, id)
}

func (w *strange) BeginAnew(ctx context.Context, id string) (Interview, error) {
	w.anew = true
	return w.Asked(ctx, id)
}

// Where answers can't be gone on with the page asks nothing, and one button begins anew.
func TestStrangeAnswersBeginAnew(t *testing.T) {
	w := &strange{fakeWork: &fakeWork{name: "launch"}}
	x := newSite(t, w.fakeWork, func(o *Options) { o.Work = w })
	cookie := x.enter()
	const button = `action="/new/i1/anew"`
	if _, src := x.send(x.request("GET", "/new/i1", "", cookie)); !strings.Contains(src, button) ||
		!strings.Contains(src, "of another version") || strings.Contains(src, "/new/i1/answer") {
		t.Errorf("it shows\n%s", src)
	}
	if a, src := x.send(x.request("POST", "/new/i1/anew", "", cookie)); a.StatusCode != http.StatusSeeOther || !w.anew {
		t.Errorf("%s: %s", a.Status, src)
	}
	if _, src := x.send(x.request("GET", "/new/i1", "", cookie)); strings.Contains(src, button) ||
		!strings.Contains(src, "What feeds the model?") {
		t.Errorf("then it shows\n%s", src)
	}
}
