package returns

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"sealworthy/compare/fault"
	"sealworthy/compare/information"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// NextReading is a further measurement that would tell the rest apart.
type NextReading struct {
	What string `json:"what"` // in plain words
	// V, at the model; 0: it's no reading at another voltage
	Volts float64 `json:"volts,omitempty"`
	Pace  string  `json:"pace,omitempty"`
	Look  bool    `json:"look,omitempty"` // by eye
	// Resistor: the one that was read when the model left, in its place
	Resistor bool    `json:"resistor,omitempty"`
	Bits     float64 `json:"bits"` // information to be expected about the place
}

// leastBits: less than this isn't worth a reading.
const leastBits = 0.05

// candidate is one hypothesis that is still alive.
type candidate struct {
	place    int // that of the first candidate at the same place
	p        float64
	mean, sd []float64 // of one more reading at each voltage, given those so far
}

// next ranks a look, one more reading at the most telling voltage of the sweep, and the
// resistor that was read when the model left, by the information that each is expected to
// give about the place for its effort.
func (l *Library) next(p *plan.Plan, s *Signature, r *Return, post *posterior, n Nuisances, noise []float64,
	eye look.Rates) []NextReading {
	measured := make([]int, len(l.Volts))
	for i := range measured {
		measured[i] = i
	}
	bits := l.Information(r.Sweep.Amps, measured, n, noise, post.alive(l))
	best := 0
	for i, b := range bits {
		if b > bits[best] {
			best = i
		}
	}
	var out []NextReading
	add := func(x NextReading) {
		if x.Bits >= leastBits {
			out = append(out, x)
		}
	}
	if !slices.ContainsFunc(r.Seen, func(s Seen) bool { return !s.Client }) {
		add(NextReading{What: "look at it, warm and lit: what is dark, dim or flickers?", Look: true,
			Bits: l.lookBits(p, post.alive(l), eye)})
	}
	if len(bits) > 0 {
		add(NextReading{What: fmt.Sprintf("read once more at %.2f V, for four times as long", l.Volts[best]),
			Volts: l.Volts[best], Bits: bits[best]})
	}
	if s.Resistor != nil && r.Resistor == nil {
		add(NextReading{What: fmt.Sprintf("read the known resistor once more that was read when it left, of %.3g ohm, "+
			"with this meter in the model's place", s.Resistor.Ohm()), Resistor: true,
			Bits: l.resistorBits(*s.Resistor, r.Sweep.Amps, noise, n, post.alive(l))})
	}
	slices.SortStableFunc(out, func(a, b NextReading) int { return cmp.Compare(b.worth(), a.worth()) })
	return out
}

// worth is what is to be learned for the effort.
func (x NextReading) worth() float64 {
	switch {
	case x.Look:
		return x.Bits / lookEffort
	case x.Resistor:
		return x.Bits / resistorEffort
	}
	return x.Bits / readingEffort
}

// Alive is a hypothesis with its probability; Index is that in the library,
// -1 for "nothing wrong".
type Alive struct {
	Index int
	P     float64 // 0 to 1
}

// alive lists what is likelier than a thousandth of the likeliest.
func (q *posterior) alive(l *Library) []Alive {
	top := q.none
	for _, p := range q.single {
		top = math.Max(top, p)
	}
	var out []Alive
	if q.none > top/1000 {
		out = append(out, Alive{-1, q.none})
	}
	for i, p := range q.single {
		if p > top/1000 {
			out = append(out, Alive{i, p})
		}
	}
	return out
}

// Information is, for each voltage of the library, the expected information in
// bits about the place (not about its parameters) from one more reading there,
// given the readings y at the indices measured: the entropy of the places now
// less that expected after it (Lindley 1956), by a mixture of normal
// predictions with 9 nodes for each hypothesis. noise is that of one reading at
// each voltage; where there was one already, the next is taken four times as
// long, with half of it.
func (l *Library) Information(y []float64, measured []int, n Nuisances, noise []float64, hs []Alive) []float64 {
	if len(hs) == 0 {
		return nil
	}
	cs := l.candidates(y, measured, n, noise, hs)
	place, p := make([]int, len(cs)), make([]float64, len(cs))
	for k, c := range cs {
		place[k], p[k] = c.place, c.p
	}
	q := information.NewQuestion(place, p)
	now := q.Now()
	out := make([]float64, len(l.Volts))
	for i := range out {
		out[i] = math.Max(0, now-q.After(func(k int) float64 { return cs[k].mean[i] },
			func(k int) float64 { return cs[k].sd[i] }))
	}
	return out
}

