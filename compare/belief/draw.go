package belief

import (
	"math"
	"math/rand/v2"

	"sealworthy/compare/wiring"
)

// share is one uncertain quantity: a deviation is common*c + own*e with e
// rectangular from -1 to 1 and c that of its reel.
type share struct {
	factor      int // of the reel; -1: none
	common, own float64
}

// parts are the uncertain quantities of one branch.
type parts struct {
	ohms, spread share
	leds         []share
	tempco       []float64 // V per K, by LED
}

// wireParam is an uncertain quantity that isn't a branch's.
type wireParam struct {
	index int
	share
	perK float64 // what temperature makes of it
}

// dice throws the trials: what is common to a reel and to the bench is drawn
// beforehand, so that its mean and variance come out exactly; every hypothesis
// meets the same throws.
type dice struct {
	parts   []parts // by side.list
	wires   []wireParam
	factors int
	learned commons
	trials  int
	throws  []float64 // by factor, then trial; after the reels': voltage, leads, temperature
	pcg     *rand.PCG
	dev     []deviation // by side.list: of the present trial
	c       []float64   // of the present trial
	z       []float64
}

// Bench factors come after those of the reels.
const (
	voltsFactor = iota
	leadsFactor
	tempFactor
	benchFactors
)

// newDice finds out which quantities of the circuit can move what is measured.
func newDice(s *side, learned commons) *dice {
	d := &dice{factors: s.w.Commons, learned: learned, parts: make([]parts, len(s.list)), dev: make([]deviation, len(s.list))}
	at := map[[2]int]int{} // group, branch to side.list
	first := map[[2]int]int{}
	for i := range s.list {
		b := &s.list[i]
		if _, ok := first[[2]int{b.group, b.light}]; !ok {
			first[[2]int{b.group, b.light}] = i
		}
		light := &s.p.Groups[b.group].Lights[b.light]
		p := &d.parts[i]
		p.ohms.factor, p.spread.factor = -1, -1
		p.leds, p.tempco = make([]share, len(light.Series)), make([]float64, len(light.Series))
		for k := range p.leds {
			p.leds[k].factor = -1
			p.tempco[k] = light.Series[k].TempcoVPerK
		}
		d.dev[i] = deviation{factor: 1, shifts: make([]float64, len(light.Series))}
	}
	for _, gi := range s.groups {
		n := 0
		for i := range s.list {
			if b := &s.list[i]; b.group == gi && b.id >= 0 {
				at[[2]int{gi, n}] = i
				n++
			}
		}
	}
	for i, q := range s.w.Params {
		common, own := learned.Split(q)
		sh := share{q.Common, q.Value.HalfWidth * common, q.Value.HalfWidth * own}
		if q.Branch >= 0 {
			k, ok := at[[2]int{q.Group, q.Branch}]
			if !ok {
				continue
			}
			switch q.Kind {
			case wiring.BranchOhms:
				d.parts[k].ohms = sh
			case wiring.BranchSpread:
				d.parts[k].spread = sh
			case wiring.LEDVolts:
				d.parts[k].leds[q.LED] = sh
			}
			continue
		}
		if s.moves(q) {
			d.wires = append(d.wires, wireParam{index: i, share: sh, perK: s.w.PerK(q)})
		}
	}
	// A spare branch is one more of its light.
	for i := range s.list {
		if b := &s.list[i]; b.id < 0 {
			d.parts[i] = d.parts[first[[2]int{b.group, b.light}]]
		}
	}
	return d
}

// moves says whether a quantity that isn't a branch's can change what is measured.
func (s *side) moves(q wiring.Param) bool {
	if q.Group < 0 && q.Board < 0 {
		return true // joints and returns; those aside carry nothing
	}
	for _, gi := range s.groups {
		if q.Group == gi || q.Board >= 0 && s.p.Groups[gi].Board == s.p.Boards[q.Board].Name {
			return true
		}
	}
	return false
}

// mostStraight: with more factors than this their chance correlations are left in.
const mostStraight = 40

// throw draws what is common in all trials. Means are brought to zero and
// variances to theirs; few factors are made uncorrelated.
func (d *dice) throw(trials int, seed uint64) {
	d.trials = trials
	d.pcg = rand.NewPCG(seed, 0x5ea1)
	n := d.factors + benchFactors
	d.throws = make([]float64, n*trials)
	d.c, d.z = make([]float64, n), make([]float64, n)
	normal := rand.New(d.pcg)
	for j := range n {
		col := d.throws[j*trials : (j+1)*trials]
		want := 1.0 / 3
		known := false
		if j < d.factors {
			_, _, known = d.learned.Shape(j)
		}
		for t := range col {
			if known {
				col[t] = normal.NormFloat64()
			} else {
				col[t] = d.unit()
			}
		}
		if known {
			want = 1
		}
		settle(col, want)
		if n > mostStraight || trials < 10*n {
			continue
		}
		for i := range j {
			other := d.throws[i*trials : (i+1)*trials]
			dot, norm := 0.0, 0.0
			for t := range col {
				dot += col[t] * other[t]
				norm += other[t] * other[t]
			}
			for t := range col {
				col[t] -= dot / norm * other[t]
			}
		}
		settle(col, want)
	}
}

// settle brings a column to mean 0 and a variance.
func settle(col []float64, variance float64) {
	if len(col) < 2 {
		return
	}
	m, v := 0.0, 0.0
	for _, x := range col {
		m += x
	}
	m /= float64(len(col))
	for _, x := range col {
		v += (x - m) * (x - m)
	}
	f := math.Sqrt(variance * float64(len(col)) / v)
	for t := range col {
		col[t] = (col[t] - m) * f
	}
}

// unit is rectangular from -1 to 1.
func (d *dice) unit() float64 { return float64(d.pcg.Uint64()>>11)*0x1p-52 - 1 }

// trial fills dev and c for one trial. Trials are asked for in order.
func (d *dice) trial(t int, s *side) {
	for j := range d.c {
		d.z[j] = d.throws[j*d.trials+t]
	}
	for j := range d.factors {
		mean, chol, known := d.learned.Shape(j)
		if !known {
			d.c[j] = d.z[j]
			continue
		}
		x := mean
		for i, l := range chol[:j+1] {
			x += l * d.z[i]
		}
		d.c[j] = x
	}
	copy(d.c[d.factors:], d.z[d.factors:])
	warm := d.c[d.factors+tempFactor] * s.bench.halfC()
	for i := range d.parts {
		p, dev := &d.parts[i], &d.dev[i]
		if p.ohms.factor >= 0 {
			dev.ohms = d.of(&p.ohms)
		}
		if p.spread.factor >= 0 {
			dev.factor = math.Max(0.01, 1+d.of(&p.spread))
			dev.mLog = math.Log(dev.factor)
		}
		dev.shift = 0
		for k := range p.leds {
			x := p.tempco[k] * warm
			if p.leds[k].factor >= 0 {
				x += d.of(&p.leds[k])
			}
			dev.shifts[k] = x
			dev.shift += x
		}
	}
}

func (d *dice) of(s *share) float64 {
	x := s.common * d.c[s.factor]
	if s.own != 0 {
		x += s.own * d.unit()
	}
	return x
}
