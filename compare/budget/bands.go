package budget

// Bar is one group's band for a picture; all in A.
type Bar struct {
	Group                 string
	NominalA, LowA, HighA float64
	WorstLowA, WorstHighA float64
	// DarkA is the draw with the least branch dark; 0: no branch to lose.
	DarkA   float64
	OnPlan  bool // the loss of the least branch can be seen
	Known   bool // a meter was given, so OnPlan means something
	AsFound bool // no band
}

// Bands gives the bands of all groups, in the order of the plan, for a picture.
func (b *Budget) Bands() []Bar {
	bars := make([]Bar, 0, len(b.Groups))
	for _, g := range b.Groups {
		x := Bar{Group: g.Group, NominalA: g.Lit.NominalA, LowA: g.Lit.LowA, HighA: g.Lit.HighA, WorstLowA: g.Lit.WorstLowA,
			WorstHighA: g.Lit.WorstHighA, OnPlan: g.Visible.OnPlan, Known: g.Visible.Known, AsFound: g.AsFound}
		if g.SmallestA > 0 {
			x.DarkA = g.Lit.NominalA - g.SmallestA
		}
		bars = append(bars, x)
	}
	return bars
}

// Tree gives the feed tree for a picture: everything lit, in service, parents
// before children.
func (b *Budget) Tree() []Joint { return b.Joints }
