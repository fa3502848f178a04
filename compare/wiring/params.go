package wiring

import "sealworthy/compare/plan"

// ParamKind says what an uncertain quantity is.
type ParamKind string

// The kinds of uncertain quantity, with the unit of their plan.Value.
const (
	BranchOhms   ParamKind = "branch resistor"      // ohm
	LEDVolts     ParamKind = "LED voltage"          // V, deviation from the curve
	BranchSpread ParamKind = "spread of the part"   // fraction of the branch's current, nominal 1
	CopperOhms   ParamKind = "copper of the strip"  // ohm between segments
	WireOhms     ParamKind = "wire"                 // ohm of one conductor at 20 degC
	HoldOhms     ParamKind = "fuse, switch or plug" // ohm
	DiodeVolts   ParamKind = "diode drop"           // V
	ConverterOut ParamKind = "converter voltage"    // V
	ConverterEff ParamKind = "converter efficiency" // fraction
	ConverterIdl ParamKind = "converter idle draw"  // A
	BoardDraw    ParamKind = "board's standing draw"
	OutputVolts  ParamKind = "output voltage"    // V
	OutputOhms   ParamKind = "output resistance" // ohm
	EnvelopeAmps ParamKind = "envelope draw"     // A, between Low and High
)

// Param is one uncertain quantity. Indices are -1 where they don't apply.
type Param struct {
	Kind   ParamKind
	Name   string // in plain words, with where it is
	Group  int    // index in plan.Groups
	Board  int    // index in plan.Boards
	Joint  int    // index in plan.Joints
	Return int    // index in plan.Returns
	Branch int    // index in Group.Branches
	LED    int    // in the branch, from 0
	Reel   string // pieces of the same kind and reel share deviations
	Common int    // index of the reel-common factor, below Wired.Commons
	// Value is nominal, half-width (rectangular) and share. A draw is
	// HalfWidth * (sqrt(Share)*c[Common] + sqrt(1-Share)*e), each of c and e of
	// unit variance times sqrt(3) where a standard deviation is wanted.
	Value plan.Value

	apply int // what Apply moves
}

// Apply moves parameter i by a deviation from its nominal, in the unit of its
// Value. It allocates nothing. What can't be (a resistor below zero) is held at
// its limit.
func (w *Wired) Apply(i int, deviation float64) { w.move(&w.Params[i], deviation) }
