package wiring

import (
	"fmt"
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
)

// ParamKind says what an uncertain quantity is.
type ParamKind string

// The kinds of uncertain quantity, with the unit of their plan.Value.
const (
	BranchOhms   ParamKind = "branch resistor"       // ohm
	LEDVolts     ParamKind = "LED voltage"           // V, deviation from the curve
	BranchSpread ParamKind = "spread of the part"    // fraction of the branch's current, nominal 1
	CopperOhms   ParamKind = "copper of the strip"   // ohm between segments
	WireOhms     ParamKind = "wire"                  // ohm of one conductor at 20 degC
	HoldOhms     ParamKind = "fuse, switch or plug"  // ohm
	DiodeVolts   ParamKind = "diode drop"            // V
	DiodeOhms    ParamKind = "diode resistance"      // ohm
	ConverterOut ParamKind = "converter voltage"     // V
	ConverterEff ParamKind = "converter efficiency"  // fraction
	ConverterIdl ParamKind = "converter idle draw"   // A
	BoardDraw    ParamKind = "board's standing draw" // A
	OutputVolts  ParamKind = "output voltage"        // V
	OutputOhms   ParamKind = "output resistance"     // ohm
	EnvelopeAmps ParamKind = "envelope draw"         // A, held between the envelope's low and high
)

// Param is one uncertain quantity. Indices are -1 where they don't apply. Only
// quantities with a half-width above zero are listed. The supply's setting is
// the caller's.
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
	// HalfWidth * (sqrt(Share)*c[Common] + sqrt(1-Share)*e), with c and e of
	// variance 1/3 each (rectangular from -1 to 1).
	Value plan.Value

	apply int // what Apply moves
}

// Factor names one reel-common factor, the same in every plan that uses the reel.
type Factor struct {
	Kind ParamKind `json:"kind"`
	Reel string    `json:"reel"` // its name in the plan, or the part's own
	Part string    `json:"part"` // of the piece that deviates: the LED inside, not the chain
}

// PerK is by how much a quantity moves per kelvin: LEDs by their coefficient,
// copper by its own; 0 for what doesn't answer to the room. Its unit is that of
// the quantity, per K.
func (w *Wired) PerK(q Param) float64 {
	switch q.Kind {
	case LEDVolts:
		light := w.Groups[q.Group].Branches[q.Branch].Light
		return w.Plan.Groups[q.Group].Lights[light].Series[q.LED].TempcoVPerK
	case WireOhms, CopperOhms:
		return q.Value.Nominal * plan.CopperPerK
	}
	return 0
}

func none() Param { return Param{Group: -1, Board: -1, Joint: -1, Return: -1, Branch: -1, LED: -1} }

// addParam lists a quantity if it is uncertain. part stands in where there is no reel.
func (b *builder) addParam(q Param, part string) {
	if !(q.Value.HalfWidth > 0) {
		return
	}
	if q.Reel == "" {
		q.Reel = part
	}
	key := string(q.Kind) + "\x00" + q.Reel + "\x00" + part
	c, ok := b.common[key]
	if !ok {
		c = len(b.common)
		b.common[key] = c
		b.Factors = append(b.Factors, Factor{Kind: q.Kind, Reel: q.Reel, Part: part})
	}
	q.Common = c
	b.Params = append(b.Params, q)
}

func (b *builder) branchParams(l label, lt *plan.Light, id circuit.BranchID, q Param) {
	q.Reel, q.apply = lt.Reel, int(id)
	place := fmt.Sprintf("%s, branch %d, %s", lt.Part, q.Branch+1, l.where)
	add := func(kind ParamKind, v plan.Value, part string) {
		q.Kind, q.Name, q.Value = kind, string(kind)+" of "+place, v
		b.addParam(q, part)
	}
	add(BranchOhms, lt.Ohms, lt.Part)
	add(BranchSpread, lt.BranchSpread, lt.Part)
	for k := range lt.Series {
		q.LED = k
		add(LEDVolts, lt.Series[k].Volts, lt.Series[k].Part)
	}
}

// Apply moves parameter i by a deviation from its nominal, in the unit of its
// Value. It allocates nothing. What can't be (a resistor below zero) is held at
// its limit.
//
// The spread of a part scales its branch's current at every voltage alike, as if
// 1+deviation of it lay in parallel: R/f and f times the saturation current, so
// that the knee stays where it is.
func (w *Wired) Apply(i int, deviation float64) {
	q := &w.Params[i]
	switch q.Kind {
	case BranchOhms:
		w.ohms[q.apply].dev = deviation
		w.setOhms(circuit.BranchID(q.apply))
	case BranchSpread:
		w.Net.SetBranchFactor(circuit.BranchID(q.apply), math.Max(leastFactor, 1+deviation))
	case LEDVolts:
		w.Net.SetLEDShift(circuit.BranchID(q.apply), q.LED, deviation)
	case CopperOhms:
		ohms := math.Max(0, q.Value.Nominal+deviation)
		for _, n := range w.coppers[q.apply] {
			w.Net.SetOhms(n, ohms)
		}
	case WireOhms:
		w.wires[q.apply].dev = deviation
		w.setWire(q.apply)
	case BoardDraw, EnvelopeAmps:
		w.moveDraw(q.apply, deviation)
	default:
		w.moveFeed(q, deviation)
	}
}

// leastFactor keeps a branch's spread from turning it off.
const leastFactor = 0.01

func (w *Wired) moveDraw(id int, deviation float64) {
	d := &w.draws[id]
	amps := math.Max(0, d.amps+deviation)
	if d.high >= 0 {
		amps = math.Max(d.low, math.Min(d.high, amps))
	}
	w.Net.SetDraw(circuit.DrawID(id), amps, d.full)
}

func (w *Wired) moveFeed(q *Param, deviation float64) {
	f := &w.feeds[q.apply]
	x := q.Value.Nominal + deviation
	switch q.Kind {
	case HoldOhms:
		w.Net.SetOhms(f.node, math.Max(0, x))
	case DiodeVolts:
		f.dropDev = deviation
		w.Net.SetFeedDiode(f.node, f.diode())
	case DiodeOhms:
		f.ohmsDev = deviation
		w.Net.SetFeedDiode(f.node, f.diode())
	case ConverterOut:
		f.cur.OutV = math.Max(0.01*f.conv.OutV, x)
		w.Net.SetConverter(f.node, f.cur)
	case ConverterEff:
		f.cur.Efficiency = math.Max(0.05, math.Min(1, x))
		w.Net.SetConverter(f.node, f.cur)
	case ConverterIdl:
		f.cur.IdleA = math.Max(0, x)
		w.Net.SetConverter(f.node, f.cur)
	case OutputVolts:
		o := w.Net.Output(f.node)
		o.OpenV = math.Max(0, x)
		w.Net.SetOutput(f.node, o)
	case OutputOhms:
		w.Net.SetOhms(f.node, math.Max(0, x))
	}
}
