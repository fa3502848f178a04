package returns

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

// Priors are weights before anything is measured: defaults of common practice,
// no data behind them. Nothing, Unknown and Two are probabilities; the rest is
// shared out over the single faults by their weights, those by place counting
// for each place.
type Priors struct {
	Nothing float64           `json:"nothing"`
	Unknown float64           `json:"unknown"`
	Two     float64           `json:"two"`
	Weights map[Class]float64 `json:"weights"`
	// SecondBranch is the weight of two dark branches against one.
	SecondBranch float64 `json:"second_branch"`
}

// DefaultPriors suits a model of which nothing is said.
func DefaultPriors() Priors {
	return Priors{Nothing: 0.5, Unknown: 0.01, Two: 0.01, SecondBranch: 0.5, Weights: map[Class]float64{
		DarkBranch: 1, Dead: 0.7, ShortedLED: 0.5, BadJoint: 1.5, StuckLit: 0.7, StuckDark: 0.7,
		DeadBoard: 0.7, Leak: 2, BadPlug: 1,
	}}
}

// ReturnPriors suits a model that a client sent back: something is wrong, most
// likely. Nothing stays possible: the adapter at the client's, a switch.
func ReturnPriors() Priors {
	p := DefaultPriors()
	p.Nothing = 0.2
	return p
}

// share gives each hypothesis its prior probability.
func (p Priors) share(hs []Hypothesis) {
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
