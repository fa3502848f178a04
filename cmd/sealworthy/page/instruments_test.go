package page

import (
	"context"
	"net/http"
	"runtime"
	"testing"
)

// lister is Work whose ports are listed while a test is begun.
type lister struct {
	*fakeWork
	list func()
}

func (l lister) Instruments(_ context.Context, listed bool) (Instruments, error) {
	if listed {
		l.list()
	}
	return Instruments{Listed: listed}, nil
}

// Listing ports may open them: what is begun meanwhile waits until that is over.
func TestNothingBeginsWhilePortsAreListed(t *testing.T) {
	w := &fakeWork{name: "launch"}
	early, x, maker := false, (*site)(nil), ""
	list := func() {
		if a, src := x.send(x.request("POST", "/begin", "build=b1&verb=measure", maker)); a.StatusCode !=
			http.StatusSeeOther {
			t.Error(a.Status, src)
		}
		for range 10000 { // a test that doesn't wait begins now
			runtime.Gosched()
		}
		n, _, _ := w.count()
		early = n > 0
	}
	x = newSite(t, w, func(o *Options) { o.Work = lister{w, list} })
	maker = x.enter()
	x.send(x.request("GET", "/instruments", "", maker))
	until(t, func() bool { n, _, _ := w.count(); return n == 1 })
	if early {
		t.Error("a test began while ports were listed")
	}
}
