package reel

import (
	"fmt"
	"math"

	"sealworthy/compare/wiring"
)

// Observation is one healthy reading of one group, alone on the meter.
type Observation struct {
	Group string
	Jack  string  // "": the jack that feeds the group
	Volts float64 // at the source
	// AmpsA is what was measured; for a group on a board the step of the board's
	// draw when it is lit. UA is the standard uncertainty of this reading alone
	// (last digit, scatter), GainU the relative one that all readings of one meter share.
	AmpsA, UA, GainU float64
	// ExpectedA is the mean prediction under the same conditions with nothing
	// learned. It only guards against conditions that don't belong to the reading:
	// what the reading is compared with comes from the plan without the scatter of
	// trials.
	ExpectedA float64
	// PHealthy is the probability that the group is healthy, without its own
	// help to the expectation.
	PHealthy float64

	Meter string // readings of one meter share its gain; "" is a meter as well
	Loose bool   // clipped at its own wire, without the joints before it

	SeriesOhm     float64  // burden and leads
	SeriesHalfOhm float64  // half-width of that
	AmbientC      *float64 // nil: 25 degC
	AmbientHalfC  float64  // half-width; 0: 5 K
	SetHalfV      float64  // half-width of the supply's voltage; 0: 10 mV
}

func (o Observation) roomC() float64 { return wiring.Options{AmbientC: o.AmbientC}.RoomC() }

// Half-widths of what an observation doesn't state (common practice, no source).
const (
	defaultAmbientHalfC = 5.0
	defaultSetHalfV     = 0.010
)

// leastHealthy is how sure a group's health must be for its draw to count in full.
const leastHealthy = 0.9

// whyNot says why an observation can never count; "" when it can.
func (o Observation) whyNot() string {
	for _, x := range []float64{o.AmpsA, o.UA, o.GainU, o.ExpectedA, o.Volts, o.PHealthy, o.SeriesOhm, o.SeriesHalfOhm, o.roomC(), o.AmbientHalfC, o.SetHalfV} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return "one of its numbers is none"
		}
	}
	switch {
	case o.UA < 0 || o.GainU < 0 || o.SeriesOhm < 0 || o.SeriesHalfOhm < 0 || o.AmbientHalfC < 0 || o.SetHalfV < 0:
		return "one of its uncertainties is negative"
	case !(o.ExpectedA > 0) || !(o.Volts > 0):
		return "nothing is expected of it"
	case !(o.PHealthy >= 0 && o.PHealthy <= 1):
		return "its probability isn't between 0 and 1"
	}
	return ""
}

// whyIll says why an observation doesn't count by what is believed of it now.
func (o Observation) whyIll(weighted bool) string {
	switch {
	case weighted && !(o.PHealthy >= 0.5):
		return fmt.Sprintf("it is more likely faulty than healthy (%.0f %% healthy)", 100*o.PHealthy)
	case !weighted && !(o.PHealthy > leastHealthy):
		return fmt.Sprintf("its health isn't sure enough (%.0f %%)", 100*o.PHealthy)
	}
	return ""
}

// Shares says what is taken for the part of the variance that a reel shares.
type Shares uint8

const (
	// Estimated: the planned share is a guess. It is estimated from the scatter
	// of the groups once there are four of a reel, and allowed for before.
	Estimated Shares = iota
	// AsPlanned: the planned share is certain.
	AsPlanned
)

// Options of a Learner. The zero Options are those for judging.
type Options struct {
	Shares Shares
	// Doubt about planned shares: the standard deviation of their log-odds; 0: 0.8,
	// for which half is 0.17 to 0.83 with 95 %, and 0.9 is 0.65 to 0.98.
	Doubt float64
	// Weighted lets groups count whose health isn't sure, each with its own
	// variance over its probability; else only those above 0.9 count.
	Weighted bool
	// Prior is what is known of the reels from before, as from another build;
	// nil: only what the plan says. A reel whose part book entry was made from it
	// must not stand in it as well.
	Prior *Learned
}

// Left is an observation that didn't count.
type Left struct {
	Group string `json:"group"`
	Why   string `json:"why"`
}
