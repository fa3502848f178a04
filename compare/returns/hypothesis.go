package returns

import "sealworthy/compare/fault"

// Class is one way in which a model can be wrong. The zero Class is none.
type Class string

// The classes. All but the last three have a place.
const (
	Nothing    Class = "nothing wrong"
	DarkBranch Class = "dark branch" // an LED dead, a wire off: look the same
	Dead       Class = "dead"        // the whole group draws nothing
	ShortedLED Class = "shorted LED"
	BadJoint   Class = "bad joint"
	StuckLit   Class = "stuck lit"
	StuckDark  Class = "stuck dark"
	DeadBoard  Class = "dead board"
	Leak       Class = "leak"
	BadPlug    Class = "bad plug" // ohms at the model's own jack
	TwoFaults  Class = "two faults"
	Unknown    Class = "unknown"
)

// Hypothesis is one thing that may be wrong, and what it makes of a sweep.
type Hypothesis struct {
	Place  string    `json:"place,omitempty"` // group, board or joint
	Class  Class     `json:"class"`
	Param  float64   `json:"param,omitempty"` // branches of a dark branch, ohms of a joint, leak or plug
	Prior  float64   `json:"prior"`
	DeltaA []float64 `json:"delta_a"` // by voltage, on the mean draw

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

// weight is that of a class at one place before anything is measured.
func weight(pr fault.ReturnPriors, c Class) float64 {
	switch c {
	case DarkBranch:
		return pr.DarkBranch
	case Dead:
		return pr.Dead
	case ShortedLED:
		return pr.ShortedLED
	case BadJoint:
		return pr.BadJoint
	case StuckLit:
		return pr.StuckLit
	case StuckDark:
		return pr.StuckDark
	case DeadBoard:
		return pr.DeadBoard
	case Leak:
		return pr.Leak
	case BadPlug:
		return pr.BadPlug
	}
	return 0
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
