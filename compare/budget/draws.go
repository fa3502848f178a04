package budget

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"math"
	"slices"
)

// differLimit: by how much of u mean or u of the two propagations may differ
// before it is said. A tenth changes no verdict.
const differLimit = 0.1

// drawn is what came out of a side: one Draw for each output, and what is
// needed to say where its uncertainty comes from.
type drawn struct {
	draws   []Draw
	c       *sens
	trials  int
	settled bool // false: an adaptive run ended before its digits were reached
}

// propagate carries the law of a side into all its outputs, both ways.
func (s *side) propagate(seed uint64, at At) (*drawn, error) {
	forks, err := s.forks()
	if err != nil {
		return nil, err
	}
	nominal := make([]float64, s.outs)
	rest := make([]float64, s.law.inputs)
	s.law.rest(rest)
	if err := s.eval(rest, nominal); err != nil {
		return nil, err
	}
	r := s.newReaches()
	var evals []function
	for _, x := range forks {
		evals = append(evals, x.eval)
	}
	var c *sens
	if s.allOfIt {
		c, err = s.wholeSensitivities(forks, rest, nominal, r)
	} else {
		var each []moved
		moves := s.inputs(r)
		for _, x := range forks {
			each = append(each, x.moved(moves))
		}
		c, err = sensitivities(rest, s.step(), s.like(), nominal, each...)
	}
	if err != nil {
		return nil, err
	}
	d := &drawn{draws: make([]Draw, s.outs), c: c, trials: at.Trials, settled: true}
	var rows [][]float64
	if at.Digits > 0 {
		rows, d.settled, err = adaptive(s.law, seed, at.Trials, at.Digits, s.outs, evals...)
	} else {
		rows, err = monteCarlo(s.law, seed, 0, at.Trials, s.outs, evals...)
	}
	if err != nil {
		return nil, err
	}
	if len(rows) > 0 {
		d.trials = len(rows[0])
	}
	for k := range d.draws {
		v, byFactor := c.variance(s.law, k)
		lin := math.Sqrt(v)
		m := summarise(rows[k], Coverage)
		d.draws[k] = Draw{NominalA: nominal[k], MeanA: m.mean, UA: m.u, LinearUA: lin, LowA: m.low, HighA: m.high,
			Differ: differ(nominal[k], lin, m, d.trials, differLimit)}
		s.split(&d.draws[k], byFactor)
	}
	if err := s.worst(d, r); err != nil {
		return nil, err
	}
	// Leave everything as it was found: at rest.
	return d, s.eval(rest, nominal)
}

// split shares the uncertainty of the trials out in the proportions of the linear one.
func (s *side) split(d *Draw, byFactor []float64) {
	var v [3]float64
	sum := 0.0
	for k, x := range byFactor {
		v[s.origins[k].class] += x
		sum += x
	}
	if sum <= 0 {
		return
	}
	d.UOwnA = d.UA * math.Sqrt(v[ownPart]/sum)
	d.UReelA = d.UA * math.Sqrt(v[reelPart]/sum)
	d.UBenchA = d.UA * math.Sqrt(v[benchPart]/sum)
}

// worst puts every input at the end of its tolerance, in the sense that raises
// or lowers each output. The sense is that of the sensitivity at nominal.
func (s *side) worst(d *drawn, r *reaches) error {
	dev, out := make([]float64, s.law.inputs), make([]float64, s.outs)
	type corner struct {
		signs    [sha256.Size]byte
		settings string
	}
	alike := map[corner][]int{} // outputs
	var order []corner
	for k := range d.draws {
		s.corner(d.c.of(k), 1, dev)
		key := corner{sha256.Sum256(signs(dev)), fmt.Sprint(r.needs[k])}
		if alike[key] == nil {
			order = append(order, key)
		}
		alike[key] = append(alike[key], k)
	}
	for _, key := range order {
		ks := alike[key]
		for _, k := range ks {
			x := &d.draws[k]
			x.WorstHighA, x.WorstLowA = max(x.NominalA, x.HighA), min(x.NominalA, x.LowA)
		}
		part, c := r.of(r.needs[ks[0]]), d.c.of(ks[0])
		for _, up := range []float64{1, -1} {
			s.corner(c, up, dev)
			if err := s.evalPart(&part, dev, out); err != nil {
				return err
			}
			for _, k := range ks {
				x := &d.draws[k]
				x.WorstHighA, x.WorstLowA = max(x.WorstHighA, out[k]), min(x.WorstLowA, out[k])
			}
		}
	}
	return nil
}

// signs writes the senses of a corner as a key.
func signs(dev []float64) []byte {
	b := make([]byte, len(dev))
	for i, v := range dev {
		switch {
		case v > 0:
			b[i] = '+'
		case v < 0:
			b[i] = '-'
		default:
			b[i] = '0'
		}
	}
	return b
}

// corner fills dev with the end of every tolerance in the sense of sensitivities c times up.
func (s *side) corner(c []float64, up float64, dev []float64) {
	for i, h := range s.half {
		dev[i] = math.Copysign(h, c[i]*up)
		if c[i] == 0 {
			dev[i] = 0
		}
	}
	// What the bench moves goes together: one sense for each of its factors.
	var sense [benchFactors]float64
	for _, t := range s.bench {
		sense[t.factor] += c[t.input] * t.gain
	}
	for _, t := range s.bench {
		if sense[t.factor] != 0 {
			dev[t.input] += t.gain * math.Sqrt(3) * math.Copysign(1, sense[t.factor]*up)
		}
	}
}

// reels says which reels the uncertainty of output k comes from, largest first.
func (s *side) reels(d *drawn, k int) []ReelPart {
	type sum struct{ common, own float64 }
	by := map[string]*sum{}
	_, byFactor := d.c.variance(s.law, k)
	for f, v := range byFactor {
		o := s.origins[f]
		if v == 0 || o.reel == "" || o.class == benchPart {
			continue
		}
		if by[o.reel] == nil {
			by[o.reel] = &sum{}
		}
		if o.class == reelPart {
			by[o.reel].common += v
		} else {
			by[o.reel].own += v
		}
	}
	parts := make([]ReelPart, 0, len(by))
	for r, x := range by {
		parts = append(parts, ReelPart{Reel: r, CommonA: math.Sqrt(x.common), OwnA: math.Sqrt(x.own)})
	}
	slices.SortFunc(parts, func(a, b ReelPart) int {
		return cmp.Or(cmp.Compare(math.Hypot(b.CommonA, b.OwnA), math.Hypot(a.CommonA, a.OwnA)),
			cmp.Compare(a.Reel, b.Reel))
	})
	return parts
}
