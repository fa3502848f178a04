package belief

import (
	"math"
	"slices"

	"sealworthy/compare/fault"
)

// interest is a fault that must be excluded before a group passes: the loss of
// the least branch of one light, or the least gain that overloads LEDs of it.
type interest struct {
	hyp     int
	variant int
	reel    string
	gain    bool
	delta   []float64 // by voltage
}

// interests are, of each light, the loss of its least branch and its least dangerous
// gain.
func (s *side) interests(hs []Hypothesis, vs []*variant, m *moments) []interest {
	var out []interest
	gains := map[[2]int]interest{} // by group and light
	top := s.service()
	for i, v := range vs {
		if v.how != altered {
			continue
		}
		rep := &s.list[v.branch]
		light := &s.p.Groups[rep.group].Lights[rep.light]
		x := interest{hyp: v.hyp, reel: reelOf(light), delta: make([]float64, m.n)}
		for k := range x.delta {
			x.delta[k] = m.of[i].mean[k] - m.healthy.mean[k]
		}
		switch k := hs[v.hyp].Faults[0].Kind; {
		case k == fault.OpenBranch, k == fault.DarkSegment:
			for k, part := range s.leastOf(rep) {
				x.delta[k] *= part
			}
			out = append(out, x)
		case s.overloads(v, top):
			at := [2]int{rep.group, rep.light}
			x.gain = true
			if was, ok := gains[at]; !ok || x.delta[top] < was.delta[top] {
				gains[at] = x
			}
		}
	}
	for _, x := range out[:len(out):len(out)] {
		rep := &s.list[vs[slices.IndexFunc(vs, func(v *variant) bool { return v.hyp == x.hyp })].branch]
		if g, ok := gains[[2]int{rep.group, rep.light}]; ok {
			out = append(out, g)
		}
	}
	return out
}

// leastOf is, by voltage, what part of a branch's current the least one of its light has.
func (s *side) leastOf(rep *branch) []float64 {
	out := make([]float64, len(s.volts))
	for k := range out {
		least := rep.i[k]
		for j := range s.list {
			if b := &s.list[j]; b.id >= 0 && b.group == rep.group && b.light == rep.light {
				least = math.Min(least, b.i[k])
			}
		}
		if rep.i[k] > 0 {
			out[k] = least / rep.i[k]
		}
	}
	return out
}

// overTimes as much as planned overloads an LED of which no rating is stated (common
// practice, no source).
const overTimes = 1.5

// overloads: LEDs are still lit in an altered branch, and carry more than they may.
func (s *side) overloads(v *variant, top int) bool {
	rep := &s.list[v.branch]
	if v.law.kind != lawDiode || rep.id < 0 || !(rep.i[top] > leastProbeA) || v.delta[top] <= 0 {
		return false
	}
	most := math.Inf(1)
	for _, led := range s.p.Groups[rep.group].Lights[rep.light].Series {
		bears := overTimes * rep.i[top]
		if led.MaxAmps > 0 {
			bears = math.Max(led.MaxAmps, 1.1*rep.i[top])
		}
		most = math.Min(most, bears)
	}
	return rep.i[top]+v.delta[top]/v.gain[top] > most
}
