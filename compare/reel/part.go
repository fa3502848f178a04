package reel

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Part makes an entry of the part book from what was learned of one reel:
// another nominal, and for the tolerance what is left of it for a single piece,
// with the share that its pieces still have in common. base is the part as the
// plan used it; name is that of the entry. The next build that names it starts
// from there; nothing else of the Learned may then be taken for that reel.
//
// Strips and pre-resistored SMDs change their current, LEDs their voltages. What
// was learned of the maker's own resistors belongs to no part.
func (l *Learned) Part(base plan.Part, reel, name string) (plan.Part, error) {
	var r *Reel
	if l != nil {
		if i := slices.IndexFunc(l.Reels, func(x Reel) bool { return x.Reel == reel }); i >= 0 {
			r = &l.Reels[i]
		}
	}
	if r == nil {
		return plan.Part{}, fmt.Errorf("nothing was learned of a reel %q", reel)
	}
	kind := wiring.BranchSpread
	if base.Kind == plan.PartLED {
		kind = wiring.LEDVolts
	} else if base.Kind != plan.PartStrip && base.Kind != plan.PartSMD {
		return plan.Part{}, fmt.Errorf("%s is a %s: reels hold strips, SMDs and LEDs", base.Name, base.Kind)
	}
	i := slices.IndexFunc(l.Factors, func(f Factor) bool { return f.Reel == reel && f.Kind == kind && f.Part == base.Name })
	if i < 0 {
		return plan.Part{}, fmt.Errorf("nothing was learned of %s, reel %q", base.Name, reel)
	}
	f := l.Factors[i]
	dev := f.HalfWidth * math.Sqrt(f.CommonShare) * f.Mean
	common := f.HalfWidth * f.HalfWidth * f.CommonShare * f.SD * f.SD
	total := common + f.HalfWidth*f.HalfWidth*(1-f.OwnShare)/3
	half := math.Sqrt(3 * total) // rectangular, as tolerances are
	p := base
	p.Name = name
	p.Source = l.source(*r)
	p.Share = 0.0
	if total > 0 {
		p.Share = common / total
	}
	if kind == wiring.LEDVolts {
		p.Points = slices.Clone(base.Points)
		for k := range p.Points {
			if p.Points[k].Volts += dev; !(p.Points[k].Volts > 0) {
				return plan.Part{}, fmt.Errorf("%s would have no forward voltage left", base.Name)
			}
		}
		p.SpreadVolts = half
		return p, nil
	}
	if !(dev > -1) {
		return plan.Part{}, fmt.Errorf("%s would draw nothing", base.Name)
	}
	p.Amps = base.Amps * (1 + dev)
	p.Tolerance = math.Min(0.9, half/(1+dev))
	return p, nil
}

// source is where the values of an entry come from.
func (l *Learned) source(r Reel) string {
	n := "1 group"
	if len(r.Groups) > 1 {
		n = fmt.Sprintf("%d groups", len(r.Groups))
	}
	t := "learned from " + n
	if l.Build != "" {
		t += " of " + l.Build
	}
	if l.Day != "" {
		t += ", " + l.Day
	}
	return t
}

// PartsOf lists what a reel was used as in a plan, each with the values that
// the plan took: what Part wants as its base. A nil book is the built-in one.
func PartsOf(p *plan.Plan, reel string, book *plan.Book) []plan.Part {
	if book == nil {
		book = plan.BuiltIn()
	}
	var out []plan.Part
	add := func(x plan.Part) {
		if !slices.ContainsFunc(out, func(y plan.Part) bool { return y.Name == x.Name }) {
			out = append(out, x)
		}
	}
	for _, g := range p.Groups {
		for _, lt := range g.Lights {
			if lt.Reel != reel || len(lt.Series) == 0 {
				continue
			}
			if lt.Kind == plan.LEDs {
				for _, d := range lt.Series {
					add(ledPart(d, book))
				}
				continue
			}
			add(wholePart(lt, book))
		}
	}
	return out
}

// ledPart is an LED as a part again.
func ledPart(d plan.LED, book *plan.Book) plan.Part {
	x, err := book.Find(d.Part)
	if err != nil || x.Kind != plan.PartLED {
		x = plan.Part{Name: d.Part, Kind: plan.PartLED, MaxAmps: d.MaxAmps, Conducts: d.Conducts}
	}
	x.Colour, x.Points, x.SpreadVolts, x.TempcoVPerK, x.Share, x.Source = d.Colour, d.Points, d.Volts.HalfWidth, d.TempcoVPerK, d.Volts.Share, d.Source
	return x
}

// wholePart is a strip or SMD as a part again: its current is that at which
// the plan took its LEDs' voltage.
func wholePart(lt plan.Light, book *plan.Book) plan.Part {
	kind := plan.PartSMD
	if lt.Kind == plan.Strip {
		kind = plan.PartStrip
	}
	x, err := book.Find(lt.Part)
	if err != nil || x.Kind != kind {
		x = plan.Part{Name: lt.Part, Kind: kind, LED: strings.TrimSpace(lt.Series[0].Part)}
	}
	x.RatedVolts, x.InSeries, x.CopperOhms = lt.RatedVolts, len(lt.Series), lt.CopperOhms.Nominal
	x.Tolerance, x.Share, x.Source = lt.BranchSpread.HalfWidth, lt.BranchSpread.Share, lt.Source
	if pts := lt.Series[0].Points; len(pts) > 0 && len(pts) == 1 {
		x.Amps = pts[0].Amps
	} else if x.Amps == 0 && lt.Ohms.Nominal > 0 {
		x.Amps = (lt.RatedVolts - float64(len(lt.Series))*lt.Series[0].Volts.Nominal) / lt.Ohms.Nominal
	}
	return x
}
