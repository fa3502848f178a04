package belief

import (
	"math"

	"sealworthy/compare/fault"
)

// shaped is what the curve of LEDs being another than taken does to a draw, one
// vector over the voltages for each part and way of being off.
type shaped []shapeVector

type shapeVector struct {
	key shapeKey
	by  []float64
}

type shapeKey struct {
	part string
	way  way
}

// way of being off.
type way uint8

const (
	slopeWay way = iota // of the curve, at the same voltage at the part's highest known current
	kneeWay             // of the voltage inside ready-made parts, at the same draw at their rated one
)

// mostDecades bounds how far below its known current a curve is followed.
const mostDecades = 3 * math.Ln10

// shapeOf adds what one branch with a law contributes at its currents.
//
// A slope m that is off by a fraction s moves the voltage of each LED by s m ln(i/i0)
// at a current i, where i0 is the highest of its points. In strips and ready-made
// parts the plan gives no spread of the LEDs' own, for all of it is in the draw at
// rated voltage; away from that the resistor inside makes up for less of it:
// u (1 - i/i0) remains of a voltage that is off by u.
func (s *side) shapeOf(to *shaped, at int, l *law, amps, ohms, gain []float64, pr *fault.Priors, sign float64) {
	b := &s.list[at]
	light := &s.p.Groups[b.group].Lights[b.light]
	if l.kind != lawDiode || len(light.Series) == 0 {
		return
	}
	led := &light.Series[0]
	if len(led.Points) == 0 {
		return
	}
	i0 := led.Points[len(led.Points)-1].Amps
	r := l.total()
	alive := float64(len(light.Series) - len(l.gone))
	for k, i := range amps {
		if !(i > 0) {
			continue
		}
		g, _ := l.slope(i, r)
		push := sign * gain[k] * g / (1 + g*ohms[k])
		if pr.Curve > 0 {
			log := math.Max(-mostDecades, math.Min(1, math.Log(i/i0)))
			to.add(shapeKey{led.Part, slopeWay}, len(amps), k, -push*l.m*pr.Curve*log)
		}
		if pr.KneeV > 0 && led.Volts.HalfWidth == 0 {
			to.add(shapeKey{led.Part, kneeWay}, len(amps), k, -push*alive*pr.KneeV*(1-math.Min(2, i/i0)))
		}
	}
}

// add adds to the vector of a key.
func (s *shaped) add(key shapeKey, n, k int, x float64) {
	for i := range *s {
		if (*s)[i].key == key {
			(*s)[i].by[k] += x
			return
		}
	}
	v := make([]float64, n)
	v[k] = x
	*s = append(*s, shapeVector{key, v})
}

// of is the vector of a key; nil: none.
func (s shaped) of(key shapeKey) []float64 {
	for i := range s {
		if s[i].key == key {
			return s[i].by
		}
	}
	return nil
}

// shape widens every moment by what the curves may be off.
func (m *moments) shape(s *side, vs []*variant, pr *fault.Priors) error {
	if pr.Curve <= 0 && pr.KneeV <= 0 {
		return nil
	}
	n := len(s.volts)
	var all shaped
	for i := range s.list {
		b := &s.list[i]
		th, err := s.giving(b.node)
		if err != nil {
			return err
		}
		if b.id >= 0 {
			s.shapeOf(&all, i, &b.law, b.i, th.ohms, th.gain, pr, 1)
		}
	}
	sum := moment{cov: make([]float64, n*n)}
	for _, x := range all {
		sum.widen(1, x.by)
	}
	for i, c := range sum.cov {
		m.healthy.cov[i] += c
	}
	amps, f, with := make([]float64, n), make([]float64, n), make([]float64, n)
	var own shaped
	for i, v := range vs {
		to := &m.of[i]
		if v.how != altered {
			for k := range n {
				f[k] = leftOf(s.y0[k], v.delta[k])
			}
			for a := range n {
				for b := range n {
					to.cov[a*n+b] += f[a] * f[b] * sum.cov[a*n+b]
				}
			}
			continue
		}
		own = own[:0]
		b := &s.list[v.branch]
		if b.id >= 0 {
			th := s.nodes[b.node]
			s.shapeOf(&own, v.branch, &b.law, b.i, th.ohms, th.gain, pr, -1)
		}
		for k := range n {
			amps[k] = math.Max(0, b.i[k]+v.delta[k]/v.gain[k])
		}
		s.shapeOf(&own, v.branch, &v.law, amps, v.node, v.gain, pr, 1)
		for j, c := range sum.cov {
			to.cov[j] += c
		}
		// Only the part of this branch has changed.
		for _, x := range own {
			was := all.of(x.key)
			copy(with, x.by)
			for k, y := range was {
				with[k] += y
			}
			to.widen(1, with)
			for a, y := range was {
				for b, z := range was {
					to.cov[a*n+b] -= y * z
				}
			}
		}
	}
	return nil
}
