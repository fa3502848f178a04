package belief

import (
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// How unsure the curve of a part's LEDs is that a data sheet gives one point of, as
// the standard deviation of a logarithm: ideality 1.2 to 3.3 and 4 to 15 ohm in
// series for an LED of 20 mA, one deviation to each side, in which the models
// published for circuit simulators lie (the spread of those; six of them). Two or
// three points are typical ones: they say where the curve of most makes lies, not
// how sure that is. What the plan does say is the draw at service, with its spread: so
// the curve turns about that. More points were measured on the pieces themselves.
const (
	ideality1 = 0.5
	ohms1     = 0.7
	// typicalOhmV falls along the series resistance of an LED at the current it's made for: that of
	// one of 7.75 ohm at 20 mA, in the middle of those. Typical points of a table may show none of
	// it, with a slope that makes up for it; the pieces have it all the same.
	typicalOhmV = 7.75 * 0.020
	// mostTypical points stand in a data sheet's table at most.
	mostTypical = 3
)

// curveWay is one way in which the curve of a part may be another: factor is its
// number; far says by how much, as the standard deviation of a logarithm.
type curveWay struct {
	factor int
	kind   FactorKind
	far    float64
	points []plan.VoltsAtAmps // through which the curve goes whatever its slope
	// ohms are of series resistance that pieces have where typical points show less: of one LED,
	// then of the LEDs of a branch.
	ohms float64
	// atService: instead, through what the branch draws at the highest voltage.
	atService bool
}

// addCurves lists in which ways the curve of each part's LEDs may be another.
func (d *uncertain) addCurves(s *side, pr *fault.Priors) {
	d.kneeV = pr.KneeV
	for i := range s.list {
		light := &s.p.Groups[s.list[i].group].Lights[s.list[i].light]
		if len(light.Series) == 0 || len(light.Series[0].Points) == 0 {
			continue
		}
		name := curveOf(light)
		if _, ok := d.curves[name]; ok {
			continue
		}
		add := func(kind FactorKind) int {
			d.keys, d.shared, d.params = append(d.keys, FactorKey{kind, name}), append(d.shared, 0),
				append(d.params, param{})
			return len(d.keys) - 1
		}
		var ways []curveWay
		led := &light.Series[0]
		if n := len(led.Points); pr.Curve > 0 {
			slope := curveWay{add(SlopeFactor), SlopeFactor, ideality1, led.Points[n-1:], 0, n > 1}
			if n > mostTypical {
				slope = curveWay{slope.factor, SlopeFactor, pr.Curve,
					[]plan.VoltsAtAmps{led.Points[0], led.Points[n-1]}, 0, false}
			}
			ways = append(ways, slope)
			if n <= mostTypical {
				ways = append(ways, curveWay{add(OhmsFactor), OhmsFactor, ohms1, led.Points[n-1:],
					typicalOhmV / led.Points[n-1].Amps, n > 1})
			}
		}
		if pr.KneeV > 0 && led.Volts.HalfWidth == 0 {
			ways = append(ways, curveWay{factor: add(KneeFactor), kind: KneeFactor,
				points: led.Points[len(led.Points)-1:]})
		}
		d.curves[name] = ways
	}
}

// curveOf names what has a curve of its own: the LED, or the ready-made part it is in.
func curveOf(l *plan.Light) string {
	if l.Kind == plan.LEDs {
		return l.Series[0].Part
	}
	return l.Part
}

// loadCurve adds what the curve of one branch's LEDs being another does to the draw,
// behind ohms of its node. push is what a volt in the branch does to it, by voltage.
//
// A curve with another slope or series resistance goes through its known points all
// the same. Towards the knee its draw is far from straight in either: with a draw
// y(z) for a factor of standard deviation z, y0 + a z + b z² is taken through
// y(-1), y(0) and y(1), whose mean is y0 + b and whose variance a² + 2 b²; what it
// misses at y(-2) and y(2) is doubt besides, and so is what the sum of both parabolas misses
// where slope and series resistance are other ones together, at two standard deviations.
//
// In strips and ready-made parts the plan gives no spread of the LEDs' own, for all of
// it is in the draw at rated voltage; away from that the resistor inside makes up
// for less of it: u (1 - i/i0) remains of a voltage that is off by u.
func (s *side) loadCurve(to *loading, d *uncertain, at int, l *law, amps, ohms, gain, push []float64) {
	b := &s.list[at]
	light := &s.p.Groups[b.group].Lights[b.light]
	if l.kind != lawDiode || len(light.Series) == 0 {
		return
	}
	n := len(amps)
	// What a node gives way by is that of a small change: behind a diode that hardly conducts it is
	// hundreds of ohm, and next to nothing once a curve that bends far draws its milliamperes.
	give := slices.Min(ohms)
	alive := float64(len(light.Series) - len(l.gone))
	ways := slices.Clone(d.curves[curveOf(light)])
	alone, lasts, nominal, far := make([][3]bow, n), [3]float64{}, make([]float64, n), make([]float64, n)
	for i := range ways {
		ways[i].ohms *= alive
	}
	for i, w := range ways {
		row, bend := to.common[w.factor*n:w.factor*n+n], to.bends[w.factor*n:w.factor*n+n]
		if w.kind == KneeFactor {
			for k, i := range amps {
				if i > 0 {
					row[k] -= math.Sqrt(3) * push[k] * alive * d.kneeV * (1 - math.Min(2, i/w.points[0].Amps))
				}
			}
			continue
		}
		last := w.points[len(w.points)-1].Amps
		if top := slices.Max(amps); w.atService && top > 0 {
			last = top
		}
		lasts[i] = last
		more, less := l.bent(w, last, w.far), l.bent(w, last, -w.far)
		most, least := l.bent(w, last, 2*w.far), l.bent(w, last, -2*w.far)
		skew := to.skews[w.factor*n : w.factor*n+n]
		for k := range amps {
			open := b.v0[k] + give*b.i[k]
			up, mid, down := more.amps(open, give), l.amps(open, give), less.amps(open, give)
			row[k] += math.Sqrt(3) * gain[k] * (up - down) / 2
			bend[k] += gain[k] * (up + down - 2*mid) / 2
			skew[k] += gain[k] * skewOf(most.amps(open, give), up, mid, down, least.amps(open, give))
			nominal[k], alone[k][i] = mid, bow{(up - down) / 2, (up + down - 2*mid) / 2}
		}
	}
	if i := slices.IndexFunc(ways, func(w curveWay) bool { return w.kind == OhmsFactor }); i > 0 {
		off := to.both[ways[i].factor*n : ways[i].factor*n+n]
		for _, sign := range [...][2]float64{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
			x := l.bent(ways[i], lasts[i], math.Sqrt2*sign[1]*ways[i].far)
			x = x.bent(ways[0], lasts[0], math.Sqrt2*sign[0]*ways[0].far)
			for k := range amps {
				is := x.amps(b.v0[k]+give*b.i[k], give) - nominal[k]
				is -= alone[k][0].at(math.Sqrt2*sign[0]) + alone[k][i].at(math.Sqrt2*sign[1])
				far[k] = math.Max(far[k], gain[k]*math.Abs(is)/2)
			}
		}
		for k, x := range far {
			off[k] += x
		}
	}
}

// bow is a parabola in one factor, for one standard deviation of it.
type bow struct{ slope, square float64 }

func (b bow) at(z float64) float64 { return b.slope*z + b.square*z*z }

// skewOf is half of what a draw at two standard deviations of a factor lies off the
// parabola through the draws at one: where a reading hangs on the far end of what a
// curve may be like, no normal distribution about the middle holds it, and it is
// worth that much less.
func skewOf(most, up, mid, down, least float64) float64 {
	a, b := (up-down)/2, (up+down-2*mid)/2
	return math.Max(math.Abs(most-mid-2*a-4*b), math.Abs(least-mid+2*a-4*b)) / 2
}

// bent is the law with a curve of another slope or series resistance, as the
// logarithm of what it was: through the same points, of which the last is at last (A).
func (l *law) bent(w curveWay, last, log float64) law {
	out := *l
	drop := l.drop(last)
	switch {
	case w.kind == OhmsFactor:
		out.leds = math.Max(0, l.leds+math.Max(l.leds, w.ohms)*math.Expm1(log))
	case len(w.points) == 1:
		out.m *= math.Exp(log)
	default:
		first := w.points[0].Amps
		out.m *= math.Exp(log)
		rest := drop - l.drop(first) - out.m*math.Log(last/first)
		if rest < 0 { // as steep as the points let it be
			out.m += rest / math.Log(last/first)
			rest = 0
		}
		out.leds = rest / (last - first)
	}
	out.leds = math.Min(out.leds, mostOfDrop*drop/last)
	out.i0 = last / math.Expm1((drop-out.leds*last)/out.m)
	out.logI0 = math.Log(out.i0)
	return out
}

// mostOfDrop: no more of an LED's voltage falls along its series resistance.
const mostOfDrop = 0.5

// drop is the voltage over the LEDs of a branch at a current.
func (l *law) drop(amps float64) float64 { return l.leds*amps + l.m*math.Log1p(amps/l.i0) }
