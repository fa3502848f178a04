package budget

import (
	"fmt"
	"math"
	"strings"

	"sealworthy/compare/scene"
)

// branchOf describes the least branch of a group as one of many equal ones,
// from where the uncertainty of its draw comes from.
func (m *model) branchOf(a *alone, gp groupPlace, g *Group) perBranch {
	i := g.Lit.NominalA
	b := perBranch{amps: g.SmallestA}
	if !(i > 0) || g.Branches == 0 {
		return b
	}
	own, common := 0.0, 0.0
	_, byFactor := a.drawn.c.variance(a.side.law, gp.out)
	for _, x := range byFactor {
		if o := a.side.origins[x.at]; o.class == ownPart && o.branch {
			own += x.c
		} else {
			common += x.c
		}
	}
	b.common = common / (i * i)
	b.own = own / (i * i) * float64(g.Branches)
	perK := 0.0
	for _, e := range a.drawn.c.of(gp.out) {
		if e.at == a.side.voltsI {
			b.perV = math.Abs(e.c) / i
		}
		perK += e.c * a.side.perK[e.at]
	}
	b.perK = math.Abs(perK) / i
	return b
}

// see says what can be seen of a group with the meter in use.
func (m *model) see(a *alone, f *feedPlace, gp groupPlace, g *Group) {
	if m.at.Accuracy == nil || g.AsFound || !(g.SmallestA > 0) {
		return
	}
	meter := *m.at.Accuracy
	reading := a.drawn.draws[f.outs[gp.level]].NominalA
	b := m.branchOf(a, gp, g)
	same, other := sameMeter(m.at.SetHalfV(), m.at.Room.HalfC, meter), otherMeter(m.at.SetHalfV(), m.at.Room.HalfC,
		meter)
	// The whole feed is read, also where a board's standing draw comes with the group.
	change := func(c comparison) float64 {
		drift := b.changeU(1, comparison{setVolts: c.setVolts, tempK: c.tempK}) / b.amps * g.Lit.NominalA
		um := c.meter.U(reading)
		return seen * math.Sqrt(drift*drift+2*um*um+2*c.repeat*c.repeat*reading*reading)
	}
	v := Visible{Known: true,
		PlanA:        seen * math.Hypot(g.Lit.UA, meter.U(reading)),
		AsBuiltA:     change(same),
		OtherMeterA:  change(other),
		MaxOnPlan:    mostBranches(b.amps, func(n int) float64 { return b.planU(n, meter) }),
		MaxOnAsBuilt: mostBranches(b.amps, func(n int) float64 { return b.changeU(n, same) }),
	}
	v.OnPlan, v.OnAsBuilt = g.SmallestA >= v.PlanA, g.SmallestA >= v.AsBuiltA
	if !v.OnPlan {
		v.Advice = m.advise(b, g, v, meter, reading)
	}
	g.Visible = v
}

// sampled is how well a reel is known after one to five of its pieces were
// measured: ±5 % common to all (practice, no source: a sampled reel ±5 to 10 %).
const sampled = 0.05

