package blink

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

func columns(t *testing.T, name string) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "lomb_scargle", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 10 {
		t.Fatalf("%s has %d rows", name, len(rows))
	}
	out := make([][]float64, len(rows[0]))
	for _, r := range rows[1:] {
		for i, x := range r {
			v, err := strconv.ParseFloat(x, 64)
			if err != nil {
				t.Fatal(err)
			}
			out[i] = append(out[i], v)
		}
	}
	return out
}

// periodogram returns the Lomb-Scargle periodogram of the readings at the
// frequencies given, as the share of the variance that a sine of that frequency
// explains, 0 to 1. It's a
// yardstick for the fit; it knows nothing of windows, so it gives neither duty
// nor levels, and evenly spaced readings give it mirrors of the same height.
// At a frequency of zero, and for readings without variance, it's 0.
//
// Formula: Scargle, ApJ 263 (1982) 835, with the mean taken off first.
func periodogram(s []Sample, hz []float64) ([]float64, error) {
	if len(s) < 3 {
		return nil, fmt.Errorf("a periodogram needs 3 readings, got %d", len(s))
	}
	mean := 0.0
	for i, r := range s {
		if !finite(r.AtS, r.Amps) {
			return nil, fmt.Errorf("reading %d isn't a number: leave it out", i+1)
		}
		mean += r.Amps / float64(len(s))
	}
	squares := 0.0
	for _, r := range s {
		squares += (r.Amps - mean) * (r.Amps - mean)
	}
	out := make([]float64, len(hz))
	for i, f := range hz {
		if !finite(f) || f < 0 {
			return nil, fmt.Errorf("frequency %d of the periodogram is %g Hz: give it 0 or more", i+1, f)
		}
		if f == 0 || !(squares > 0) {
			continue
		}
		w := 2 * math.Pi * f
		var s2, c2 float64
		for _, r := range s {
			sn, cs := math.Sincos(2 * w * (r.AtS - s[0].AtS))
			s2 += sn
			c2 += cs
		}
		delay := math.Atan2(s2, c2) / (2 * w)
		var yc, ys, cc, ss float64
		for _, r := range s {
			sn, cs := math.Sincos(w * (r.AtS - s[0].AtS - delay))
			v := r.Amps - mean
			yc += v * cs
			ys += v * sn
			cc += cs * cs
			ss += sn * sn
		}
		p := 0.0
		if cc > 1e-9 {
			p += yc * yc / cc
		}
		if ss > 1e-9 {
			p += ys * ys / ss
		}
		if p /= squares; finite(p) {
			out[i] = p
		}
	}
	return out, nil
}

// TestPeriodogramAgainstSciPy compares with scipy.signal.lombscargle of SciPy
// 1.10.1 at all 596 frequencies.
func TestPeriodogramAgainstSciPy(t *testing.T) {
	in, want := columns(t, "input.csv"), columns(t, "periodogram.csv")
	var s []Sample
	for i := range in[0] {
		s = append(s, Sample{in[0][i], in[1][i] / 1000})
	}
	got, err := periodogram(s, want[0])
	if err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for i, p := range got {
		worst = math.Max(worst, math.Abs(p-want[2][i]))
	}
	t.Logf("%d frequencies, largest difference %.2g", len(got), worst)
	if worst > 1e-11 {
		t.Errorf("differs by %.3g from SciPy", worst)
	}
	var summary struct {
		Peak     float64 `json:"peak_grid_hz"`
		Standard float64 `json:"peak_standard"`
		True     float64 `json:"true_frequency_hz"`
	}
	raw, err := os.ReadFile(filepath.Join("testdata", "lomb_scargle", "summary.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &summary); err != nil {
		t.Fatal(err)
	}
	top := 0
	for i, p := range got {
		if p > got[top] {
			top = i
		}
	}
	if want[0][top] != summary.Peak || math.Abs(got[top]-summary.Standard) > 1e-9 {
		t.Errorf("peak %.4f at %g Hz, SciPy has %.4f at %g Hz", got[top], want[0][top], summary.Standard, summary.Peak)
	}
	// The fit must find the pace that the periodogram shows, from readings
	// without a window.
	f := Pace(s, Known{WindowS: 0.001, StampStdS: 0.0001, NoiseA: 0.0004})
	if f.Verdict != Periodic || math.Abs(f.PeriodS*summary.True-1) > 0.002 {
		t.Errorf("the fit says %v, %.4f Hz", f.Verdict, 1/f.PeriodS)
	}
}

// TestPeriodogramMirrors shows what even spacing does.
func TestPeriodogramMirrors(t *testing.T) {
	k := taking{4, .25, 0, 20, 0, 0}
	l := newLight(1/1.4, .001, .020, rectangle(.3))
	s := k.read(seeded(1, 1), l.mean)
	p, err := periodogram(s, []float64{1.4, 2.6})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(p[0]-p[1]) > 0.01 || p[0] < 0.5 {
		t.Errorf("the mirror of 1.4 Hz at 4 readings/s has %.3f, not %.3f", p[1], p[0])
	}
}

func TestPeriodogramRefuses(t *testing.T) {
	good := []Sample{{0, 1}, {1, 2}, {2, 1}, {3, 2}}
	for name, c := range map[string]struct {
		s  []Sample
		hz []float64
	}{
		"two readings":       {good[:2], []float64{1}},
		"not a number":       {append([]Sample{{4, math.NaN()}}, good...), []float64{1}},
		"negative frequency": {good, []float64{-1}},
		"infinite frequency": {good, []float64{math.Inf(1)}},
	} {
		if _, err := periodogram(c.s, c.hz); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	p, err := periodogram([]Sample{{0, 1}, {1, 1}, {2, 1}}, []float64{0, 1})
	if err != nil || p[0] != 0 || p[1] != 0 {
		t.Errorf("constant readings: %v, %v", p, err)
	}
}
