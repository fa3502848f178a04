package budget

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"
)

// differLimit: by how much of u mean or u of the two propagations may differ
// before it is said. A tenth changes no verdict.
const differLimit = 0.1

// drawn is what came out of a side: one Draw for each output, and what is
// needed to say where its uncertainty comes from.
type drawn struct {
	draws  []Draw
	senses []uint64 // by output: in which sense each input moves it, as a key
	places map[placeOf]placeBand
	c      *sens
	trials int
}

// propagate carries the law of a side into all its outputs, both ways.
func (s *side) propagate(seed uint64, at At) (*drawn, error) {
	forks, err := s.forks()
	if err != nil {
		return nil, err
	}
	nominal := make([]float64, s.outs)
	rest := make([]float64, s.law.inputs)
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
		c, err = s.wholeSensitivities(forks, nominal, r)
	} else {
		var each []moved
		moves := s.inputs(r)
		for _, x := range forks {
			each = append(each, x.moved(moves))
		}
		c, err = sensitivities(s.step(), s.like(), nominal, each...)
	}
	if err != nil {
		return nil, err
	}
	d := &drawn{draws: make([]Draw, s.outs), senses: make([]uint64, s.outs), c: c, trials: at.Trials}
	rows, err := monteCarlo(s.law, seed, 0, at.Trials, s.outs+2*len(s.places), evals...)
	if err != nil {
		return nil, err
	}
	d.places = s.bandsOfPlaces(rows)
	for k := range d.draws {
		v, byFactor := c.variance(s.law, k)
		lin := math.Sqrt(v)
		m := summarise(rows[k], Coverage)
		d.draws[k] = Draw{NominalA: nominal[k], MeanA: m.mean, UA: m.u, LinearUA: lin, LowA: m.low, HighA: m.high,
			Differ: differ(nominal[k], lin, m, d.trials, differLimit)}
		s.split(&d.draws[k], byFactor)
		d.senses[k] = signs(c.of(k)) // while its row is written out
	}
	if err := s.worst(d, r); err != nil {
		return nil, err
	}
	// Leave everything as it was found: at rest.
	return d, s.eval(rest, nominal)
}

// split shares the uncertainty of the trials out in the proportions of the linear one.
func (s *side) split(d *Draw, byFactor []entry) {
	var v [3]float64
	sum := 0.0
	for _, x := range byFactor {
		v[s.origins[x.at].class] += x.c
		sum += x.c
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
	type corner struct {
		signs    uint64
		settings string
	}
	alike := map[corner][]int{} // outputs
	var order []corner
	for k := range d.draws {
		key := corner{d.senses[k], fmt.Sprint(r.needs[k])}
		if alike[key] == nil {
			order = append(order, key)
		}
		alike[key] = append(alike[key], k)
		x := &d.draws[k]
		x.WorstHighA, x.WorstLowA = max(x.NominalA, x.HighA), min(x.NominalA, x.LowA)
	}
	dev, out := make([]float64, s.law.inputs), make([]float64, s.outs)
	for _, up := range []float64{1, -1} {
		held := make([][]float64, len(s.settings))
		for _, key := range order {
			ks := alike[key]
			part, c := r.of(r.needs[ks[0]]), d.c.of(ks[0])
			s.corner(c, up, dev)
			var err error
			if s.allOfIt && len(part.settings) == 1 {
				if err = s.besideCorner(part.settings[0], dev, out, held); err == nil {
					s.compose(&part, dev, out)
				}
			} else {
				err = s.evalPart(&part, dev, out)
			}
			if err != nil {
				return err
			}
			for _, k := range ks {
				x := &d.draws[k]
				x.WorstHighA, x.WorstLowA = max(x.WorstHighA, out[k]), min(x.WorstLowA, out[k])
			}
			for _, e := range c {
				dev[e.at] = 0
			}
		}
	}
	return nil
}

// besideCorner reads a setting of the whole model at a corner. Those of two groups differ
// by what the groups themselves and the wires to them are: one is held, and others are near.
func (s *side) besideCorner(setting int, dev, out []float64, held [][]float64) error {
	t := s.settings[setting]
	src := t.src
	src.EmfV = math.Max(0, src.EmfV+dev[s.voltsI])
	from := held[setting]
	var other []int
	far := from == nil
	for i := 0; i < len(from) && !far; i++ {
		if dev[i] != from[i] {
			other = append(other, i)
			far = i >= s.params || len(other) > s.params/4
		}
	}
	if far {
		if err := t.solve(s, dev); err != nil {
			return err
		}
		held[setting] = slices.Clone(dev)
		if err := t.w.Hold(src); err != nil {
			return err
		}
		t.read(out)
		return nil
	}
	for _, i := range other {
		t.w.Apply(i, dev[i])
	}
	err := t.w.Near(src)
	for _, i := range other {
		t.w.Apply(i, from[i])
	}
	t.read(out)
	return err
}

// signs is a key of the senses of a corner.
func signs(c []entry) uint64 {
	const prime = 0x9e3779b97f4a7c15
	h := uint64(len(c))
	for _, e := range c {
		x := uint64(e.at) << 1
		if e.c > 0 {
			x++
		}
		h = bits.RotateLeft64((h^x)*prime, 31)
	}
	return h
}

// corner fills dev with the end of every tolerance in the sense of sensitivities c times up.
func (s *side) corner(c []entry, up float64, dev []float64) {
	var sense [benchFactors]float64
	for _, e := range c {
		dev[e.at] = math.Copysign(s.half[e.at], e.c*up)
		sense[s.bench[e.at].factor] += e.c * s.bench[e.at].gain
	}
	// What the bench moves goes together: one sense for each of its factors.
	for _, e := range c {
		if t := s.bench[e.at]; t.gain != 0 && sense[t.factor] != 0 {
			dev[e.at] += t.gain * math.Sqrt(3) * math.Copysign(1, sense[t.factor]*up)
		}
	}
}

// reels says which reels the uncertainty of output k comes from, largest first.
func (s *side) reels(d *drawn, k int) []ReelPart {
	type sum struct{ common, own float64 }
	by := map[string]*sum{}
	_, byFactor := d.c.variance(s.law, k)
	for _, x := range byFactor {
		o, v := s.origins[x.at], x.c
		if o.reel == "" || o.class == benchPart {
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