// advise says what would make a dead branch visible.
func (m *model) advise(b perBranch, g *Group, v Visible, meter scene.Accuracy, reading float64) []string {
	var a []string
	if share := g.Lit.NominalA / float64(max(1, g.Branches)); g.Branches > 1 && g.SmallestA < share/2 {
		// When one goes dark the others take its current: smaller parts show no more.
		if g.Board != "" {
			a = append(a, "give each light a resistor of its own: they share one, and where one goes dark the "+
				"others take its current")
		}
		return append(a, lookAdvice(v))
	}
	if v.MaxOnPlan >= 1 && v.MaxOnPlan < g.Branches {
		parts := (g.Branches + v.MaxOnPlan - 1) / v.MaxOnPlan
		a = append(a, fmt.Sprintf("measure it in %d parts of at most %s each, before they are joined", parts,
			many(v.MaxOnPlan, unitOf(g.SmallestText))))
	}
	// Would it be seen if the reel were known?
	if b.common > sampled*sampled/3 {
		known := b
		known.common = sampled * sampled / 3
		if n := mostBranches(b.amps, func(n int) float64 { return known.planU(n, meter) }); n > v.MaxOnPlan {
			do := "measure a sample"
			if len(g.Reels) > 0 && g.Reels[0].Reel != "" {
				do += " of " + g.Reels[0].Reel
				if !m.lightsReel(g.Reels[0].Reel) {
					// A board or a converter is no reel to take pieces from.
					do = "measure the " + g.Reels[0].Reel + " by itself and write its values into the plan"
				}
			}
			a = append(a, fmt.Sprintf("%s: then up to %s can be one group", do, many(n, unitOf(g.SmallestText))))
		}
	}
	if um := meter.U(reading); um > g.Lit.UA/2 {
		fine := scene.Accuracy{OfReading: meter.OfReading}
		if fine.U(reading) < 0.7*um {
			a = append(a, fmt.Sprintf("use a finer range: the last digits of this one are worth %s",
				amps(meter.FloorA)))
		} else if m.at.Accuracy.OfReading > 0 {
			a = append(a, "use a better meter: this one's error is the larger part")
		}
	}
	return append(a, lookAdvice(v))
}

func lookAdvice(v Visible) string {
	if v.OnAsBuilt {
		return "look at every light while it's lit and keep the reading: against it, a light that fails later will show"
	}
	return "look at every light while it's lit: the meter can't replace the look"
}

// lightsReel tells whether a reel is one of lights.
func (m *model) lightsReel(reel string) bool {
	for _, g := range m.p.Groups {
		for _, l := range g.Lights {
			if l.Reel == reel || l.Part == reel {
				return true
			}
		}
	}
	return false
}

// unitOf says what a group is counted in: segment, branch or light.
func unitOf(smallest string) string {
	for _, u := range []string{"segment", "branch"} {
		if strings.HasPrefix(smallest, "one "+u+" ") {
			return u
		}
	}
	return "light"
}

// seeing turns what can't be seen into checks.
func (b *Budget) seeing() []Check {
	var out []Check
	for _, g := range b.Groups {
		at := Check{Severity: Advice, Group: g.Group, Board: g.Board, Output: g.Output, Closure: g.Closure, Pos: g.Pos}
		if v := g.Visible; v.Known && !v.OnPlan {
			at.Kind, at.Value, at.Limit, at.Unit = KindInvisible, g.SmallestA, v.PlanA, "A"
			at.Text = fmt.Sprintf("%s: %s gone dark takes %s away, on the plan only %s or more can be seen: %s",
				quote(g.Group), g.SmallestText, amps(g.SmallestA), amps(v.PlanA), strings.Join(v.Advice, "; "))
			out = append(out, at)
		}
	}
	return append(out, b.alike()...)
}

// alike gathers twins into sets, so that six equal groups are one line.
func (b *Budget) alike() []Check {
	var out []Check
	type place struct{ jack, group string }
	beside := map[place][]string{} // in the order of the twins
	for _, t := range b.Twins {
		x, y := place{t.Jack, t.A}, place{t.Jack, t.B}
		beside[x], beside[y] = append(beside[x], t.B), append(beside[y], t.A)
	}
	done := map[place]bool{}
	for _, t := range b.Twins {
		if done[place{t.Jack, t.A}] {
			continue
		}
		set := []string{t.A}
		seen := map[string]bool{t.A: true}
		for i := 0; i < len(set); i++ {
			for _, other := range beside[place{t.Jack, set[i]}] {
				if !seen[other] {
					seen[other] = true
					set = append(set, other)
				}
			}
		}
		for i, name := range set {
			done[place{t.Jack, name}] = true
			set[i] = quote(name)
		}
		out = append(out,
			Check{Severity: Advice, Kind: KindTwins, Group: t.A, Jack: t.Jack, Value: t.Distance,
				Limit: twinDistance,
				Text: fmt.Sprintf(
					"from jack %s a dead light in %s will look the same later; now is the time to %s",
					quote(t.Jack), someOf(set), strings.Join(t.Cures, ", or "))})
	}
	return out
}
