package rig

import (
	"sync"
	"time"
)

// model is the electrical side of the bench: source, leads, meter, load. All
// instruments share it. Time in it only goes on: each window is integrated as
// time passes, so that the load is never asked about the past.
type model struct {
	mu   sync.Mutex
	load Load
	on   []bool // terminals, by index

	last    time.Time
	src     source
	setV    float64 // as commanded
	setA    float64
	started time.Time // where Since begins
	leads   float64
	burden  float64
	fuseA   float64 // 0 is none
	blown   bool
	across  float64 // ohms between the clips instead of the model; 0 is the model
	ocpA    float64 // 0 is none
	tripped bool
	ambient float64
	presses map[string]int
	farads  float64 // the supply's own
	capV    float64 // of all capacitance at the jack
	windows []*window
	events  []OutputEvent
}

// window collects means from start to end.
type window struct {
	start, end time.Time
	amps       float64 // A s until done
	jack       float64 // V s
	supply     float64 // V s
	peakA      float64
}

// mean divides by the length.
func (w *window) mean(sum float64) float64 { return sum / w.end.Sub(w.start).Seconds() }

// OutputEvent is one switching of the supply's output, as it happened.
type OutputEvent struct {
	At     time.Time `json:"at"`
	On     bool      `json:"on"`      // it was switched on, not off
	Volts  float64   `json:"volts"`   // set
	LimitA float64   `json:"limit_a"` // set
	Why    string    `json:"why"`     // command, protection
}

// sampleStep is how finely a load that can't tell its changes is sampled.
const sampleStep = time.Millisecond

// open begins a window; close it with done or drop.
func (m *model) open(start, end time.Time) *window {
	w := &window{start: start, end: end}
	m.mu.Lock()
	m.windows = append(m.windows, w)
	m.mu.Unlock()
	return w
}

// done integrates up to the end of w and forgets it.
func (m *model) done(w *window) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.advance(w.end)
	m.forget(w)
}

// drop forgets a window that nobody reads.
func (m *model) drop(w *window) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.forget(w)
}

func (m *model) forget(w *window) {
	for i, o := range m.windows {
		if o == w {
			m.windows = append(m.windows[:i], m.windows[i+1:]...)
			return
		}
	}
}

// change integrates up to now, then changes something.
func (m *model) change(now time.Time, f func()) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.advance(now)
	f()
	m.guard(m.at(m.last), m.last, sampleStep)
}

// now solves the bench at t.
func (m *model) now(t time.Time) point {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.advance(t)
	return m.at(m.last)
}

// state is what the load feels at t, but for the voltage.
func (m *model) state(t time.Time) State {
	return State{Since: t.Sub(m.started), On: m.on, Presses: m.presses, AmbientC: m.ambient}
}

// at solves the static bench at t.
func (m *model) at(t time.Time) point {
	if !m.src.on {
		return point{jackV: m.capV}
	}
	vs := m.src.volts(t)
	if m.blown {
		return point{supplyV: vs}
	}
	st := m.state(t)
	p := m.static(t)
	if c := m.capacitance(st); c > 0 && m.capV < p.jackV-capDone {
		p.jackV = m.capV
		p.amps = m.src.limitA
		if r := m.leads + m.burden; r > 0 {
			p.amps = min(p.amps, (vs-m.capV)/r)
		}
		p.limiting = p.amps >= m.src.limitA
		p.supplyV = p.jackV + p.amps*(m.leads+m.burden)
	}
	return p
}

// capDone is how near, in V, a capacitor is to its end when it counts as full.
const capDone = 1e-3

func (m *model) capacitance(st State) float64 {
	c := m.farads
	if l, ok := m.load.(Capacitor); ok && m.across == 0 {
		st.Volts = m.capV
		c += l.Farads(st)
	}
	return c
}

// advance integrates up to the time to, piece by piece. mu is held.
func (m *model) advance(to time.Time) {
	for m.last.Before(to) {
		t := m.last
		end := to
		open := false
		for _, w := range m.windows {
			if !w.end.After(t) || !w.start.Before(to) {
				continue
			}
			if w.start.After(t) {
				end = sooner(end, w.start)
			} else {
				end = sooner(end, w.end)
				open = true
			}
		}
		st := m.state(t)
		c := m.capacitance(st)
		if !open && (c == 0 || m.full(t)) {
			m.last = end
			if c > 0 && m.src.on {
				m.capV = m.at(end).jackV
			}
			continue
		}
		if m.src.on && !m.blown {
			end = sooner(end, m.nextChange(t))
		}
		if m.src.moving(t) {
			end = sooner(end, t.Add(m.src.tau/4))
		}
		m.piece(t, end, c)
	}
}

