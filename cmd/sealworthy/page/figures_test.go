package page

import (
	"testing"

	"sealworthy/compare/sketch"
)

// Of a place it's said that nothing hangs on it where nothing is listed under it, and nowhere
// else: what is as found has no figure yet.
func TestFiguresOfAPlace(t *testing.T) {
	joint := func(amps float64, nodes ...sketch.Node) sketch.Node {
		return sketch.Node{Place: sketch.Place{Kind: "joint", Name: "keel"}, Known: true, Amps: amps, LowA: amps,
			HighA: amps, Nodes: nodes}
	}
	group := sketch.Node{Place: sketch.Place{Kind: "group", Name: "bow"}, Made: "as found: measured, not judged"}
	for _, c := range []struct {
		n    sketch.Node
		want string
	}{
		{joint(0), "nothing hangs on it yet"},
		{joint(0, group), ""},
		{joint(0.02, group), "20.0 mA"},
		{group, ""},
	} {
		if got := figuresOf(c.n); got != c.want {
			t.Errorf("%+v: %q, want %q", c.n, got, c.want)
		}
	}
}
