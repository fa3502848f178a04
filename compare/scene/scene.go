// Package scene says where and how something is read: the one spelling of it for what is
// expected, for what readings tell, and for the grade of a test. What isn't given is nil
// or empty, never 0: 0 degC is a temperature, and a supply may be exact. The zero Scene
// is: fitted, everything on, the jack's own voltage, no meter in the way, a supply
// within 10 mV and 3 A, a room at 25 ±5 degC.
package scene

import (
	"fmt"
	"math"
	"strings"
)

// Scene is where and how something is read. V, A, ohm, degC.
type Scene struct {
	// Volts at the source, for every feed alike; nil: the jack's own, and for a
	// loose part behind a converter the converter's.
	Volts *float64 `json:"volts,omitempty"`
	// SetVolts is the half-width of what the source may be off, common to all readings; nil: 10 mV.
	SetVolts *float64 `json:"set_volts,omitempty"`
	// BurdenOhm is the meter's own series resistance, LeadsOhm that of clips and leads,
	// both together, and LeadsHalfOhm the half-width of burden and leads together.
	BurdenOhm    float64 `json:"burden_ohm"`
	LeadsOhm     float64 `json:"leads_ohm"`
	LeadsHalfOhm float64 `json:"leads_half_ohm"`
	Room         *Room   `json:"room,omitempty"` // nil: 25 ±5 degC
	// On are the feeds that are on, or to be looked at, by name of group or board; nil: all.
	On []string `json:"terminals,omitempty"`
	// Loose is true while the parts are not yet joined: each feed is clipped at
	// its own wire, without the joints between it and the jack.
	Loose bool `json:"loose,omitempty"`
	// Accuracy of the meter in use; nil: not known, then nothing is said of what can be seen.
	Accuracy *Accuracy `json:"meter,omitempty"`

	LimitA  *float64 `json:"-"` // of the supply; nil: 3 A
	Limits  []Limit  `json:"-"` // of the supply, at voltages where it's another than LimitA
	JitterV float64  `json:"-"` // standard uncertainty of the voltage from reading to reading
	// What other readings may have in common with these, by name: the supply that is
	// off, the day's room, the meter in its range. Empty: nothing is known of it.
	Supply  string `json:"-"` // whose setting is off by as much
	Sitting string `json:"-"` // in which the room was as warm
	Meter   string `json:"-"` // and its range, which reads off by as much
}

// Limit is the supply's limit in force at a voltage: each voltage of a sweep has its own.
type Limit struct {
	Volts float64 // V, as set
	Amps  float64 // A
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

// What is taken where nothing is given; common practice, no source, but for the room
// (stated in the package's doc).
const (
	DefaultSetVolts = 0.010
	defaultRoomC    = 25.0
	defaultHalfC    = 5.0
	defaultLimitA   = 3.0
	leastLimitA     = 0.001
	// MeasuredHalfC is what a thermometer on the bench may be off the model's own temperature.
	MeasuredHalfC = 2.0
)

// Is gives a figure; Given one that is given by being above 0.
func Is(x float64) *float64 { return &x }

// Given is nil for 0, as flags and records say "not given".
func Given(x float64) *float64 {
	if x == 0 {
		return nil
	}
	return &x
}

// Measured is a room as a thermometer says; nil: there is none.
func Measured(c *float64) *Room {
	if c == nil {
		return nil
	}
	return &Room{C: *c, HalfC: MeasuredHalfC}
}

// SeriesOhm is what lies between source and model.
func (s Scene) SeriesOhm() float64 { return s.BurdenOhm + s.LeadsOhm }

// RoomOr is the room that holds.
func (s Scene) RoomOr() Room {
	if s.Room != nil {
		return *s.Room
	}
	return Room{C: defaultRoomC, HalfC: defaultHalfC}
}

// SetHalfV is the half-width of the source's voltage that holds.
func (s Scene) SetHalfV() float64 {
	if s.SetVolts != nil {
		return *s.SetVolts
	}
	return DefaultSetVolts
}

// sameVolts: a supply is set in steps that aren't finer.
const sameVolts = 0.001

// LimitAt is the supply's limit that holds at a voltage.
func (s Scene) LimitAt(volts float64) float64 {
	for _, l := range s.Limits {
		if math.Abs(l.Volts-volts) < sameVolts {
			return math.Max(l.Amps, leastLimitA)
		}
	}
	if s.LimitA != nil {
		return math.Max(*s.LimitA, leastLimitA)
	}
	return defaultLimitA
}

// Filled writes the defaults of room and source into a scene.
func (s Scene) Filled() Scene {
	r := s.RoomOr()
	s.Room, s.SetVolts = &r, Is(s.SetHalfV())
	return s
}

// Key is equal for equal scenes.
func (s Scene) Key() string {
	volts, m := "?", "?"
	if s.Volts != nil {
		volts = fmt.Sprint(*s.Volts)
	}
	if s.Accuracy != nil {
		m = fmt.Sprint(*s.Accuracy)
	}
	return fmt.Sprintln(s.Loose, volts, s.SetHalfV(), s.BurdenOhm, s.LeadsOhm, s.LeadsHalfOhm, s.RoomOr(), m,
		s.On == nil,
		strings.Join(s.On, "\x00"), s.LimitAt(0), s.Limits, s.JitterV, s.Supply, s.Sitting, s.Meter)
}

// Check refuses what no bench can have.
func (s Scene) Check() error {
	volts := 0.0
	if s.Volts != nil {
		volts = *s.Volts
	}
	for _, f := range []struct {
		name   string
		v, max float64
	}{
		{"volts", volts, 60}, {"set_volts", s.SetHalfV(), 10}, {"burden_ohm", s.BurdenOhm, 1e6},
		{"leads_ohm", s.LeadsOhm, 1e6}, {"leads_half_ohm", s.LeadsHalfOhm, 1e6},
		{"jitter of the voltage", s.JitterV, 10}, {"limit of the supply", s.LimitAt(0), 1000},
	} {
		if !(f.v >= 0 && f.v <= f.max) {
			return fmt.Errorf("%s is %g: it must lie between 0 and %g", f.name, f.v, f.max)
		}
	}
	if r := s.RoomOr(); !(r.C > -60 && r.C < 100) || !(r.HalfC >= 0 && r.HalfC < 60) {
		return fmt.Errorf("a room at %g degC ±%g: expected -60 to 100 degC, give or take less than 60", r.C, r.HalfC)
	}
	if m := s.Accuracy; m != nil && (!(m.OfReading >= 0 && m.OfReading < 1) || !(m.FloorA >= 0) ||
		!(m.ResolutionA >= 0)) {
		return fmt.Errorf("a meter of ±(%g of reading + %g A), step %g A: negative or not a number", m.OfReading,
			m.FloorA, m.ResolutionA)
	}
	return nil
}
