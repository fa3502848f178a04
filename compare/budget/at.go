package budget

import (
	"fmt"
	"math"
)

// At says under which conditions a budget holds. The zero At is: the jack's
// own voltage, everything on, no meter in the way, a room at 25 ±5 degC.
type At struct {
	// Volts at the source, for every feed alike; 0: the jack's own, and for a
	// loose part behind a converter the converter's. Feed.Volts says what was taken.
	Volts     float64 `json:"volts"`
	SetVolts  float64 `json:"set_volts"`  // half-width of what the source may be off; 0: 10 mV
	BurdenOhm float64 `json:"burden_ohm"` // the meter's own series resistance
	LeadsOhm  float64 `json:"leads_ohm"`  // clips and leads, both together
	// LeadsHalfOhm is the half-width of burden and leads together.
	LeadsHalfOhm float64 `json:"leads_half_ohm"`
	Room         *Room   `json:"room,omitempty"` // nil: 25 ±5 degC
	// Terminals are the feeds to be looked at, by name of group or board;
	// nil: all of them.
	Terminals []string `json:"terminals,omitempty"`
	// Loose is true while the parts are not yet joined: each feed is clipped at
	// its own wire, without the joints between it and the jack.
	Loose bool `json:"loose,omitempty"`
	// FeedsOnly leaves out the whole model, and with it service draws, checks,
	// twins and the feed tree: half the work, for budgets at other voltages.
	FeedsOnly bool `json:"feeds_only,omitempty"`
	// Meter is the accuracy of the meter in use; nil: not known, then nothing
	// is said of what can be seen.
	Meter *Accuracy `json:"meter,omitempty"`
	// Trials of the Monte Carlo; 0: 1000, which leave u uncertain by 2 %, and of
	// many feeds fewer, so that a large plan doesn't take longer for each of them: from
	// 50 feeds on in proportion, but 250 at the least, which leave u uncertain by
	// 4.5 %; for everything together from 25 on, but 100 at the least (7 %).
	Trials int `json:"trials,omitempty"`
	// Digits of u that must stand, 1 to 3: blocks of Trials are added until they
	// do (JCGM 101:2008, 7.9), at most 100 of them. 0: one block.
	Digits int `json:"digits,omitempty"`
}

// Room is a temperature with the half-width of what is not known about it.
type Room struct {
	C     float64 `json:"c"` // degC
	HalfC float64 `json:"half_c"`
}

// Accuracy is the limit of error of a meter, ±(fraction of reading + floor),
// taken as rectangular.
type Accuracy struct {
	OfReading   float64 `json:"of_reading"`   // a fraction: 0.005 is 0.5 %
	FloorA      float64 `json:"floor_a"`      // counts times resolution
	ResolutionA float64 `json:"resolution_a"` // one count
	RangeA      float64 `json:"range_a,omitempty"`
}

// U gives the standard uncertainty of a reading of amps: the limit of error as
// two rectangular parts and the digit step (JCGM 100:2008, 4.3.7 and F.2.2.1).
func (a Accuracy) U(amps float64) float64 {
	r, c, d := a.OfReading*amps, a.FloorA, a.ResolutionA/2
	return math.Sqrt((r*r + c*c + d*d) / 3)
}

// defaults of At; common practice, no source, but for the room (stated in the doc of At).
const (
	defaultRoomC     = 25.0
	defaultRoomHalfC = 5.0
	defaultSetVolts  = 0.010
	defaultTrials    = 1000
	feedsInFull      = 50 // so many feeds have all the trials, each alone
	leastOfFeeds     = 250
	wholeInFull      = 25 // and so many together
	leastOfWhole     = 100
	// Coverage of every band of this package.
	Coverage = 0.95
)

// trialsOf is how many trials a number of feeds get, of which inFull get all.
func trialsOf(feeds, inFull, least int) int {
	return min(defaultTrials, max(least, defaultTrials*inFull/max(1, feeds)))
}

// room gives the temperature that holds.
func (a At) room() Room {
	if a.Room != nil {
		return *a.Room
	}
	return Room{C: defaultRoomC, HalfC: defaultRoomHalfC}
}

// check refuses conditions that no bench can have.
func (a At) check() error {
	for _, f := range []struct {
		name string
		v    float64
		max  float64
	}{
		{"volts", a.Volts, 60}, {"set_volts", a.SetVolts, 10}, {"burden_ohm", a.BurdenOhm, 1e6},
		{"leads_ohm", a.LeadsOhm, 1e6}, {"leads_half_ohm", a.LeadsHalfOhm, 1e6}, {"trials", float64(a.Trials), 1e8},
		{"digits", float64(a.Digits), 3},
	} {
		if !(f.v >= 0 && f.v <= f.max) {
			return fmt.Errorf("%s is %g: it must lie between 0 and %g", f.name, f.v, f.max)
		}
	}
	if r := a.room(); !(r.C > -60 && r.C < 100) || !(r.HalfC >= 0 && r.HalfC < 60) {
		return fmt.Errorf("a room at %g ±%g degC: expected -60 to 100 degC, give or take less than 60", r.C, r.HalfC)
	}
	if m := a.Meter; m != nil && (!(m.OfReading >= 0 && m.OfReading < 1) || !(m.FloorA >= 0) ||
		!(m.ResolutionA >= 0)) {
		return fmt.Errorf("a meter of ±(%g of reading + %g A), step %g A: negative or not a number", m.OfReading,
			m.FloorA, m.ResolutionA)
	}
	return nil
}
