package budget

import (
	"encoding/json"
	"math"
	"sealworthy/compare/scene"
	"strings"
	"sync"
	"testing"
)

// The curve rises, holds the nominal draw between its ends, and meets the
// budget at the budget's own voltage.
func TestCurve(t *testing.T) {
	b := of(t, lightship(), At{Scene: scene.Scene{LeadsOhm: 0.2}})
	volts := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	for _, name := range []string{"strip 1", "cabin", "anchor", "beacon"} {
		c, err := b.Curve(name, volts...)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range c {
			if p.Volts != volts[i] || p.LowA > p.NominalA+1e-12 || p.HighA < p.NominalA-1e-12 || math.IsNaN(p.UA) {
				t.Errorf("%s: %+v", name, p)
			}
			if i > 0 && (p.HighA < c[i-1].HighA-1e-9 || p.NominalA < c[i-1].NominalA-1e-9) {
				t.Errorf("%s falls from %g to %g V", name, volts[i-1], volts[i])
			}
		}
		f, _ := b.FeedNamed(name)
		top, want := c[len(c)-1], f.Levels[0].Draw
		for _, l := range f.Levels {
			if l.Usual && l.Draw.NominalA > want.NominalA {
				want = l.Draw
			}
		}
		near(t, name+" at 12 V", top.NominalA, want.NominalA, 1e-8)
		near(t, name+": u at 12 V", top.UA, want.UA, 0.2*want.UA)
		if top.HighA < want.HighA {
			t.Errorf("%s: the most of the trials, %g A, lies within the band's %g A", name, top.HighA, want.HighA)
		}
	}
	one, err := b.Curve("beacon 2", 12)
	if err != nil || one[0].LowA > 0.005 {
		t.Errorf("a group on a board stands for its board, dark at least: %+v, %v", one, err)
	}
}

// Ten white LEDs of which one has no resistor must stand out at 3 V already.
func TestForgottenResistorShowsAtThreeVolts(t *testing.T) {
	l := own(9, 1, led("white", 2.9, 0.15, 0.5), 1000, 0.05, 0.5)
	bare := own(1, 1, led("white", 2.9, 0.15, 0.5), 0, 0, 0)
	healthy := of(t, lone(12, own(10, 1, led("white", 2.9, 0.15, 0.5), 1000, 0.05, 0.5)),
		At{Scene: scene.Scene{LeadsOhm: 0.2}})
	c, err := healthy.Curve("windows", 3)
	if err != nil {
		t.Fatal(err)
	}
	p := lone(12, l)
	p.Groups[0].Lights = append(p.Groups[0].Lights, bare)
	faulty := of(t, p, At{Scene: scene.Scene{LeadsOhm: 0.2, Volts: scene.Is(3)}, Trials: 10})
	if got, limit := faulty.Groups[0].Lit.NominalA, 1.3*c[0].HighA+0.005; got <= limit {
		t.Errorf("at 3 V: %g A with the fault, the limit is %g A", got, limit)
	}
}

func TestCurveRefuses(t *testing.T) {
	b := of(t, tidy(), At{Trials: 10})
	if _, err := b.Curve("galley", 3); err == nil || !strings.Contains(err.Error(), `"galley"`) {
		t.Errorf("unknown feed: %v", err)
	}
	if _, err := b.Curve("cabin", math.NaN()); err == nil {
		t.Error("NaN volts were taken")
	}
	src, err := json.Marshal(b)
	if err != nil {
		t.Fatal(err)
	}
	var file Budget
	if err := json.Unmarshal(src, &file); err != nil {
		t.Fatal(err)
	}
	if _, err := file.Curve("cabin", 3); err == nil || !strings.Contains(err.Error(), "from a file") {
		t.Errorf("a budget from a file: %v", err)
	}
	if g, ok := file.GroupNamed("cabin"); !ok || g.Lit != b.Groups[0].Lit {
		t.Error("the figures don't survive the file")
	}
}

// Several goroutines may ask at once and get the same answer.
func TestCurveIsSafe(t *testing.T) {
	b := of(t, tidy(), At{Trials: 10})
	want, err := b.Curve("cabin", 6, 12)
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			got, err := b.Curve("cabin", 6, 12)
			if err != nil || got[0] != want[0] || got[1] != want[1] {
				t.Errorf("got %+v, %v; want %+v", got, err, want)
			}
		})
	}
	wg.Wait()
}
