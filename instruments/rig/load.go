package rig

import "time"

// Load is the model on the bench: what hangs on the jack.
type Load interface {
	// Terminals names what a clip or a relay can connect.
	Terminals() []string
	// Current is the draw in A at the jack, at State.Volts there. It must not
	// fall when the voltage rises. Calls never overlap; times go on until the
	// output or a board is switched on anew.
	Current(State) float64
}

// Stepper is a Load that knows when its current next changes by itself. With
// it the meter's window is integrated exactly, piece by piece; without it the
// window is sampled every millisecond.
type Stepper interface {
	// NextChange gives the Since, later than State.Since, up to which the
	// current stays what it is. A negative one is never.
	NextChange(State) time.Duration
}

// Powerer is a Load that knows which terminals start something when they get
// power. Connecting one of those restarts Since; without the interface each
// terminal does.
type Powerer interface {
	StartsAtPower(terminal string) bool
}

// Capacitor is a Load with a capacitance at its jack. Its charging current goes
// through the meter, and at the supply's limit it takes time.
type Capacitor interface {
	Farads(State) float64
}

// State is what the load feels.
type State struct {
	Volts    float64        // at the jack
	Since    time.Duration  // since the output went on or a board was connected
	On       []bool         // terminals connected, by index of Load.Terminals
	Presses  map[string]int // of each board's button since it got power; not to be changed
	AmbientC float64
}
