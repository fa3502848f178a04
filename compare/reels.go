package compare

import (
	"slices"
	"strings"

	"sealworthy/compare/belief"
	"sealworthy/compare/plan"
)

// Reels is what the groups of a history tell of their reels of lights; none where
// nothing is shared.
func (j *Judge) Reels(h History) ([]belief.Reel, error) {
	plain, extra := j.standings(h.numbered())
	_, ms, err := j.measured(j.rowsOf(plain, extra, h.numbered(), nil))
	if err != nil || len(ms) < 2 {
		return nil, err
	}
	return belief.Reels(ms)
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
	x.Colour, x.Points, x.SpreadVolts, x.TempcoVPerK, x.Share, x.Source = d.Colour, d.Points, d.Volts.HalfWidth,
		d.TempcoVPerK, d.Volts.Share, d.Source
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
	x.HoldVolts = lt.HoldVolts()
	if pts := lt.Series[0].Points; len(pts) > 0 && len(pts) == 1 {
		x.Amps = pts[0].Amps
	} else if x.Amps == 0 && lt.Ohms.Nominal > 0 {
		x.Amps = (lt.RatedVolts - float64(len(lt.Series))*lt.Series[0].Volts.Nominal) / lt.Ohms.Nominal
	}
	return x
}
