package capture

import (
	"context"
	"math/rand/v2"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Bench is what stands on the bench. Supply and Clock are needed; all else may
// be missing.
type Bench struct {
	Clock  clock.Clock
	Supply instruments.Supply
	// Meter sits in the plus lead. Without one the supply's read-back is read.
	Meter  instruments.Meter
	Relays instruments.Relays // nil: the maker moves a clip

	Channels map[string]int // terminal to relay channel
	Buttons  map[string]int // board to the relay channel across its button

	SupplyName string // as in Reading.Instrument; "" is "supply"
	MeterName  string // as in Reading.Instrument; "" is "meter"

	// MostVolts and MostAmps are what this bench never goes above: a step that
	// wants a higher voltage isn't powered, no limit is set to more. 0: none.
	MostVolts, MostAmps float64

	// OutputF is the capacitance across the supply's output, farads: it isn't held by
	// the limit. 0: not stated.
	OutputF float64

	Leads         *Leads  // leads and clips; nil: not known. Each step's record has them
	MeterFuseAmps float64 // of the jack in use; 0 is unknown, then the meter's own Description counts
	AmbientC      *float64

	// Reopen opens an instrument again after its port was gone. A nil func
	// means that it can't be: then a lost instrument ends the test.
	ReopenSupply func(context.Context) (instruments.Supply, error)
	// a nil one: a lost meter ends the test
	ReopenMeter func(context.Context) (instruments.Meter, error)
	// a nil one: a lost relay board ends the test
	ReopenRelays func(context.Context) (instruments.Relays, error)
}

// Leads is what lies between supply and model besides the meter.
type Leads struct {
	Ohm     float64 `json:"ohm"`      // there and back, clips included
	HalfOhm float64 `json:"half_ohm"` // half-width
}

// Options of a test.
type Options struct {
	Stage string       // loose, fitted …
	Done  []StepRecord // of an earlier sitting; they count as done
	Total int          // steps known of, for the progress shown; 0 is unknown
	// Rand jitters the spacing of readings. Needed where a step has Jitter.
	Rand *rand.Rand
	// Touch asks what was touched after a fault and after a long pause, where the
	// guide knows what hangs on what. TouchAtEnd asks before the end, too: a
	// closure can't be ready without. TouchFirst, where it isn't empty, says why it
	// is asked before the first step: the test goes on with an earlier one.
	Touch, TouchAtEnd bool
	TouchFirst        string // why, in plain words, as a question begins
	// HandsFree feels for clips by a little current instead of asking for each, where
	// the guide is a Feeler and the bench can.
	HandsFree bool
	// OnClip is what hangs on the clip before the first step, as the proof's resistor; it's
	// no contact that is felt. Empty: nothing, as far as anyone knows.
	OnClip string
	// NoColours: whoever looks can't judge colours, as was said before. ColoursAsked: that is
	// asked elsewhere, so no look has the choice.
	NoColours, ColoursAsked bool
	// Guard switches off on signals and panics. nil: Run makes its own.
	Guard *Guard
	// HoldWhenLost keeps the output on at its limit when the meter is lost;
	// else it goes off.
	HoldWhenLost bool
	// ReplugFor is how long an unattended test waits for a lost instrument.
	// 0 is 30 s.
	ReplugFor time.Duration
	// ReadBackEvery is the least time between two read-backs of the supply.
	// 0 is 0.5 s.
	ReadBackEvery time.Duration
	// Wall tells the wall time, to notice that the machine slept. nil: the
	// Clock's Now without its monotonic part.
	Wall func() time.Time
}
