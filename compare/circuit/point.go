package circuit

// Source is an ideal voltage behind a resistance with a current limit.
type Source struct {
	EmfV   float64
	Ohms   float64 // ohm, in series; at least 0
	LimitA float64 // 0 or +Inf: none
}

// Mode is how the source works.
type Mode uint8

// The modes. The zero Mode is ConstantVoltage.
const (
	ConstantVoltage Mode = iota
	ConstantCurrent      // at its limit; its voltage has fallen
)

// String is CV or CC.
func (m Mode) String() string {
	if m == ConstantCurrent {
		return "CC"
	}
	return "CV"
}

// Point is an operating point. Slices are by Node, Ground, BranchID, DrawID and
// ShuntID; what is switched off or not fed holds 0. NewPoint makes one.
type Point struct {
	SourceA    float64 // out of the source
	EmfV       float64 // below the set voltage in CC
	Mode       Mode
	ResidualA  float64 // largest disagreement of a branch's current with its own law, A
	Iterations int     // that the solver took

	NodeV   []float64 // against Ground 0
	GroundV []float64
	// through the element that feeds the node; of an output: out of its pin; ElementA[0] is the source's
	ElementA []float64
	InputA   []float64 // into that element at its parent's side; differs for converters and outputs
	ReturnA  []float64 // through the resistor that leads back from the return
	BranchA  []float64
	DrawA    []float64
	ShuntA   []float64

	// OutOfRegulation by Node: a converter whose input is below its least.
	OutOfRegulation []bool
}

// NewPoint makes a Point that fits a Net; add nothing to the Net afterwards.
func (n *Net) NewPoint() *Point {
	return &Point{
		NodeV: make([]float64, len(n.el)), ElementA: make([]float64, len(n.el)), InputA: make([]float64, len(n.el)),
		GroundV: make([]float64, len(n.gnd)), ReturnA: make([]float64, len(n.gnd)),
		BranchA: make([]float64, len(n.branches)), DrawA: make([]float64, len(n.draws)),
		ShuntA: make([]float64, len(n.shunts)), OutOfRegulation: make([]bool, len(n.el)),
	}
}

// fits says whether a Point was made for a Net of this size.
func (p *Point) fits(n *Net) bool {
	return p != nil && len(p.NodeV) == len(n.el) && len(p.GroundV) == len(n.gnd) &&
		len(p.BranchA) == len(n.branches) && len(p.DrawA) == len(n.draws) && len(p.ShuntA) == len(n.shunts)
}

// Overloaded says whether an output gives more than it can: it may stay lit.
func (n *Net) Overloaded(p *Point, node Node) bool {
	e := &n.el[node]
	return e.kind == outputElement && e.out.MaxA > 0 && p.ElementA[node] > e.out.MaxA
}

// BranchVolts is the voltage over a whole branch.
func (n *Net) BranchVolts(p *Point, id BranchID) float64 {
	b := &n.branches[id]
	return p.NodeV[b.at] - p.GroundV[b.ret]
}

// LEDVolts is the voltage across one LED of a branch at an operating point. In
// a branch that carries nothing it is not determined, and 0.
func (n *Net) LEDVolts(p *Point, id BranchID, k int) float64 {
	b := &n.branches[id]
	if b.kind == blocked || p.BranchA[id] <= 0 {
		return 0
	}
	v, _ := n.ledAt(id, k).volts(p.BranchA[id]/b.factor, n.shifts[int(b.first)+k])
	return v
}
