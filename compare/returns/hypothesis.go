package returns

import (
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
)

// Hypothesis is one thing that may be wrong, and what it makes of a sweep.
type Hypothesis struct {
	Place  string     `json:"place,omitempty"` // group, board or joint
	Class  fault.Kind `json:"class"`           // what kind of fault
	Param  float64    `json:"param,omitempty"` // branches of a dark branch, ohms of a joint, leak or plug
	Prior  float64    `json:"prior"`           // its weight before anything is measured
	DeltaA []float64  `json:"delta_a"`         // by voltage, on the mean draw

	// extra are covariance vectors: how the fault itself is uncertain.
	extra [][]float64
	// steps is the share of its step that a blinking group still shows; a group
	// that isn't named shows all of it.
	steps map[string]float64
	// lights is how the lights of a group look; one that isn't named looks as it should.
	lights map[string]look.Lights
	// slight: its lights get so little less that nobody sees it, see markSlight.
	slight bool
	// hidden is how probable it is that nobody notices it from outside, 0 to 1.
	hidden float64
}

// at is what place and class together are called where no place is known.
func (h Hypothesis) at() string {
	if h.Place != "" {
		return h.Place
	}
	return string(h.Class)
}

// answer is what a search asks for: the place, or nothing where nothing shows.
func (h Hypothesis) answer() string {
	if h.slight {
		return string(fault.Nothing)
	}
	return h.at()
}

// share gives each hypothesis its prior probability.
func share(p fault.ReturnPriors, hs []Hypothesis) {
	sum := 0.0
	for i := range hs {
		hs[i].Prior *= 1 - hs[i].hidden*(1-p.Unnoticed)
		sum += hs[i].Prior
	}
	if !(sum > 0) {
		return
	}
	left := 1 - p.Nothing - p.Unknown - p.Two
	for i := range hs {
		hs[i].Prior *= left / sum
	}
}
