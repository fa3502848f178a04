package wiring

import (
	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
)

// Level chooses a point of an envelope.
type Level uint8

// The levels of an envelope load. The zero Level is Mean.
const (
	Mean Level = iota
	Low
	High
)

// Options say under what conditions the plan is wired up.
type Options struct {
	AmbientC  *float64 // degC; nil: RoomC
	SeriesOhm float64  // meter burden and leads in the plus wire at the jack; 0 in service
	Envelope  Level    // of loads that flicker, sound or move
}

// RoomC is the room where none is known, and the temperature that parts' curves
// are given for, degC.
const RoomC = 25.0

// RoomC is the temperature that holds, degC.
func (o Options) RoomC() float64 {
	if o.AmbientC == nil {
		return RoomC
	}
	return *o.AmbientC
}

// Terminal is what one clip or relay switches: a group fed by a joint, or a
// board with all its outputs.
type Terminal struct {
	Name  string
	Group int // index in plan.Groups; -1 for a board
	Board int // index in plan.Boards; -1 for a group
}

// Terminals lists the feeds of a plan in fixed order: groups fed by a joint, in
// plan order, then boards, in plan order. All jacks together.
func Terminals(p *plan.Plan) []Terminal {
	var ts []Terminal
	for i, g := range p.Groups {
		if g.Board == "" {
			ts = append(ts, Terminal{Name: g.Name, Group: i, Board: -1})
		}
	}
	for i, b := range p.Boards {
		ts = append(ts, Terminal{Name: b.Name, Group: -1, Board: i})
	}
	return ts
}

// Wired is a plan's circuit behind one jack with its names. Its slices are by
// index in the plan. One goroutine uses it; Clone makes another.
type Wired struct {
	Plan      *plan.Plan
	Jack      int // index in plan.Jacks
	Options   Options
	Terminals []Terminal
	Groups    []Group
	Boards    []Board
	Joints    []Joint
	Returns   []Return
	Meter     circuit.Node // the burden and leads
	Params    []Param
	Commons   int      // reel-common factors that Params refer to
	Factors   []Factor // by Param.Common
	Unknown   []string // groups that are as found: nothing known of them is in the circuit

	Net    *circuit.Net
	Point  *circuit.Point // of the last Solve
	solver *circuit.Solver

	names   *names
	labels  labels
	wires   []wire
	ohms    []branchOhms // by BranchID
	feeds   []feed
	draws   []standing // by DrawID
	coppers [][]circuit.Node
	hurt    []circuit.BranchID // what a fault hook has touched
}

// Group is where one group lies in the circuit.
type Group struct {
	Here     bool             // behind this jack
	Unknown  bool             // as found
	Feed     circuit.Node     // the joint or output pin its wire starts from
	Far      circuit.Node     // where its wire ends
	Ret      circuit.Ground   // where its loads return to
	Branches []Branch         // of all its lights, in their order
	Draws    []circuit.DrawID // envelope loads
	wire     int
	shunt    circuit.ShuntID
	extra    []circuit.BranchID // by light; -1: envelope
}

// Branch is one branch of a group.
type Branch struct {
	ID      circuit.BranchID
	Node    circuit.Node // where it hangs; segments of a strip lie one behind the other
	Light   int          // index in plan.Group.Lights
	Piece   int          // from 0, of Light.Count
	Segment int          // from 0, of Light.Segments
}

// Board is where one board lies.
type Board struct {
	Here    bool           // behind this jack
	Node    circuit.Node   // its plus contact
	Ret     circuit.Ground // its minus contact
	Draw    circuit.DrawID // its standing draw
	Outputs []circuit.Node // pins, by index in plan.Board.Outputs
	wire    int
	shunts  []circuit.ShuntID // extra load by output
}

// Joint is where one joint lies.
type Joint struct {
	Here  bool           // behind this jack
	First circuit.Node   // the element of its wire
	Holds []circuit.Node // the elements of what it holds, in order
	Node  circuit.Node   // after them
	Ret   circuit.Ground // its minus; that of the joint before it where both conductors are one resistor
	Split bool           // plus and minus conductors are kept apart
	wire  int
}

// Return is where one return lies.
type Return struct {
	Here   bool // behind this jack
	Ground circuit.Ground
	wire   int
}
