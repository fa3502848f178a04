package fault

import (
	"errors"
	"fmt"
	"math"
	"reflect"

	"sealworthy/compare/look"
)

// Priors are how probable things are before anything is measured: defaults of
// common practice, no data behind them. All that judges takes them from here: a
// group, what stopped a ramp, what several groups have in common, a model that came
// back. A maker's file may change any of them, see ParsePriors.
type Priors struct {
	None    float64 `toml:"none" json:"none"`       // nothing is wrong with a group
	Unknown float64 `toml:"unknown" json:"unknown"` // something that is not in the list of faults
	// Two is the weight of a second fault of the same kind beside a first one.
	Two float64 `toml:"two" json:"two"`
	// Model is what the device model itself is off, a standard uncertainty as a
	// fraction of the draw: warm-up while it is read, the curve of a part between
	// the points that are known of it.
	Model float64 `toml:"model_error" json:"model_error"`
	// Curve is what the slope of LEDs' curves is off, a standard uncertainty as a
	// fraction: it tells near and below the knee, where a second voltage lies.
	Curve float64 `toml:"curve_error" json:"curve_error"`
	// KneeV is what the forward voltage of LEDs inside strips and ready-made parts is
	// off, V each, at the same draw at rated voltage: a standard uncertainty.
	KneeV float64 `toml:"knee_volts" json:"knee_volts"`
	// Loose is how probable it is that all tolerances are half as much again as the
	// plan has them. It costs a little sharpness and keeps what is stated honest
	// where they are.
	Loose float64     `toml:"loose_tolerances" json:"loose_tolerances"`
	Fault FaultPriors `toml:"fault" json:"fault"` // weights of faults
	Plan  PlanPriors  `toml:"plan" json:"plan"`   // that the plan is wrong about a light
	Joint JointPriors `toml:"joint" json:"joint"` // how many ohms a bad joint has
	Eye   look.Rates  `toml:"eye" json:"eye"`     // how far a look is believed
	// Common is for what several groups have in common.
	Common CommonPriors `toml:"common" json:"common"`
	Return ReturnPriors `toml:"return" json:"return"` // of a model that came back
}

// CommonPriors are the probabilities of what several groups can have in common.
type CommonPriors struct {
	// for each joint that groups share, and each board's wire
	Joint  float64 `toml:"joint" json:"joint"`
	Return float64 `toml:"return" json:"return"` // for each return of its own
	Jack   float64 `toml:"jack" json:"jack"`     // the jack, or the bench's leads
	// of Joint and Return the part that is open, not only bad
	Open   float64 `toml:"open" json:"open"`
	Supply float64 `toml:"supply" json:"supply"` // it is off by more than its accuracy
	Meter  float64 `toml:"meter" json:"meter"`   // it is off by more than its accuracy
	// a part's figures are off by more than their tolerance
	PartFigures float64 `toml:"part_figures" json:"part_figures"`
}

// FaultPriors are weights of faults, for each place that can have them: branch,
// LED, light or group. Together with None and Unknown they are brought to a sum of 1.
type FaultPriors struct {
	OpenBranch  float64 `toml:"open_branch" json:"open_branch"`   // for each branch
	DarkSegment float64 `toml:"dark_segment" json:"dark_segment"` // for each segment of a strip
	ReversedLED float64 `toml:"reversed_led" json:"reversed_led"` // for each LED; in a strip see In
	ShortedLED  float64 `toml:"shorted_led" json:"shorted_led"`   // for each LED
	MissingOhms float64 `toml:"missing_resistor" json:"missing_resistor"`
	DecadeOff   float64 `toml:"resistor_a_decade_off" json:"resistor_a_decade_off"` // for each direction
	BranchJoint float64 `toml:"bad_joint_in_a_branch" json:"bad_joint_in_a_branch"` // for each branch
	BadJoint    float64 `toml:"bad_joint" json:"bad_joint"`                         // in the group's own wire
	ExtraBranch float64 `toml:"extra_branch" json:"extra_branch"`                   // for each light
	// for each blinker's output
	Overloaded float64 `toml:"overloaded_output" json:"overloaded_output"`
	StuckDark  float64 `toml:"stuck_dark" json:"stuck_dark"` // for each output of a board
	Short      float64 `toml:"short" json:"short"`           // for each group
	// Joined the wrong way round: one strip or chain, the whole group.
	PieceReversed float64 `toml:"piece_reversed" json:"piece_reversed"`
	GroupReversed float64 `toml:"group_reversed" json:"group_reversed"` // the whole group
	// Other is for any kind that has no row of its own.
	Other float64 `toml:"other" json:"other"`
}

