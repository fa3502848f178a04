package compare

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"sealworthy/compare/belief"
)

// TestReelYears against figures by hand: three builds, the mean by weight, one that
// differs from another for sure, one that failed.
func TestReelYears(t *testing.T) {
	at := time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)
	point := func(build string, days int, rel, u float64, failed ...string) ReelPoint {
		return ReelPoint{Build: build, At: at.AddDate(0, 0, days), Groups: []string{"saloon"}, Failed: failed,
			Rel: rel, U: u}
	}
	const k = 3.29
	y := ReelYears{Reel: "window strip"}
	y.Add(point("second", 2, 0.04, 0.01), []string{"strip warm white 12 V"}, k)
	if y.Rel != 0.04 || y.U != 0.01 || !y.Off || y.Drifts || y.Fails != 0 {
		t.Errorf("of one build %+v", y)
	}
	y.Add(point("first", 1, 0.01, 0.01, "saloon"), []string{"strip warm white 12 V"}, k)
	// Mean (0.04 + 0.01)/2, U 0.01/sqrt 2; they differ by 0.03, of which u is 0.0141.
	if math.Abs(y.Rel-0.025) > 1e-12 || math.Abs(y.U-0.01/math.Sqrt2) > 1e-12 || !y.Off || y.Drifts || y.Fails != 1 ||
		y.Points[0].Build != "first" {
		t.Errorf("of two builds %+v", y)
	}
	y.Add(point("third", 3, -0.03, 0.01), nil, k)
	if !y.Drifts || y.Off || len(y.Parts) != 1 || len(y.Says()) != 2 {
		t.Errorf("of three builds %+v: %v", y, y.Says())
	}
	ps := ReelPoints("first", []belief.Reel{{Reel: "a", Groups: []string{"saloon", "bridge"}, Rel: 0.01, U: 0.02},
		{Reel: "b", U: 0}},
		[]Finding{{Group: "saloon", At: at, Verdict: Low}, {Group: "bridge", At: at.Add(time.Hour), Verdict: InBand,
			Simulated: true}, {Group: "mast", At: at.Add(2 * time.Hour), Verdict: High}})
	if p := ps["a"]; len(ps) != 1 || !p.At.Equal(at.Add(time.Hour)) || len(p.Failed) != 1 || !p.Simulated {
		t.Errorf("points %+v", ps)
	}
}

// TestReelsOfManyBuilds: where nothing drifts, a shop with many builds is told so no oftener
// than one with two; a reel that drifts is seen all the same. Invented figures, drawn anew by
// a fixed seed.
func TestReelsOfManyBuilds(t *testing.T) {
	const shops, builds, k, u = 1000, 30, 3.29, 0.01
	r := rand.New(rand.NewPCG(11, 30))
	at := time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)
	told, seen := 0, 0
	for range shops {
		var still, drifting ReelYears
		for i := range builds {
			p := ReelPoint{At: at.AddDate(0, 0, i), Rel: u * r.NormFloat64(), U: u}
			still.Add(p, nil, k)
			p.Rel += 8 * u * float64(i) / (builds - 1)
			drifting.Add(p, nil, k)
		}
		if still.Drifts {
			told++
		}
		if drifting.Drifts {
			seen++
		}
	}
	// One in a thousand is what the guard leaves two builds: 1 of 1000; 6 or more come once
	// in 1700 (Poisson of mean 1).
	if t.Logf("%d of %d told of a drift that isn't there, %d of one that is", told, shops, seen); told >= 6 ||
		seen < shops*99/100 {
		t.Errorf("%d of %d told of a drift that isn't there, %d of one that is", told, shops, seen)
	}
}

// TestGroupYears against figures by hand: what another voltage changes is taken off, and
// a change is one where the guard says so.
func TestGroupYears(t *testing.T) {
	g := GroupYears{Group: "saloon"}
	for _, f := range []Finding{
		{Stage: Loose, MeasuredA: 0.040, MeasuredU: 0.0001, ExpectedA: 0.041, Verdict: InBand},
		// at another voltage: as it was
		{Stage: Fitted, MeasuredA: 0.036, MeasuredU: 0.0001, ExpectedA: 0.0369, Verdict: InBand},
		{Stage: Returned, MeasuredA: 0.030, MeasuredU: 0.0001, ExpectedA: 0.041, Verdict: Low},
	} {
		g.add(f, 1, 3.29)
	}
	if p := g.Points[0]; p.Rel != 1 || p.Changed || math.Abs(p.RelU-0.0025) > 1e-12 {
		t.Errorf("first %+v", p)
	}
	if p := g.Points[1]; math.Abs(p.Rel-1) > 1e-12 || p.Changed {
		t.Errorf("second %+v", p)
	}
	if p := g.Points[2]; math.Abs(p.Rel-0.75) > 1e-12 || !p.Changed ||
		math.Abs(p.RelU-0.75*math.Hypot(1.0/300, 0.0025)) > 1e-12 {
		t.Errorf("third %+v", p)
	}
}
