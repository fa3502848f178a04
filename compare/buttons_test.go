package compare

import (
	"slices"
	"testing"

	"sealworthy/capture"
)

// A look names each board that has a button, the groups that it lights there and what they do
// at each of its paces, in the plan's words and order; a board without a button isn't named, nor
// is any in a step that isn't looked at.
func TestALookKnowsItsButtons(t *testing.T) {
	p, steps := lightship(t)
	named := map[string]bool{}
	for _, s := range steps {
		if s.Kind != capture.Look && len(s.Buttons) > 0 {
			t.Errorf("%s: %+v", s.ID, s.Buttons)
		}
		for _, x := range s.Buttons {
			named[x.Board] = true
			b, ok := p.Board(x.Board)
			if !ok || !b.Button || len(x.See) != len(b.Paces) || len(x.Groups) == 0 {
				t.Errorf("%s: %+v of a board with %d paces", s.ID, x, len(b.Paces))
			}
			for _, g := range x.Groups {
				if y, ok := p.Group(g); !ok || y.Board != x.Board || !slices.Contains(s.Groups, g) {
					t.Errorf("%s: %s isn't lit by %s here", s.ID, g, x.Board)
				}
			}
		}
	}
	for _, b := range p.Boards {
		if named[b.Name] != (b.Button && len(b.Paces) > 1) {
			t.Errorf("%s, button %v, %d paces: named %v", b.Name, b.Button, len(b.Paces), named[b.Name])
		}
	}
	if len(named) == 0 {
		t.Error("no board has a button: nothing was tried")
	}
}
