package blink

import (
	"math"
	"testing"
)

// three are blinkers over a base, as a finished model might have them.
var three = []Clock{clock("masthead", 1, 0.5, 0.020), clock("stern", 0.7, 0.2, 0.013),
	clock("beacon", 1.7, 0.1, 0.015)}

// clock is one output that blinks by itself.
func clock(name string, periodS, duty, amps float64) Clock {
	return Clock{Name: name, PeriodS: periodS, DutyAbs: 0.03,
		Outputs: []Blinker{{Name: name, Spans: [][2]float64{{0, duty}}, Amps: amps}}}
}

// TestJoint takes models apart: each blinker runs within 3 % of its period, or
// is stuck lit, or stuck dark.
func TestJoint(t *testing.T) {
	n := few(3)
	if long() {
		n = 60
	}
	t.Log("|rd/s, w, T|noise % of total|step RMS %|base RMS mA|running called not|can't tell|stuck called " +
		"running|outside 3u")
	for ci, k := range []taking{{4, .2, .3, 20, .005, 0}, {4, .2, .3, 60, .005, 0}, {10, .09, .1, 10, .005, 0},
		{10, .09, .1, 20, .005, 0}, {20, .045, .1, 20, .005, 0}} {
		for _, noise := range []float64{0.0005, 0.002} {
			var step, base []float64
			var run, dead, cant, stuck, raised, outside int
			for i := range n {
				r := seeded(uint64(ci), uint64(i))
				steady := 0.460
				var lights []*light
				var runs []bool
				for _, c := range three {
					b := c.Outputs[0]
					x := r.Float64()
					runs = append(runs, x < 0.75)
					switch {
					case x < 0.75:
						lights = append(lights, newLight(c.PeriodS*(1+0.03*(2*r.Float64()-1)), 0, b.Amps,
							rectangle(b.lit()+0.02*(2*r.Float64()-1))))
					case x < 0.88:
						steady += b.Amps
					}
				}
				k.noise = noise * 0.48
				shift := r.Float64() * 10
				s := k.read(r, func(at, w float64) float64 {
					sum := steady
					for j, l := range lights {
						sum += l.mean(at+shift*float64(j), w)
					}
					return sum
				})
				p := Joint(s, k.known(), three)
				if !p.Usable {
					t.Fatal(p.Why)
				}
				base = append(base, 1000*(p.BaseA-steady))
				for j, beat := range p.Beats {
					b, built := beat.Outputs[0], three[j].Outputs[0].Amps
					switch {
					case b.State == Unsettled:
						cant++
					case runs[j] && b.State == NotRunning:
						dead++
					case !runs[j] && b.State == Running:
						raised++
					}
					if !runs[j] {
						stuck++
						continue
					}
					run++
					step = append(step, 100*(b.StepA/built-1))
					if math.Abs(b.StepA-built) > 3*b.StepU+0.002*built {
						outside++
					}
				}
			}
			t.Logf("|%g, %g, %g|%.2f|%.1f|%.2f|%d/%d|%d|%d/%d|%d", k.rate, k.window, k.span, 100*noise, rms(step),
				rms(base), dead, run, cant, raised, stuck, outside)
			if dead > 0 || raised > 0 || cant*20 > 3*n || outside*30 > run+30 {
				t.Errorf("%+v: %d running called dead, %d stuck called running, %d can't tell, %d steps beyond "+
					"three uncertainties", k, dead, raised, cant, outside)
			}
		}
	}
}
