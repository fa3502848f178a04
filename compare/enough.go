package compare

import (
	"math"

	"sealworthy/capture"
	"sealworthy/compare/budget"
)

// settle is when a steady group counts as settled: two means of a reading or two
// each agree.
func (m maker) settle() capture.Settle {
	w := groupSettle
	if m.o.MeterWindow > 0 {
		w = min(max(leastSettle, m.o.MeterWindow*3/2), groupSettle)
	}
	return capture.Settle{Min: w, Max: groupMax, Window: w, Rel: groupRest * w.Seconds(), AbsA: 0.0001}
}

// What a reading leaves uncertain by its own scatter may be such a share of the
// band's own uncertainty, of the least lack, and of the draw: it moves no decision
// then, and a later reading of the same feed can be held against it.
const (
	enoughOfBand = 1.0 / 30
	enoughOfDraw = 0.0005
)

// enough says when a steady group is known well enough. Of what nothing is
// planned all is read.
func (m maker) enough(f budget.Feed) capture.Enough {
	g, ok := m.b.GroupNamed(f.Feed)
	if !ok || f.AsFound || m.o.Way == capture.Added || g.SmallestA <= 0 {
		return capture.Enough{}
	}
	u := min(enoughOfBand*min(g.Lit.UA, g.SmallestA), enoughOfDraw*math.Abs(g.Lit.MeanA))
	return capture.Enough{Readings: enoughReads, UA: u}
}

// bears is the least rating of an LED of a feed, A; 0: none is stated.
func (m maker) bears(f budget.Feed) float64 {
	least := 0.0
	for _, name := range f.Groups {
		g, ok := m.p.Group(name)
		if !ok {
			continue
		}
		for _, l := range g.Lights {
			for _, led := range l.Series {
				if led.MaxAmps > 0 && (least == 0 || led.MaxAmps < least) {
					least = led.MaxAmps
				}
			}
		}
	}
	return least
}
