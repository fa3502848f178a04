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
	banded := joint(0.485, group)
	banded.LowA, banded.HighA, banded.DropV, banded.LowDropV, banded.HighDropV = 0.468, 0.5021, 0.6566, 0.571, 0.7411
	if got, want := dropOf(banded), "0.657 V lost on the way, 0.57 to 0.75 V"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	for _, c := range []struct {
		n    sketch.Node
		want string
	}{
		{joint(0), "nothing hangs on it yet"},
		{joint(0, group), ""},
		{joint(0.02, group), "20.0 mA"},
		{group, ""},
		{banded, "485 mA, 468 to 503 mA"},
	} {
		if got := figuresOf(c.n); got != c.want {
			t.Errorf("%+v: %q, want %q", c.n, got, c.want)
		}
	}
}
