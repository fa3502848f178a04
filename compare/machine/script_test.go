package machine

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestScriptsReadBack: what is printed can be replayed.
func TestScriptsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		s := DrawScript(DrawBuild(rapid.Uint64Range(0, 1000).Draw(t, "shape")), seed)
		back, err := ParseScript("# a comment\n\n" + s.String())
		if err != nil {
			t.Fatal(err)
		}
		if back.Shape != s.Shape || back.Pieces != s.Pieces || !slices.Equal(back.Events, s.Events) {
			t.Fatalf("%v\nreads back as\n%v", s, back)
		}
	})
	for _, wrong := range []string{"build x", "measure | all", "measure | all | looks | many"} {
		if _, err := ParseScript(wrong); err == nil {
			t.Errorf("%q is read", wrong)
		}
	}
}

// TestShrinkKeepsWhatFails: of many events those that matter are left, in order.
func TestShrinkKeepsWhatFails(t *testing.T) {
	s := DrawScript(DrawBuild(3), 1)
	for len(s.Events) < 40 {
		s.Events = append(s.Events, DrawScript(DrawBuild(3), uint64(len(s.Events))).Events...)
	}
	s.Events[5], s.Events[31] = Event{Rework, "joint 1", "breaks", 77}, Event{Flip, "", "", 900}
	fails := func(x Script) bool {
		i := slices.IndexFunc(x.Events, func(e Event) bool { return e.Verb == Rework && e.A == "joint 1" })
		j := slices.IndexFunc(x.Events, func(e Event) bool { return e.Verb == Flip && e.N >= 900 })
		return i >= 0 && j > i
	}
	got := Shrink(s, fails)
	if !fails(got) || len(got.Events) != 2 || got.Events[0].B != "stays" || got.Events[0].N != 0 {
		t.Errorf("left: %v", got.Events)
	}
}

// TestTheOracleKnowsItsCircuit: on builds drawn at random, drawn pieces scatter about
// the nominal draw as the oracle's own uncertainty says, whatever the program
// makes of them.
func TestTheOracleKnowsItsCircuit(t *testing.T) {
	shop := NewShop()
	n, sum, most := 0, 0.0, 0.0
	for shape := uint64(0); n < 400; shape++ {
		b := DrawBuild(shape)
		if !Fit(shop, b) {
			continue
		}
		k, err := shop.kit(b)
		if err != nil {
			t.Fatal(err)
		}
		for pieces := range uint64(4) {
			healthy, err := drawHealthy(b, shape<<8|pieces)
			if err != nil {
				t.Fatal(err)
			}
			for _, g := range k.plan.Groups {
				a, err := healthy.draw(g.Name, 12)
				if err != nil {
					t.Fatal(err)
				}
				d := deviationOf(directMeter, a, 0, k.by[g.Name], 10)
				if d.visible() {
					t.Errorf("build %d, pieces %d: %q is healthy and visibly off: %+v", b.Shape, healthy.pieces,
						g.Name, d)
				}
				z := d.delta / d.u
				n, sum, most = n+1, sum+z*z, math.Max(most, math.Abs(z))
			}
		}
	}
	rms := math.Sqrt(sum / float64(n))
	t.Logf("%d groups: RMS of the deviation over its uncertainty %.2f, most %.2f", n, rms, most)
	if rms < 0.8 || rms > 1.1 {
		t.Errorf("RMS %.2f: the oracle's uncertainty isn't that of what is drawn", rms)
	}
}
