package belief

import (
	"fmt"
	"math"

	"sealworthy/compare/fault"
	"sealworthy/compare/wiring"
)

// share is one uncertain quantity: a deviation is common*c + own*e with e
// rectangular from -1 to 1 and c that of its reel.
type share struct {
	factor      int // of the reel; -1: none
	common, own float64
	shared      float64 // the planned share: common² by common² + own²
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
	// place is the factor of what all groups have in common that hang on it; -1: one group's.
	place int
	alike float64 // of the variance: the part that is the same for each of those groups
}

// uncertain is all of the circuit that isn't known and can move what is measured.
type uncertain struct {
	parts []parts // by side.list
	wires []wireParam
	// keys of all factors: of reels, of the bench, then of the parts' curves.
	keys   []FactorKey
	shared []float64 // planned share, by factor; 0: none
	params []param   // by factor; those that aren't of reels stay empty
	reels  int
	curves map[string][]curveWay // in which ways the curve of each part may be another
	kneeV  float64
}

// param is what is planned of what pieces of a reel have in common.
type param struct {
	factor wiring.Factor
	half   float64 // half-width of a piece, in the unit of its kind
	share  float64
}

// Factors of the bench come after those of the reels.
const (
	voltsFactor = iota
	leadsFactor
	tempFactor
)

// newUncertain finds out which quantities of the circuit can move what is measured.
func newUncertain(s *side, pr *fault.Priors) *uncertain {
	d := &uncertain{reels: s.w.Commons, parts: make([]parts, len(s.list)), curves: map[string][]curveWay{}}
	for _, f := range s.w.Factors {
		d.keys = append(d.keys, reelKey(f))
	}
	d.keys = append(d.keys, FactorKey{VoltsFactor, s.bench.Supply}, FactorKey{Kind: LeadsFactor},
		FactorKey{RoomFactor, s.bench.Sitting})
	d.shared, d.params = make([]float64, len(d.keys)), make([]param, len(d.keys))
	d.addCurves(s, pr)
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
		in := math.Min(1, math.Max(0, q.Value.Share))
		sh := share{q.Common, q.Value.HalfWidth * math.Sqrt(in), q.Value.HalfWidth * math.Sqrt(1-in), in}
		d.shared[q.Common] = math.Max(d.shared[q.Common], in)
		d.params[q.Common] = param{s.w.Factors[q.Common], q.Value.HalfWidth, in}
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
			d.wires = append(d.wires, wireParam{index: i, share: sh, perK: s.w.PerK(q), place: d.placeOf(q, i, s),
				alike: alikeOf(q.Kind)})
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

// placeOf is the factor of a quantity of one piece that sits in a joint or a return: every
// group that hangs on it has that very piece, and what it is off by.
func (d *uncertain) placeOf(q wiring.Param, at int, s *side) int {
	if q.Joint < 0 && q.Return < 0 || q.Value.Share != 0 {
		return -1
	}
	name, twins := string(q.Kind)+"\x00"+q.Name, 0 // two of a kind may sit in one joint
	for i := range s.w.Params[:at] {
		if x := &s.w.Params[i]; x.Kind == q.Kind && x.Name == q.Name {
			twins++
		}
	}
	d.keys = append(d.keys, FactorKey{PlaceFactor, fmt.Sprintf("%s\x00%d", name, twins)})
	d.shared, d.params = append(d.shared, 0), append(d.params, param{})
	return len(d.keys) - 1
}

// efficiencyAlike is the part of the variance of a converter's efficiency that it has at every
// draw alike: what it loses goes with the draw, and groups draw more and less (common practice, no
// source).
const efficiencyAlike = 0.8

func alikeOf(k wiring.ParamKind) float64 {
	if k == wiring.ConverterEff {
		return efficiencyAlike
	}
	return 1
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
