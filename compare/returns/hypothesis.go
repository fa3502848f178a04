package returns

import "sealworthy/compare/fault"

// Hypothesis is one thing that may be wrong, and what it makes of a sweep.
type Hypothesis struct {
	Place  string     `json:"place,omitempty"` // group, board or joint
	Class  fault.Kind `json:"class"`
	Param  float64    `json:"param,omitempty"` // branches of a dark branch, ohms of a joint, leak or plug
	Prior  float64    `json:"prior"`
	DeltaA []float64  `json:"delta_a"` // by voltage, on the mean draw

	// extra are covariance vectors: how the fault itself is uncertain.
	extra [][]float64
	// steps is the share of its step that a blinking group still shows; a group
	// that isn't named shows all of it.
	steps map[string]float64
}

// at is what place and class together are called where no place is known.
func (h Hypothesis) at() string {
	if h.Place != "" {
		return h.Place
	}
	return string(h.Class)
}

// share gives each hypothesis its prior probability.
func share(p fault.ReturnPriors, hs []Hypothesis) {
	sum := 0.0
	for _, h := range hs {
		sum += h.Prior
	}
	if !(sum > 0) {
		return
	}
	left := 1 - p.Nothing - p.Unknown - p.Two
	for i := range hs {
		hs[i].Prior *= left / sum
	}
}
