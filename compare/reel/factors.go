package reel

import (
	"math"
	"slices"

	"sealworthy/compare/linear"
	"sealworthy/compare/wiring"
)

// Factors are the common factors of one circuit, by Param.Common, with what was
// learned of them. A draw of parameter q is
//
//	common, own := f.Split(q)
//	q.Value.HalfWidth * (common*c[q.Common] + own*e)
//
// with e rectangular from -1 to 1 and c = Mean + Chol z, z standard normal; where
// Learned is false, c is rectangular from -1 to 1 as ever, and its row of Chol
// says the same of its variance.
type Factors struct {
	Mean    []float64
	Chol    [][]float64 // lower triangular
	Learned []bool

	// Bench is what was learned of meter, supply and room along with it, as
	// further rows of Mean and Chol; nil unless ForBench was asked and knows.
	Bench *Bench

	shift []shares  // by Common
	ratio []float64 // by Common: c of this plan by c as it was learned
}

// Bench says which rows are what the readings share besides reels. Each is
// standard normal before the first reading: times its standard uncertainty it is
// the deviation. The gain's is that of the reading, a fraction of it.
type Bench struct {
	Gain, Volts, Temp, Leads int
	// VoltsU (V), TempU (K) and LeadsU (ohm) are what the observations took.
	VoltsU, TempU, LeadsU float64
}

// shares of a factor: as learned; planned where ok is false.
type shares struct {
	ok               bool
	planned          float64
	commonBy, ownBy  float64 // shift of the log-odds
	common, ownShare float64 // where the planned share has no odds to shift
}

// For gives the factors of a circuit. l may be nil: then nothing is learned.
func (l *Learned) For(w *wiring.Wired) *Factors {
	n := w.Commons
	f := &Factors{Mean: make([]float64, n), Learned: make([]bool, n), shift: make([]shares, n)}
	at := make([]int, n)
	ratio := make([]float64, n)
	for c := range at {
		at[c] = l.index(w.Factors[c])
	}
	exact := make([]bool, n)
	for _, q := range w.Params {
		k := at[q.Common]
		if k < 0 || exact[q.Common] {
			continue
		}
		// A parameter with the share that was learned with says it best.
		exact[q.Common] = q.Value.Share == l.Factors[k].Share
		if ratio[q.Common] == 0 || exact[q.Common] {
			ratio[q.Common] = l.Factors[k].rescale(q)
		}
	}
	cov := make([][]float64, n)
	for c := range cov {
		cov[c] = make([]float64, n)
		if at[c] < 0 || ratio[c] == 0 {
			at[c] = -1
			cov[c][c] = prior * prior
			continue
		}
		k := l.Factors[at[c]]
		f.Mean[c], f.Learned[c] = k.Mean*ratio[c], true
		f.shift[c] = k.shares()
		for d := range c + 1 {
			if at[d] >= 0 {
				cov[c][d] = l.Covariance[at[c]][at[d]] * ratio[c] * ratio[d]
			}
		}
	}
	f.Chol = cholesky(cov)
	f.ratio = ratio
	return f
}

// ForBench is For with what was learned of a meter, its supply and its room: for
// a reading by the same meter on the same bench, whose errors are those of the
// readings learned from. Where that isn't known it is For.
func (l *Learned) ForBench(w *wiring.Wired, meter string) *Factors {
	f := l.For(w)
	if l == nil || l.bench == nil || !slices.Contains(l.bench.gains, meter) {
		return f
	}
	b := l.bench
	n, k := w.Commons, len(l.Factors)
	rows := []int{k + slices.Index(b.gains, meter)}
	for i := range 3 {
		rows = append(rows, k+len(b.gains)+i)
	}
	at, ratio := make([]int, n+len(rows)), make([]float64, n+len(rows))
	for c := range n {
		at[c] = -1
		if f.Learned[c] {
			at[c] = l.index(w.Factors[c])
			ratio[c] = f.ratio[c]
		}
	}
	for i, r := range rows {
		at[n+i], ratio[n+i] = r, 1
		f.Mean, f.Learned = append(f.Mean, b.mean[r]), append(f.Learned, true)
	}
	cov := make([][]float64, len(at))
	for c := range cov {
		cov[c] = make([]float64, len(at))
		if at[c] < 0 {
			cov[c][c] = prior * prior
			continue
		}
		for d := range c + 1 {
			if at[d] >= 0 {
				cov[c][d] = b.cov[at[c]][at[d]] * ratio[c] * ratio[d]
			}
		}
	}
	f.Chol = cholesky(cov)
	f.Bench = &Bench{Gain: n, Volts: n + 1, Temp: n + 2, Leads: n + 3,
		VoltsU: b.setHalfV / math.Sqrt(3), TempU: b.tempHalfC / math.Sqrt(3), LeadsU: b.seriesHalfO / math.Sqrt(3)}
	return f
}

// rescale turns c of the plan it was learned with into c of this plan, where
// the same part may have another tolerance. 0: nothing can be said.
func (k Factor) rescale(q wiring.Param) float64 {
	half := relativeHalf(q)
	share := k.shares().of(q.Value.Share)
	if !(half > 0) || !(k.HalfWidth > 0) || !(share > 0) {
		return 0
	}
	// The same deviation, in what c counts in by this plan.
	return k.HalfWidth / half * math.Sqrt(k.CommonShare/share)
}

// relativeHalf is the half-width as Factor has it.
func relativeHalf(q wiring.Param) float64 {
	if q.Kind == wiring.BranchOhms || q.Kind == wiring.CopperOhms || q.Kind == wiring.WireOhms {
		if q.Value.Nominal == 0 {
			return 0
		}
		return math.Abs(q.Value.HalfWidth / q.Value.Nominal)
	}
	return math.Abs(q.Value.HalfWidth)
}

func (k Factor) shares() shares {
	return shares{ok: true, planned: k.Share, common: k.CommonShare, ownShare: k.OwnShare,
		commonBy: logit(k.CommonShare) - logit(k.Share), ownBy: logit(k.OwnShare) - logit(k.Share)}
}

// Split gives the factors of a parameter's common and own deviation; the
// squares add up to 1 where nothing was learned.
func (f *Factors) Split(q wiring.Param) (common, own float64) {
	s := math.Min(1, math.Max(0, q.Value.Share))
	if q.Common < 0 || q.Common >= len(f.shift) || !f.shift[q.Common].ok {
		return math.Sqrt(s), math.Sqrt(1 - s)
	}
	x := f.shift[q.Common]
	if s == x.planned {
		return math.Sqrt(x.common), math.Sqrt(1 - x.ownShare)
	}
	return math.Sqrt(x.of(s)), math.Sqrt(1 - shifted(s, x.ownBy))
}

// of is the common share of a parameter by its planned one.
func (x shares) of(planned float64) float64 {
	if planned == x.planned {
		return x.common
	}
	return shifted(planned, x.commonBy)
}

// logit is the log-odds of a share; shares of 0 and 1 have none and stay.
func logit(s float64) float64 {
	if s <= 0 || s >= 1 {
		return 0
	}
	return math.Log(s / (1 - s))
}

// shifted moves a share by its log-odds.
func shifted(s, by float64) float64 {
	if s <= 0 || s >= 1 || by == 0 {
		return s
	}
	return 1 / (1 + math.Exp(-logit(s)-by))
}

// cholesky factors a positive semidefinite matrix, of which only the lower half
// is read. What rounding made negative counts as nought.
func cholesky(a [][]float64) [][]float64 {
	l, n := linear.Flat(a), len(a)
	linear.FactorSemi(l, n)
	linear.Lower(l, n)
	return linear.Rows(l, n)
}
