package blink

// better reports whether some pace fits with the window as stated, and better
// than the expected one with another window.
func (q *search) better(other *solution) bool {
	sols := q.all()
	return len(sols) > 0 && sols[0].chi <= worstChi && other.m2l-sols[0].m2l > rivalMisfit
}

type windowed struct {
	q *search
	s solution
}

// otherWindow fits the expected pace with windows that the meter may have had,
// should the one stated be wrong: a half to twice it, or anything up to three
// spacings of the readings when none was stated. It returns nil when none fits.
func (d *trace) otherWindow(e *expected, near *solution) *windowed {
	spacing := d.spanS / float64(len(d.t)-1)
	windows := []float64{0.5, 0.6, 0.7, 0.85, 1.2, 1.4, 1.7, 2}
	unit := d.window
	if d.window <= leastWindowS {
		windows, unit = []float64{0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1, 1.1, 1.5, 2, 2.5, 3}, spacing
	}
	best := (*windowed)(nil)
	for _, w := range windows {
		c := *d
		c.window = w * unit
		q := &search{d: &c, fit: newFitter(&c, part{model: e.m, p: near.p})}
		sols := q.refineAll(e.m, []start{{near.hz(), 0, near.p}, q.bestPhase(e, near.hz()),
			q.bestPhase(e, 1/e.period)})
		// A step far above all readings only hides misfit in what stamps do to it.
		if len(sols) > 0 && sols[0].chi <= worstChi && sols[0].m2l < 0.5*d.flatMisfit &&
			(best == nil || sols[0].m2l < best.s.m2l) {
			best = &windowed{q, sols[0]}
		}
	}
	return best
}
