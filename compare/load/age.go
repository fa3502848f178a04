package load

import (
	"math/rand/v2"
	"slices"
	"time"

	"sealworthy/compare/wiring"
	"sealworthy/instruments/rig"
)

// What a year of service does: invented data. Current shows little of an LED
// that dims; its forward voltage creeps up.
const (
	volts0PerYear = 0.0006 // V of every LED
	voltsOwn      = 0.0004 // V a year, of one LED, ± on top
	ohmsPerYear   = 0.02   // of an LED's series resistance, fraction
)

// age makes every LED some years older. It draws from a generator of its own,
// so that the parts are those of the same model when it was new.
func age(w *wiring.Wired, years float64, seed uint64) {
	r := rand.New(rand.NewPCG(seed, 0xa9ed))
	for _, g := range w.Groups {
		for _, br := range g.Branches {
			for k := range w.Net.LEDs(br.ID) {
				d := w.Net.LED(br.ID, k).Diode
				d.ShiftV += years * (volts0PerYear + voltsOwn*(2*r.Float64()-1))
				d.SeriesOhm *= 1 + ohmsPerYear*years
				w.Net.SetLEDDiode(br.ID, k, d)
			}
		}
	}
}

// Break is a contact that opens now and then: a feed goes dark for For once in
// every Every, the first time after Every.
type Break struct {
	Feed  string        // a group's or a board's name
	Every time.Duration // from one break to the next
	For   time.Duration // how long it is dark
}

// open tells whether the contact is open at a time since the output went on.
func (b Break) open(since time.Duration) bool {
	return b.Every > 0 && since >= b.Every && since%b.Every < b.For
}

// next is when it next opens or closes.
func (b Break) next(since time.Duration) time.Duration {
	if b.Every <= 0 {
		return -1
	}
	start := since - since%b.Every
	if since >= b.Every && since < start+b.For {
		return start + b.For
	}
	return start + b.Every
}

// broken gives the state with the open contacts off.
func (l *Load) broken(s rig.State) rig.State {
	if len(l.breaks) == 0 {
		return s
	}
	s.On = slices.Clone(s.On)
	for _, b := range l.breaks {
		if i := slices.Index(l.names, b.Feed); i >= 0 && i < len(s.On) && b.open(s.Since) {
			s.On[i] = false
		}
	}
	return s
}
