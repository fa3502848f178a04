package compare

import (
	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/words"
)

// tripCauses names what made too much flow: the faults that would have passed
// the points of the ramp before and not the one at which it stopped. What
// flowed there says little, for the supply held it back.
func (s step) tripCauses(f Finding) []Cause {
	w, err := s.wired(f.Group)
	if err != nil {
		return []Cause{{Name: "unknown", Text: err.Error()}}
	}
	var ramp []fault.RampPoint
	at := 0
	for _, p := range s.r.Step.Ramp {
		if n := len(ramp); n > 0 && ramp[n-1].Volts == p.Volts {
			ramp[n-1].MaxA = p.MaxA // the surge of a board and its work have one voltage
			continue
		}
		ramp = append(ramp, fault.RampPoint{Volts: p.Volts, MaxA: p.MaxA})
		if p.Volts <= s.r.TripVolts+1e-9 {
			at = len(ramp) - 1
		}
	}
	var out []Cause
	if ranked, err := fault.Trip(w, f.Group, ramp, at, s.j.priors()); err == nil {
		for _, r := range ranked {
			if len(out) < shownCauses && r.P >= leastP {
				out = append(out, Cause{Name: string(r.Fault.Kind), Kinds: kindNames(r.Kinds),
					Text: words.Fault(s.j.Expected.Plan, r.Fault, r.Kinds), P: round2(r.P)})
			}
		}
	}
	if len(out) == 0 {
		out = []Cause{{Name: "unknown", Text: words.MoreThanAnyFault(f.Group)}}
	}
	return orAnother(out, s.b, s.r.Step.Feed, f)
}

// orAnother adds to causes the other feeds that draw as much as was measured of one: the clip
// may have been on one of them, or their wires are swapped.
func orAnother(causes []Cause, b *budget.Budget, feed string, f Finding) []Cause {
	var others []string
	for _, x := range b.Feeds {
		if x.Feed == feed || x.AsFound || len(others) == mostLike {
			continue
		}
		c, err := b.Curve(x.Feed, f.VoltsSet)
		if err == nil && len(c) == 1 && f.MeasuredA > nothingA && f.MeasuredA >= c[0].LowA && f.MeasuredA <= c[0].HighA {
			others = append(others, x.Feed)
		}
	}
	if len(others) == 0 {
		return causes
	}
	return append(causes, Cause{Name: "another feed", Text: words.LikeAnother(others, f.VoltsSet)})
}

// orAnother is that of a group of which none of the usual faults explains the draw.
func (j *Judge) orAnother(causes []Cause, f Finding) []Cause {
	if len(causes) == 0 || causes[0].Name != string(fault.Unknown) || f.Board != "" || f.Way != string(capture.Alone) {
		return causes
	}
	b, err := j.Expected.At(f.evidence.scene)
	if err != nil {
		return causes
	}
	return orAnother(causes, b, f.Group, f)
}

// mostLike of the feeds that draw as much are named.
const mostLike = 3
