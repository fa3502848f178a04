package compare

import (
	"cmp"
	"math"
	"slices"

	"sealworthy/compare/budget"
	"sealworthy/compare/words"
)

// remedy is one thing that makes the doubt about a draw smaller, and the standard
// uncertainty that it leaves, A.
type remedy struct {
	text   string
	leaves float64
}

const (
	// samplePieces of a reel are measured for a sample.
	samplePieces = 10
	// worthwhile: what leaves more than this part of the doubt isn't told.
	worthwhile = 0.9
	// meterCounts: a meter with less of the variance than this isn't what is in the way.
	meterCounts = 0.25
	// mostRemedies are told at once.
	mostRemedies = 3
)

// whatSettles says why a draw can't be told, and what would settle it: first what
// shrinks the doubt most, with by how much. u is the standard uncertainty of measured
// less expected, A.
func (s step) whatSettles(f Finding, u float64) (why string, settle []string) {
	g, _ := s.b.GroupNamed(f.Group)
	why = words.OutsideBand(f.MeasuredA, f.Band.LowA, f.Band.HighA)
	if s.j.Rule.CanPass(u, f.SmallestA) {
		why += words.NotWhatHealthy(f.MeasuredA, f.ExpectedA, f.SmallestA, g.SmallestText)
	} else {
		why += words.CouldHide(g.SmallestText, f.SmallestA, s.j.Rule.Guard*u)
	}
	if len(g.Losses) > 1 && len(s.r.Points) == 0 && f.Board == "" {
		settle = append(settle, words.SecondVolts)
	}
	for _, r := range s.remedies(f, g, u) {
		settle = append(settle, words.Shrinks(r.text, s.j.Rule.Guard*r.leaves, s.j.Rule.Guard*u))
	}
	return why, append(settle, words.LookAtIt)
}

// remedies are what would make the doubt smaller, the most first:
//
//	a sample of n pieces of a reel, for N branches: u² - c² + o² N/n
//	another group of the reel:                      u² - c² + o²
//	the half of it:                                 (u² - o² - m²)/4 + o²/2 + m²
//	a better meter:                                 u² - m²
//	once more:                                      u² - m²/2
//
// c and o are what the pieces have in common and each by itself, m the meter's. What is in
// common goes, never what they scatter by: u² is drawn, c² and o² are computed.
func (s step) remedies(f Finding, g budget.Group, u float64) []remedy {
	c2, o2, reel := s.reelDoubt(f, g)
	m2, u2 := f.MeasuredU*f.MeasuredU, u*u
	n := float64(max(1, g.Branches))
	known := math.Max(u2-c2, o2+m2) // where what is in common is known
	var all []remedy
	add := func(text string, leaves2 float64) {
		if r := (remedy{text, math.Sqrt(math.Max(0, leaves2))}); r.leaves < worthwhile*u {
			all = append(all, r)
		}
	}
	switch {
	case reel == "":
	case g.Branches > 1:
		add(words.SampleReel(reel, samplePieces), known+math.Min(c2, o2*n/samplePieces))
	default:
		add(words.SamplePart(reel), math.Max(u2-c2-o2, m2))
	}
	if f.Learned == "" && s.sharesReel(g) {
		add(words.OthersOfReel, known+math.Min(c2, o2))
	}
	if g.Branches > 1 && f.Board == "" && s.partsHelp(g) {
		add(words.SmallerParts, (u2-o2-m2)/4+o2/2+m2)
	}
	if m2 > meterCounts*u2 {
		add(words.FinerRange, u2-m2)
		add(words.OnceMore, u2-m2/2)
	}
	slices.SortStableFunc(all, func(a, b remedy) int { return cmp.Compare(a.leaves, b.leaves) })
	return all[:min(len(all), mostRemedies)]
}

// partsHelp: a branch that goes dark takes its own share of the draw away, so that in
// a smaller part it is a larger share.
func (s step) partsHelp(g budget.Group) bool {
	return g.SmallestA > g.Lit.NominalA/float64(2*max(1, g.Branches))
}

// reelDoubt is the variance, A², that the pieces of the reel with the largest have in
// common, and what each adds by itself; what other groups told already is gone.
func (s step) reelDoubt(f Finding, g budget.Group) (common, own float64, reel string) {
	for _, r := range g.Reels {
		if v := r.CommonA*r.CommonA + r.OwnA*r.OwnA; s.hasReel(f.Group, r.Reel) && v > common+own {
			common, own, reel = r.CommonA*r.CommonA, r.OwnA*r.OwnA, r.Reel
		}
	}
	told := math.Max(0, g.Lit.UA*g.Lit.UA-f.ExpectedU*f.ExpectedU)
	return math.Max(0, common-told), own, reel
}

// hasReel: the reel is one of the group's lights, not a board's or a converter's.
func (s step) hasReel(group, reel string) bool {
	g, _ := s.j.Expected.Plan.Group(group)
	for _, l := range g.Lights {
		if l.Reel == reel || l.Part == reel {
			return true
		}
		for _, d := range l.Series {
			if d.Part == reel {
				return true
			}
		}
	}
	return false
}

// sharesReel: another group has pieces of the reel that most of the doubt comes from.
func (s step) sharesReel(g budget.Group) bool {
	if len(g.Reels) == 0 {
		return false
	}
	for _, x := range s.j.Expected.Plan.Groups {
		if x.Name == g.Group || x.Board != "" {
			continue
		}
		b, ok := s.b.GroupNamed(x.Name)
		if ok && len(b.Reels) > 0 && b.Reels[0].Reel == g.Reels[0].Reel {
			return true
		}
	}
	return false
}
