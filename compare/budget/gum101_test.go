package budget

import (
	"math"
	"slices"
	"testing"
)

// u comes out within 0.2 %, the ends of an interval within about 0.5 %.
const gumTrials = 200000

func sum(x ...float64) function {
	return func(dev, out []float64) error {
		y := 0.0
		for i, d := range dev {
			y += x[i] + d
		}
		out[0] = y
		return nil
	}
}

func trials(t *testing.T, l *law, seed uint64, f function) []float64 {
	t.Helper()
	rows, err := monteCarlo(l, seed, 0, gumTrials, 1, f)
	if err != nil {
		t.Fatal(err)
	}
	return rows[0]
}

// JCGM 101:2008, 9.2, Tables 2 to 4: Y = X1 + X2 + X3 + X4.
func TestAdditive92(t *testing.T) {
	skipStatistics(t)
	for _, c := range []struct {
		name    string
		shape   shape
		u       []float64
		wantU   float64
		wantEnd float64
	}{
		{"table 2, normal", normal, []float64{1, 1, 1, 1}, 2, 3.92},
		{"table 3, rectangular", rectangular, []float64{1, 1, 1, 1}, 2, 2 * math.Sqrt(3) * (2 - math.Pow(0.6, 0.25))},
		{"table 4, one dominates", rectangular, []float64{1, 1, 1, 10}, math.Sqrt(103), 17.0},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := lawOf(c.shape, c.u...)
			near(t, "linear u", first(uOf(l, []float64{1, 1, 1, 1})), c.wantU, 1e-12)
			s := summarise(trials(t, l, 3, sum(0, 0, 0, 0)), Coverage)
			near(t, "mean", s.mean, 0, 4*c.wantU/math.Sqrt(gumTrials))
			near(t, "u", s.u, c.wantU, 0.006*c.wantU)
			near(t, "low end", s.low, -c.wantEnd, 0.012*c.wantEnd)
			near(t, "high end", s.high, c.wantEnd, 0.012*c.wantEnd)
		})
	}
}

// JCGM 101:2008, 9.3: calibration of a mass standard, mg (values from memory of
// the document, recomputed with two million draws).
func TestMass93(t *testing.T) {
	skipStatistics(t)
	l := lawOf(normal, 0.050, 0.020)
	l.inputs = 5
	for i, half := range []float64{0.10, 1000, 50} {
		l.add(2+i, l.factor(rectangular), half/math.Sqrt(3))
	}
	f := func(d, out []float64) error {
		m, dm, a, w, r := 100000+d[0], 1.234+d[1], 1.20+d[2], 8000+d[3], 8000+d[4]
		out[0] = (m+dm)*(1+(a-1.2)*(1/w-1/r)) - 100000
		return nil
	}
	c := gradient(t, []float64{0.05, 0.02, 0.05, 500, 25}, 1, f)
	near(t, "first order u", first(uOf(l, c[0])), 0.0539, 0.0001)
	y := trials(t, l, 4, f)
	s := summarise(y, Coverage)
	near(t, "mean", s.mean, 1.2341, 0.0006)
	near(t, "u", s.u, 0.0754, 0.0004)
	lo, hi := shortest(y, Coverage)
	near(t, "width of the shortest interval", hi-lo, 0.2991, 0.004)
	if !differ(1.234, 0.0539, s, gumTrials, 0.1) {
		t.Error("linear 0.0539 against 0.0754 must be called different")
	}
}

// JCGM 101:2008, 9.4: comparison loss, unit 1e-6. The exact values are those
// of the (noncentral) chi-square law with two degrees of freedom.
func TestComparisonLoss94(t *testing.T) {
	skipStatistics(t)
	for _, c := range []struct{ x1, mean, u, lo, hi float64 }{
		{0, 50, 50, 0, 149.8}, {0.010, 150, 111.8, 0, 366.0}, {0.050, 2550, 502.5, 1593.6, 3548.6},
	} {
		l := lawOf(normal, 0.005, 0.005)
		f := func(d, out []float64) error {
			x, y := c.x1+d[0], d[1]
			out[0] = 1e6 * (x*x + y*y)
			return nil
		}
		y := trials(t, l, 5, f)
		s := summarise(y, Coverage)
		near(t, "mean", s.mean, c.mean, 4*c.u/math.Sqrt(gumTrials))
		near(t, "u", s.u, c.u, 0.012*c.u)
		lo, hi := shortest(y, Coverage)
		near(t, "width", hi-lo, c.hi-c.lo, 0.012*(c.hi-c.lo))
		near(t, "low end", lo, c.lo, 0.05*(c.hi-c.lo))
		if c.x1 == 0 {
			// Exponential law of mean 50: the symmetric interval in closed form.
			near(t, "symmetric low end", s.low, -50*math.Log(0.975), 0.05)
			near(t, "symmetric high end", s.high, -50*math.Log(0.025), 2)
			if !differ(0, 0, s, gumTrials, 0.1) {
				t.Error("a first-order u of zero must be called different")
			}
		}
	}
}

// shortest interval of sorted trials (JCGM 101:2008, 7.7 and D.7).
func shortest(y []float64, coverage float64) (lo, hi float64) {
	slices.Sort(y)
	n := int(math.Round(coverage * float64(len(y))))
	best := math.Inf(1)
	for i := 0; i+n < len(y); i++ {
		if w := y[i+n] - y[i]; w < best {
			best, lo, hi = w, y[i], y[i+n]
		}
	}
	return lo, hi
}

// The law of a tolerance: variance a²/3 for every share; at one half 9 % of
// pieces outside a, as the package doc says. The trapezium is sqrt(2)a wide and
// its flanks meet: a triangle, of which (1-1/sqrt(2))^2 = 8.6 % lies beyond a.
func TestToleranceLaw(t *testing.T) {
	skipStatistics(t)
	for _, share := range []float64{0, 0.25, 0.5, 1} {
		l := newLaw(1)
		l.add(0, l.factor(rectangular), math.Sqrt(share/3))
		l.add(0, l.factor(rectangular), math.Sqrt((1-share)/3))
		y := trials(t, l, 6, sum(0))
		s := summarise(y, Coverage)
		near(t, "u", s.u, 1/math.Sqrt(3), 0.004)
		outside := 0
		for _, v := range y {
			if math.Abs(v) > 1 {
				outside++
			}
		}
		if share == 0.5 {
			near(t, "outside", float64(outside)/gumTrials, math.Pow(1-1/math.Sqrt2, 2), 0.003)
		}
		if share == 0 || share == 1 {
			near(t, "outside", float64(outside), 0, 0)
		}
	}
}

// The same trial is the same draw, whatever was drawn before it.
func TestCommonRandomNumbers(t *testing.T) {
	l := lawOf(rectangular, 1, 2, 3)
	a, b := newSampler(l, 9), newSampler(l, 9)
	da, db := make([]float64, 3), make([]float64, 3)
	a.draw(0, da)
	a.draw(7, da)
	b.draw(7, db)
	if !slices.Equal(da, db) {
		t.Errorf("trial 7 drawn twice: %v and %v", da, db)
	}
	newSampler(l, 10).draw(7, db)
	if slices.Equal(da, db) {
		t.Error("another seed gave the same draw")
	}
	if n := testing.AllocsPerRun(100, func() { a.draw(3, da) }); n != 0 {
		t.Errorf("a draw allocates %g times", n)
	}
}