// PlanPriors are probabilities that the plan is wrong about one light, all its ways
// of being wrong in one sense together.
type PlanPriors struct {
	// more or fewer pieces, segments or LEDs
	CountOff  float64 `toml:"count_off" json:"count_off"`
	OtherPart float64 `toml:"another_part" json:"another_part"` // another part than it says
	OtherOhms float64 `toml:"another_resistor" json:"another_resistor"`
}

// JointPriors say how many ohms a bad joint has: a lognormal distribution, with
// the standard deviation of the logarithm.
type JointPriors struct {
	FeedOhms    float64 `toml:"feed_ohms" json:"feed_ohms"`
	FeedSigma   float64 `toml:"feed_sigma" json:"feed_sigma"` // of the logarithm, base e
	BranchOhms  float64 `toml:"branch_ohms" json:"branch_ohms"`
	BranchSigma float64 `toml:"branch_sigma" json:"branch_sigma"` // of the logarithm, base e
}

// ReturnPriors are for a model that a client sent back: something is wrong, most
// likely. Nothing, Unknown and Two are probabilities; the rest is shared out over
// the single faults by their weights, those by place counting for each place.
type ReturnPriors struct {
	// Nothing stays possible: the adapter at the client's, a switch.
	Nothing float64 `toml:"nothing" json:"nothing"`
	// something that is not in the list of faults
	Unknown float64 `toml:"unknown" json:"unknown"`
	Two     float64 `toml:"two" json:"two"` // two faults at once
	// Unnoticed is the weight of what nobody notices from outside against the same where its
	// lights show it. It isn't why a model comes back: those that have it come for what those
	// come that have nothing. If a share F of all models ever fails in a way that shows, then of
	// what comes back Nothing : 1 - Nothing = Unnoticed : F.
	Unnoticed float64 `toml:"unnoticed" json:"unnoticed"`
	// SecondBranch is the weight of two dark branches against one.
	SecondBranch float64 `toml:"second_branch" json:"second_branch"`
	DarkBranch   float64 `toml:"dark_branch" json:"dark_branch"` // for each group: a light dark
	// for each group and joint: all of it draws nothing
	Dead       float64 `toml:"dead" json:"dead"`
	ShortedLED float64 `toml:"shorted_led" json:"shorted_led"` // for each group
	BadJoint   float64 `toml:"bad_joint" json:"bad_joint"`     // for each group and joint
	StuckLit   float64 `toml:"stuck_lit" json:"stuck_lit"`     // for each blinking group
	StuckDark  float64 `toml:"stuck_dark" json:"stuck_dark"`   // for each blinking group
	DeadBoard  float64 `toml:"dead_board" json:"dead_board"`   // for each board
	Leak       float64 `toml:"leak" json:"leak"`               // dirt or damp between plus and minus
	// ohms in the model's own plug or jack
	BadPlug float64 `toml:"bad_plug" json:"bad_plug"`
}