// candidates predicts the next reading under each hypothesis that is alive.
func (l *Library) candidates(y []float64, measured []int, n Nuisances, noise []float64, hs []Alive) []candidate {
	sum := 0.0
	for _, h := range hs {
		sum += h.P
	}
	place := map[string]int{}
	var cs []candidate
	again := slices.Clone(noise)
	for _, i := range measured {
		again[i] /= 2
	}
	var js [][]float64
	for _, x := range l.nuisances(n) {
		js = append(js, x.j)
	}
	off := l.discrepancy(n)
	for _, h := range hs {
		hyp := Hypothesis{Class: fault.Nothing}
		if h.Index >= 0 {
			hyp = l.Hypotheses[h.Index]
		}
		mean, sd, ok := l.predict(y, measured, n, noise, again, js, off, hyp)
		if !ok {
			continue
		}
		k, seen := place[hyp.answer()]
		if !seen {
			k = len(place)
			place[hyp.answer()] = k
		}
		cs = append(cs, candidate{k, h.P / sum, mean, sd})
	}
	return cs
}

// predict is the normal law of one more reading at each voltage under one
// hypothesis, given those so far. again is the noise of that reading, js are
// the nuisances, off what these are off by.
func (l *Library) predict(y []float64, measured []int, n Nuisances, noise, again []float64, js [][]float64,
	off func(i, j int) float64, h Hypothesis) (mean, sd []float64, ok bool) {
	js = append(slices.Clone(js), h.extra...)
	common := func(i, j int) float64 {
		s := 0.0
		if off != nil {
			s = off(i, j)
		}
		for _, v := range js {
			s += v[i] * v[j]
		}
		return s
	}
	base := l.expected(n)
	if h.DeltaA != nil {
		base = added(base, h.DeltaA)
	}
	mean, sd = slices.Clone(base), make([]float64, len(base))
	k := len(measured)
	if k == 0 {
		for i := range sd {
			sd[i] = math.Sqrt(common(i, i) + again[i]*again[i])
		}
		return mean, sd, true
	}
	c := mat.NewSymDense(k, nil)
	dev := mat.NewVecDense(k, nil)
	for a, i := range measured {
		dev.SetVec(a, y[a]-base[i])
		for b := a; b < k; b++ {
			x := common(i, measured[b])
			if a == b {
				x += noise[i] * noise[i]
			}
			c.SetSym(a, b, x)
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(c) {
		return nil, nil, false
	}
	var w, v mat.VecDense
	if ch.SolveVecTo(&w, dev) != nil {
		return nil, nil, false
	}
	cross := mat.NewVecDense(k, nil)
	for i := range mean {
		for a, j := range measured {
			cross.SetVec(a, common(i, j))
		}
		mean[i] += mat.Dot(cross, &w)
		if ch.SolveVecTo(&v, cross) != nil {
			return nil, nil, false
		}
		sd[i] = math.Sqrt(math.Max(common(i, i)-mat.Dot(cross, &v), 0) + again[i]*again[i])
	}
	return mean, sd, true
}

// nextPace names another pace at which places of the set would differ.
func nextPace(p *plan.Plan, s *Signature, r *Return, set []Cause) []NextReading {
	var out []NextReading
	for _, b := range p.Boards {
		if !b.Button || len(b.Paces) < 2 {
			continue
		}
		hangs := slices.ContainsFunc(set, func(c Cause) bool {
			return c.Place == b.Name || slices.ContainsFunc(p.Groups,
				func(g plan.Group) bool { return g.Name == c.Place && g.Board == b.Name })
		})
		if !hangs || len(set) < 2 {
			continue
		}
		now := paceOf(r.Pace, b.Name)
		for _, w := range s.Whole {
			if x := paceOf(w.Pace, b.Name); x != "" && x != now && !strings.EqualFold(w.Pace, r.Pace) {
				out = append(out,
					NextReading{What: fmt.Sprintf("press the button of %q to its pace %q and measure again", b.Name,
						x), Pace: w.Pace})
				break
			}
		}
	}
	return out
}
