package belief

import "math"

// fewTrials are enough where the draw follows the healthy one closely.
const fewTrials = 24

// few solves the variants of a group's own wire, every branch anew, in the first
// trials, and takes the rest from how they follow the healthy draw.
type few struct {
	s     *side
	at    []int // variants
	vs    []*variant
	group []int // by at
	n     int
	y     []float64 // healthy draws, by trial and voltage
	with  []float64 // by at, trial and voltage
	lanes [][]lane  // by at, each at home in its own operating point
	done  int
}

func newFew(s *side, vs []*variant, trials int) (*few, error) {
	f := &few{s: s, vs: vs, n: len(s.volts)}
	for i, v := range vs {
		if v.how == feed {
			f.at, f.group = append(f.at, i), append(f.group, v.group)
		}
	}
	for j, vi := range f.at {
		s.w.GroupSeries(f.group[j], vs[vi].at)
		ls, err := lanes(s.w, s.volts)
		s.w.GroupSeries(f.group[j], 0)
		if err != nil {
			return nil, err
		}
		f.lanes = append(f.lanes, ls)
	}
	f.y = make([]float64, trials*f.n)
	f.with = make([]float64, len(f.at)*trials*f.n)
	return f, nil
}

// trial adds one trial if it is one of the first; y is the healthy draw in it.
func (f *few) trial(y []float64) {
	trials, t := len(f.y)/f.n, f.done
	if t >= trials {
		return
	}
	copy(f.y[t*f.n:], y)
	for j, vi := range f.at {
		f.s.w.GroupSeries(f.group[j], f.vs[vi].at)
		for k := range f.lanes[j] {
			if f.lanes[j][k].solve(f.s.dv) != nil {
				// No operating point just there: as it is nominally.
				f.with[(j*trials+t)*f.n+k] = f.s.y0[k] + f.vs[vi].delta[k]
				continue
			}
			x := f.lanes[j][k].point.SourceA
			if f.s.dark != nil {
				x -= f.s.unlit[k].point.SourceA
			}
			f.with[(j*trials+t)*f.n+k] = x
		}
		f.s.w.GroupSeries(f.group[j], 0)
	}
	f.done++
}

// close writes the moments: the draw with the fault is a straight line of the
// healthy one at the same voltage, and what is left over.
func (f *few) close(m *moments) {
	n, trials, stride := f.n, f.done, len(f.y)/f.n
	if trials == 0 {
		return
	}
	slope, rest := make([]float64, n), make([]float64, trials*n)
	for j, vi := range f.at {
		to := &m.of[vi]
		for k := range n {
			my, mw, yy, yw := 0.0, 0.0, 0.0, 0.0
			for t := range trials {
				my += f.y[t*n+k] / float64(trials)
				mw += f.with[(j*stride+t)*n+k] / float64(trials)
			}
			for t := range trials {
				dy, dw := f.y[t*n+k]-my, f.with[(j*stride+t)*n+k]-mw
				yy += dy * dy
				yw += dy * dw
			}
			slope[k] = 0
			if yy > 0 {
				slope[k] = yw / yy
			}
			to.mean[k] = mw + slope[k]*(m.healthy.mean[k]-my)
			for t := range trials {
				rest[t*n+k] = f.with[(j*stride+t)*n+k] - mw - slope[k]*(f.y[t*n+k]-my)
			}
		}
		if m.follows != nil {
			m.follows[1+vi] = m.follows[0].scaled(slope)
		}
		for a := range n {
			for b := range n {
				c := 0.0
				for t := range trials {
					c += rest[t*n+a] * rest[t*n+b]
				}
				to.cov[a*n+b] = slope[a]*slope[b]*m.healthy.cov[a*n+b] + c/math.Max(1, float64(trials-2))
			}
		}
	}
}