// piece adds one stretch over which nothing changes much.
func (m *model) piece(t, end time.Time, c float64) {
	mid := t.Add(end.Sub(t) / 2)
	p := m.at(mid)
	if c > 0 {
		p, end = m.charge(t, end, c, p)
	}
	dt := end.Sub(t)
	s := dt.Seconds()
	for _, w := range m.windows {
		if !w.start.After(t) && !w.end.Before(end) {
			w.amps += p.amps * s
			w.jack += p.jackV * s
			w.supply += p.supplyV * s
			w.peakA = max(w.peakA, p.amps)
		}
	}
	m.last = end
	m.guard(p, end, dt)
}

// charge moves the capacitor from t towards its end, and shortens the piece so
// that its voltage moves by little. It returns what the meter sees meanwhile.
func (m *model) charge(t, end time.Time, c float64, p point) (point, time.Time) {
	const little = 0.02 // V
	load := 0.0
	if m.capV > 0 {
		load = m.draw(m.state(t), m.capV)
	}
	into := p.amps - load
	var goal float64
	if m.src.on && !m.blown {
		goal = m.static(t).jackV
	} else {
		into, goal = -load, 0
	}
	if diff := goal - m.capV; diff > capDone && into > 0 || diff < -capDone && into < 0 {
		step := min(little, max(diff, -diff))
		end = sooner(end, t.Add(max(time.Microsecond, time.Duration(step*c/max(into, -into)*1e9))))
		m.capV += into / c * end.Sub(t).Seconds()
		if diff > 0 {
			m.capV = min(m.capV, goal)
		}
		m.capV = max(0, m.capV)
	} else if diff > -capDone || into >= 0 {
		m.capV = goal
	}
	return p, end
}

// static is the bench at t with every capacitor full.
func (m *model) static(t time.Time) point {
	st := m.state(t)
	return settle(m.src.volts(t), m.src.limitA, m.leads+m.burden, func(v float64) float64 { return m.draw(st, v) })
}

// draw is the current into what the clips are on.
func (m *model) draw(st State, volts float64) float64 {
	if m.across > 0 {
		return volts / m.across
	}
	st.Volts = volts
	return m.load.Current(st)
}

// full reports whether the capacitor needs no stepping at t.
func (m *model) full(t time.Time) bool {
	if !m.src.on || m.blown {
		return m.capV < capDone
	}
	d := m.static(t).jackV - m.capV
	return d < capDone && d > -capDone && !m.src.moving(t)
}

// nextChange is when the load may change by itself after t.
func (m *model) nextChange(t time.Time) time.Time {
	s, ok := m.load.(Stepper)
	if !ok {
		return t.Add(sampleStep)
	}
	st := m.state(t)
	next := s.NextChange(st)
	if next < 0 {
		return t.Add(24 * time.Hour)
	}
	if next <= st.Since {
		return t.Add(sampleStep)
	}
	return m.started.Add(next)
}

// guard lets the fuse blow and the supply's protection trip.
func (m *model) guard(p point, t time.Time, dt time.Duration) {
	if !m.src.on {
		return
	}
	// A quick fuse carries its rating for ever and opens within milliseconds at
	// several times as much; 1.6 times is between (common practice, no source).
	if m.fuseA > 0 && p.amps > 1.6*m.fuseA && dt >= sampleStep {
		m.blown = true
	}
	if m.ocpA > 0 && p.amps > m.ocpA {
		m.tripped = true
		m.switchOff(t, "over-current protection")
	}
}

func (m *model) switchOff(t time.Time, why string) {
	if !m.src.on {
		return
	}
	m.src.on = false
	clear(m.presses)
	if m.capacitance(m.state(t)) == 0 {
		m.capV = 0
	}
	m.events = append(m.events, OutputEvent{At: t, Why: why})
}

func sooner(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}
