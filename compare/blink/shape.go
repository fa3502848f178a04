package blink

import "math"

// most is the greatest number of parameters of one blinker that enter
// non-linearly: frequency, phase and two of the shape.
const most = 4

// Indexes into a parameter vector.
const (
	pHz    = 0 // Hz
	pPhase = 1 // periods, at the middle of the trace
	pA     = 2 // flashes: length of one flash; ramp: rising share; fractions of the period
	pB     = 3 // flashes: from one flash to the next
)

type params [most]float64

// edge is a step of a pattern at the phase at + byA*p[pA] + byB*p[pB].
type edge struct{ sign, at, byA, byB float64 }

// model is a waveform between 0 and 1 with period 1.
type model struct {
	shape Shape
	count int
	edges []edge
	free  int // how many of the parameters are fitted
}

// flashes is n equal flashes, evenly spaced, and a pause.
func flashes(n int) model {
	m := model{shape: Flashes, count: n, free: 4}
	if n == 1 {
		m.free = 3
	}
	for i := range n {
		m.edges = append(m.edges, edge{1, 0, 0, float64(i)}, edge{-1, 0, 1, float64(i)})
	}
	return m
}

// fixedPattern is the lit and dark times given, as fractions of their sum. All
// lit times grow together with p[pA], which starts at the length of the first.
func fixedPattern(litDark []float64, period float64) model {
	m := model{shape: Flashes, free: 3}
	at := 0.0
	for i := 0; i+1 < len(litDark); i += 2 {
		m.edges = append(m.edges, edge{1, at / period, 0, 0},
			edge{-1, (at + litDark[i] - litDark[0]) / period, 1, 0})
		at += litDark[i] + litDark[i+1]
		m.count++
	}
	return m
}

// fade is a sine or a ramp.
func fade(s Shape) model {
	if s == Sine {
		return model{shape: Sine, free: 2}
	}
	return model{shape: Ramp, free: 3}
}

// stairs is the integral of floor.
func stairs(x float64) float64 {
	n := math.Floor(x)
	return n*(x-n) + n*(n-1)/2
}

// mean returns the mean of the waveform over the phases x0 to x1, without its
// derivatives.
func (m *model) mean(x0, x1 float64, p *params) float64 {
	sum := 0.0
	switch m.shape {
	case Sine:
		return 0.5 - (math.Sin(2*math.Pi*x1)-math.Sin(2*math.Pi*x0))/(4*math.Pi*(x1-x0))
	case Ramp:
		return (ramp(x1, p[pA]) - ramp(x0, p[pA])) / (x1 - x0)
	}
	for i := range m.edges {
		e := &m.edges[i]
		at := e.at + e.byA*p[pA] + e.byB*p[pB]
		sum += e.sign * (stairs(x1-at) - stairs(x0-at))
	}
	return sum / (x1 - x0)
}

// slope is what the derivatives of a window mean are made of.
type slope struct {
	end      float64 // the waveform at the end of the window
	start    float64 // and at its start
	byA, byB float64 // derivatives of its integral
}

// slopes returns the derivatives of the waveform's integral from phase x0 to
// x1. Soft spreads the edges, so that a search feels an edge that it hasn't
// reached.
func (m *model) slopes(x0, x1 float64, p *params, soft float64) slope {
	var s slope
	switch m.shape {
	case Sine:
		s.end, s.start = (1-math.Cos(2*math.Pi*x1))/2, (1-math.Cos(2*math.Pi*x0))/2
		return s
	case Ramp:
		r := p[pA]
		s.end, s.start = rampValue(x1, r), rampValue(x0, r)
		s.byA = rampByShare(x1, r) - rampByShare(x0, r)
		return s
	}
	soft = max(soft, 1e-9)
	half, per := soft/2, 1/soft
	for i := range m.edges {
		e := &m.edges[i]
		at := e.at + e.byA*p[pA] + e.byB*p[pB] - half
		y1, y0 := x1-at, x0-at
		n1, n0 := math.Floor(y1), math.Floor(y0)
		end, start := e.sign*(n1-1+min((y1-n1)*per, 1)), e.sign*(n0-1+min((y0-n0)*per, 1))
		s.end += end
		s.start += start
		s.byA -= e.byA * (end - start)
		s.byB -= e.byB * (end - start)
	}
	return s
}

// ramp is the integral of a waveform that rises over a share r of the period
// and falls over the rest.
func ramp(x, r float64) float64 {
	n := math.Floor(x)
	f := x - n
	if f < r {
		return n/2 + f*f/(2*r)
	}
	return n/2 + 0.5 - (1-f)*(1-f)/(2*(1-r))
}

func rampValue(x, r float64) float64 {
	f := x - math.Floor(x)
	if f < r {
		return f / r
	}
	return (1 - f) / (1 - r)
}

func rampByShare(x, r float64) float64 {
	f := x - math.Floor(x)
	if f < r {
		return -f * f / (2 * r * r)
	}
	return -(1 - f) * (1 - f) / (2 * (1 - r) * (1 - r))
}

// lit returns the fraction of the period that's lit.
func (m *model) lit(p *params) float64 {
	switch m.shape {
	case Flashes:
		sum := 0.0
		for _, e := range m.edges {
			sum -= e.sign * (e.at + e.byA*p[pA] + e.byB*p[pB])
		}
		return sum
	case Ramp:
		return p[pA]
	}
	return 0
}

// average returns the mean of the waveform over a period.
func (m *model) average(p *params) float64 {
	if m.shape == Flashes {
		return m.lit(p)
	}
	return 0.5
}

// clamp keeps the shape's parameters where the model means something.
func (m *model) clamp(p *params) {
	switch {
	case m.shape == Ramp:
		p[pA] = math.Min(math.Max(p[pA], 0.02), 0.98)
	case m.shape == Flashes && m.free == 4:
		n := float64(m.count)
		// A gap as long as the pause would be one flash at a higher pace.
		p[pB] = math.Min(math.Max(p[pB], 0.05), 0.94/n)
		p[pA] = math.Min(math.Max(p[pA], 0.015), p[pB]-0.015)
	case m.shape == Flashes && m.count == 1:
		p[pA] = math.Min(math.Max(p[pA], 0.02), 0.98)
	case m.shape == Flashes:
		// Grown or shrunk, no flash of a given pattern may vanish or reach the next.
		low, high := -1.0, 2.0
		for i := 0; i+1 < len(m.edges); i += 2 {
			low = math.Max(low, m.edges[i].at-m.edges[i+1].at)
			next := 1.0
			if i+2 < len(m.edges) {
				next = m.edges[i+2].at
			}
			high = math.Min(high, next-m.edges[i+1].at)
		}
		p[pA] = math.Min(math.Max(p[pA], low+0.01), high-0.01)
	}
}