// DefaultPriors suits a group of which nothing is said.
func DefaultPriors() Priors {
	return Priors{
		None: 0.85, Unknown: 0.01, Two: 0.01, Model: 0.005, Curve: 0.08, KneeV: 0.05, Loose: 0.1,
		Fault: FaultPriors{
			OpenBranch: .010, DarkSegment: .010, ReversedLED: .005, ShortedLED: .001, MissingOhms: .002,
			DecadeOff: .003, BranchJoint: .002, BadJoint: .010, ExtraBranch: .003,
			Overloaded: .003, StuckDark: .010, Short: .002, PieceReversed: .003, GroupReversed: .005, Other: .002,
		},
		Plan:   PlanPriors{CountOff: .020, OtherPart: .010, OtherOhms: .005},
		Joint:  JointPriors{FeedOhms: 30, FeedSigma: 1, BranchOhms: 500, BranchSigma: 1},
		Eye:    look.DefaultRates(),
		Common: CommonPriors{Joint: .01, Return: .01, Jack: .01, Open: .2, Supply: .01, Meter: .003, PartFigures: .01},
		Return: ReturnPriors{Nothing: .2, Unknown: .01, Two: .01, Unnoticed: .1, SecondBranch: .5,
			DarkBranch: .5, Dead: .35, ShortedLED: .25, BadJoint: .75, StuckLit: .35, StuckDark: .35,
			DeadBoard: .35, Leak: 1, BadPlug: .5},
	}
}

// Validate refuses numbers that no probability can be.
func (p Priors) Validate() error {
	var errs []error
	for _, f := range p.fields() {
		if why := f.wrong(); why != "" {
			errs = append(errs, fmt.Errorf("%s: %s", f.key, why))
		}
	}
	return errors.Join(errs...)
}

// number is one number of the priors with the key that it has in a file.
type number struct {
	key  string // "open_branch"
	x    float64
	min  float64
	max  float64
	open bool // min itself is not allowed
}

func (n number) wrong() string {
	if n.x >= n.min && n.x <= n.max && !(n.open && n.x == n.min) && !math.IsInf(n.x, 0) {
		return ""
	}
	if n.open {
		return fmt.Sprintf("%g: it must lie above %g and not above %g", n.x, n.min, n.max)
	}
	return fmt.Sprintf("%g: it must lie between %g and %g", n.x, n.min, n.max)
}

// limits of the numbers that aren't weights from 0 to 1.
var limits = map[string]number{
	"none": {min: 0, max: 0.999999}, "unknown": {min: 1e-9, max: 0.5}, "two": {min: 0, max: 0.5},
	"model_error": {min: 0, max: 0.2}, "curve_error": {min: 0, max: 0.5}, "knee_volts": {min: 0, max: 0.5},
	"loose_tolerances": {min: 0, max: 0.9},
	"joint.feed_ohms":  {min: 0, max: 1e6, open: true}, "joint.feed_sigma": {min: 0, max: 5, open: true},
	"joint.branch_ohms": {min: 0, max: 1e7, open: true}, "joint.branch_sigma": {min: 0, max: 5, open: true},
	"eye.overlooked": {min: 0, max: 0.5}, "eye.miscounted": {min: 0, max: 1}, "eye.misread": {min: 0, max: 1},
	"eye.invented": {min: 0, max: 0.5},
	"eye.floor":    {min: 1e-6, max: 0.5}, "eye.hearsay": {min: 1e-6, max: 1},
	"return.nothing": {min: 1e-6, max: 0.9}, "return.unknown": {min: 1e-9, max: 0.04},
	"return.two": {min: 0, max: 0.04},
}

// fields lists every number with its key.
func (p Priors) fields() []number {
	var out []number
	var walk func(prefix string, v reflect.Value)
	walk = func(prefix string, v reflect.Value) {
		for i := range v.NumField() {
			key := prefix + v.Type().Field(i).Tag.Get("toml")
			if v.Field(i).Kind() == reflect.Struct {
				walk(key+".", v.Field(i))
				continue
			}
			n, ok := limits[key]
			if !ok {
				n.max = 1
			}
			n.key, n.x = key, v.Field(i).Float()
			out = append(out, n)
		}
	}
	walk("", reflect.ValueOf(p))
	return out
}
