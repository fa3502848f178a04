package belief

import (
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
)

// alike: places that the same readings hang on, and one cause at its several sizes.
func (x *cause) alike(o *cause) bool {
	if len(x.Spots) > 0 && len(o.Spots) > 0 {
		return slices.Equal(x.hangs, o.hangs) && x.loose == o.loose
	}
	return x.Kind == o.Kind && x.Reel == o.Reel && x.Lack == o.Lack && (x.Lack || slices.Equal(x.hangs, o.hangs))
}

// shownAs sums up a class: its probability, its size and the groups that show it.
func (t *together) shownAs(class []*outcome) Shared {
	best := class[0]
	var out Shared
	var spots []fault.Spot
	for _, o := range class {
		out.P += o.p
		if o.log > best.log {
			best = o
		}
		for _, s := range o.Spots {
			if !slices.Contains(spots, s) {
				spots = append(spots, s)
			}
		}
	}
	out.Common = best.Common
	for i, h := range best.hangs {
		if h {
			out.reaches = append(out.reaches, t.name(i))
		}
	}
	out.Spots = spots
	mean := func(of func(o *outcome) float64) float64 {
		sum, weight := 0.0, 0.0
		for _, o := range class {
			if o.Open == best.Open && o.Kind == best.Kind {
				w := math.Exp(o.log - best.log)
				sum, weight = sum+w*of(o), weight+w
			}
		}
		return sum / weight
	}
	switch {
	case best.Lack, best.Open:
	case len(spots) > 0:
		out.Ohms = math.Exp(mean(func(o *outcome) float64 { return math.Log(o.Ohms) + o.size*o.each }))
	case best.Kind == fault.SupplyOff:
		out.Volts = mean(func(o *outcome) float64 { return o.Volts + o.size*o.each })
	default:
		out.Factor = mean(func(o *outcome) float64 { return 1 + o.size*o.each })
	}
	t.witnesses(&out, best)
	return out
}

// How clearly a group must show a cause, in standard uncertainties, and how much of what
// the cause would make of it.
const (
	clearU  = 2.0
	shouldU = 3.0 // should be off by so much and isn't: it speaks against it
	halfOf  = 0.5
)

// leastShown: of a cause that is less probable nobody asks which groups show it.
const leastShown = 0.2

// witnesses sorts the groups that hang on a cause: what the readings that it doesn't
// reach lead to expect, against what was seen and what the cause makes of it.
func (t *together) witnesses(out *Shared, o *outcome) {
	if out.P < leastShown {
		return
	}
	off := t.offBeside(o)
	rest := t.rest(0, o.hangs)
	for i, h := range o.hangs {
		if !h {
			continue
		}
		by, u := t.offBy(&rest, i, o.loose)
		makes := t.makes(o, i)
		list := &out.CantShow
		for a := range by {
			switch {
			case math.Abs(by[a]) >= clearU*u[a] && by[a]/makes[a] >= halfOf:
				list = &out.Shows
			case math.Abs(makes[a]) >= shouldU*u[a] && by[a]/makes[a] < halfOf && list != &out.Shows:
				list = &out.Against
			}
		}
		planned := len(o.Spots) > 0 && o.units[i].p[hangsElsewhere] < evenOdds
		if (list != &out.Against || planned) && slices.Contains(off, t.name(i)) {
			list = &out.Besides
		}
		*list = append(*list, t.name(i))
	}
	for i, h := range o.hangs {
		if !h && slices.Contains(off, t.name(i)) {
			out.Besides = append(out.Besides, t.name(i))
		}
	}
	out.NotMeasured = t.notMeasured(out)
}

// notMeasured are the groups that hang on the places of a cause without a reading
// that could show it.
func (t *together) notMeasured(out *Shared) []string {
	var names []string
	if len(out.Spots) == 0 {
		return nil
	}
	for _, g := range t.p.Groups {
		known := slices.Contains(slices.Concat(out.Shows, out.Against, out.CantShow, out.Besides), g.Name)
		if !known && out.Spots[0].Feeds(t.p, g) {
			names = append(names, g.Name)
		}
	}
	return names
}

// makes is what a cause makes of a group's readings joined, A.
func (t *together) makes(o *outcome, i int) []float64 {
	e := t.ms[i].Ensemble
	var out []float64
	for a, k := range t.views[i].at {
		m := e.m.healthy.mean[k]
		x := 0.0
		switch {
		case o.pattern != nil:
			x = float64(o.pattern.times[i]) * e.interest[o.pattern.at[i]].delta[k]
		case o.left[i] != nil:
			x = (o.left[i][a] - 1) * m
		}
		if o.pattern == nil && o.step[i] != nil {
			x += o.size * o.step[i][a]
		}
		out = append(out, x)
	}
	return out
}

// offBy is what a group's readings joined are off by, and the standard uncertainty of what
// is expected of them, by what the others say and, where the cause doesn't reach it, what
// was read of it loose. A.
func (t *together) offBy(rest *cloud, i int, loose bool) (off, u []float64) {
	a := t.both(i, &t.ms[i].Ensemble.m.healthy, nil, t.ways[0].s)
	x := t.unit(i, []alternative{a})
	mean, cov := rest.predict(&x, 0)
	k, n := len(t.views[i].at), len(x.y)
	d := make([]float64, n)
	for r := range d {
		d[r] = x.y[r] - mean[r]
	}
	off, u = d[:k:k], make([]float64, k)
	l := n - k
	if loose {
		l = 0
	}
	known := make([]float64, l*l)
	for p := range l {
		copy(known[p*l:], cov[(k+p)*n+k:(k+p)*n+k+l])
	}
	linear.FactorHeld(known, l)
	seen := slices.Clone(d[k : k+l])
	linear.Forward(known, l, seen)
	for r := range k {
		g := slices.Clone(cov[r*n+k : r*n+k+l])
		linear.Forward(known, l, g)
		off[r] -= linear.Dot(g, seen)
		u[r] = math.Sqrt(math.Max(cov[r*n+r]-linear.Dot(g, g), 1e-3*cov[r*n+r]))
	}
	return off, u
}
