package circuit

import (
	"fmt"
	"math"
)

// Node is a point of the plus side. Node 0 is the plus contact of the jack,
// after the source's own resistance. Every other node is named by the element
// that feeds it, so a Node also names that element.
type Node int32

// Ground is a point of the minus side. Ground 0 is the minus contact of the
// jack, at 0 V; any other is named by the resistor that leads back from it.
type Ground int32

// BranchID, DrawID and ShuntID name the loads of a Net, from 0.
type (
	BranchID int32
	DrawID   int32
	ShuntID  int32
)

type elementKind uint8

const (
	resistorElement elementKind = iota
	diodeElement
	converterElement
	outputElement
)

// element leads from parent to the node of the same index.
type element struct {
	kind   elementKind
	lit    bool
	off    bool
	parent Node
	ret    Ground // converter and output: the minus contact of the electronics
	diode  Diode
	conv   Converter
	out    Output
}

type ground struct {
	parent Ground
	ohms   float64
}

type branch struct {
	at        Node
	ret       Ground
	off       bool
	open      bool
	dirty     bool
	kind      branchKind
	stamp     int32 // counts changes of what is in it
	first, n  int32 // its LEDs
	ohms      float64
	factor    float64
	m, i0     float64 // lumped: slope and saturation current
	seriesOhm float64 // what the LEDs add to ohms
	baseV     float64 // lumped: what the diodes themselves shift
	healthy   bool    // every LED is OK and counts with its own deviation
	law       Law     // nil: the parts' own
	reg       Regulator
}

type draw struct {
	at        Node
	ret       Ground
	off       bool
	amps      float64
	fullVolts float64 // below it the draw falls in proportion
}

type shunt struct {
	at   Node
	ret  Ground
	off  bool
	ohms float64
}

// Net is the circuit: what there is and every parameter of it.
type Net struct {
	el       []element // by Node; el[0] is the jack
	ohms     []float64 // by Node: of resistor elements
	gnd      []ground  // by Ground; gnd[0] is the jack
	branches []branch
	leds     []led
	shifts   []float64 // by LED: its own deviation, V
	r, v0    []float64 // by BranchID: total resistance and lumped voltage shift
	draws    []draw
	shunts   []shunt
	dirty    []BranchID // branches whose r and v0 are out of date
	shape    int        // counts changes that alter what is solved for
	err      *Error     // the first thing wrong in what was added
}

// New is a Net of a jack alone.
func New() *Net {
	return &Net{el: []element{{}}, ohms: []float64{0}, gnd: []ground{{}}, shape: 1}
}

// Branches counts the branches of a Net.
func (n *Net) Branches() int { return len(n.branches) }

// Err is the first thing wrong in what was added or set, or nil. Solve returns
// it too, so a builder may ask once at its end.
func (n *Net) Err() error {
	if n.err == nil {
		return nil
	}
	return n.err
}

func (n *Net) fail(at Ref, format string, args ...any) {
	if n.err == nil {
		n.err = &Error{Problem: BadInput, At: at, Text: fmt.Sprintf(format, args...)}
	}
}

func (n *Net) checkOhms(at Ref, ohms float64) float64 {
	if !(ohms >= 0) { // +Inf is an open joint
		n.fail(at, "resistance must be 0 ohm or more, got %g", ohms)
		return 0
	}
	return ohms
}

func (n *Net) checkPlace(at Node, ret Ground, ref Ref) {
	if int(at) < 0 || int(at) >= len(n.el) || int(ret) < 0 || int(ret) >= len(n.gnd) {
		n.fail(ref, "hangs between node %d and return %d, which are not there", at, ret)
	}
}

func (n *Net) addElement(e element) Node {
	id := Node(len(n.el))
	n.checkPlace(e.parent, e.ret, Ref{RefNode, int(id)})
	n.el, n.ohms = append(n.el, e), append(n.ohms, 0)
	n.shape++
	return id
}

// AddResistor leads from a node through a wire, joint, burden, fuse, switch or
// plug to a new node. 0 ohm is allowed; +Inf is an open joint.
func (n *Net) AddResistor(from Node, ohms float64) Node {
	ohms = n.checkOhms(Ref{RefNode, len(n.el)}, ohms)
	id := n.addElement(element{kind: resistorElement, parent: from})
	n.ohms[id] = ohms
	return id
}

// AddDiode leads through a series diode to a new node.
func (n *Net) AddDiode(from Node, d Diode) Node {
	if err := d.Valid(); err != nil {
		n.fail(Ref{RefNode, len(n.el)}, "%v", err)
	}
	return n.addElement(element{kind: diodeElement, parent: from, diode: d})
}

// AddConverter leads through a converter whose minus contact is ret to a new node.
func (n *Net) AddConverter(from Node, ret Ground, c Converter) Node {
	id := len(n.el)
	if err := c.valid(); err != nil {
		n.fail(Ref{RefNode, id}, "%v", err)
	}
	return n.addElement(element{kind: converterElement, parent: from, ret: ret, conv: c})
}

// AddOutput adds one output of a board fed from a node, with its minus contact
// at ret, and returns the node of its pin.
func (n *Net) AddOutput(from Node, ret Ground, o Output) Node {
	id := len(n.el)
	if err := o.valid(); err != nil {
		n.fail(Ref{RefNode, id}, "%v", err)
	}
	return n.addElement(element{kind: outputElement, parent: from, ret: ret, out: o, lit: o.Lit})
}

// AddReturn adds a point of the minus side that leads back to another.
func (n *Net) AddReturn(to Ground, ohms float64) Ground {
	id := len(n.gnd)
	ohms = n.checkOhms(Ref{RefReturn, id}, ohms)
	if int(to) < 0 || int(to) >= id {
		n.fail(Ref{RefReturn, id}, "leads to return %d, which is not there", to)
		to = 0
	}
	n.gnd = append(n.gnd, ground{parent: to, ohms: ohms})
	n.shape++
	return Ground(id)
}

// AddBranch hangs a branch between a node and a return. The LEDs are copied.
func (n *Net) AddBranch(at Node, ret Ground, b Branch) BranchID {
	id := BranchID(len(n.branches))
	ref := Ref{RefBranch, int(id)}
	n.checkPlace(at, ret, ref)
	if !(b.Ohms >= 0) || math.IsInf(b.Ohms, 0) {
		n.fail(ref, "resistor must be 0 ohm or more, got %g", b.Ohms)
	}
	if b.Factor == 0 {
		b.Factor = 1
	}
	if !(b.Factor > 0) || math.IsInf(b.Factor, 0) {
		n.fail(ref, "current factor must be above 0, got %g", b.Factor)
	}
	if err := b.Regulator.valid(); err != nil {
		n.fail(ref, "%v", err)
		b.Regulator = Regulator{}
	}
	nb := branch{at: at, ret: ret, open: b.Open, ohms: b.Ohms, factor: b.Factor, reg: b.Regulator,
		first: int32(len(n.leds)), n: int32(len(b.LEDs))}
	for k := range b.LEDs {
		n.leds = append(n.leds, n.newLED(ref, k, b.LEDs[k]))
		n.shifts = append(n.shifts, n.leds[len(n.leds)-1].ShiftV)
	}
	n.branches, n.r, n.v0 = append(n.branches, nb), append(n.r, 0), append(n.v0, 0)
	n.restructure(id)
	return id
}

func (n *Net) newLED(ref Ref, k int, l LED) led {
	if err := l.Diode.Valid(); err != nil {
		n.fail(ref, "LED %d: %v", k+1, err)
	}
	if l.Reverse != (Diode{}) {
		if err := l.Reverse.Valid(); err != nil {
			n.fail(ref, "protection diode of LED %d: %v", k+1, err)
		}
	}
	if !(l.LeakOhm >= 0) || math.IsNaN(l.ShiftV) || math.IsInf(l.ShiftV, 0) {
		n.fail(ref, "LED %d: leak of %g ohm, shift of %g V", k+1, l.LeakOhm, l.ShiftV)
		l.LeakOhm, l.ShiftV = 0, 0
	}
	if math.IsInf(l.LeakOhm, 1) {
		l.LeakOhm = 0
	}
	nl := led{LED: l, logI0: math.Log(l.Diode.SaturationA)}
	if l.Reverse.SaturationA > 0 {
		nl.logRev = math.Log(l.Reverse.SaturationA)
	}
	return nl
}

// AddDraw hangs a load of constant current. Below fullVolts across it the draw
// falls in proportion, as a board browns out; 0: it insists at any voltage.
func (n *Net) AddDraw(at Node, ret Ground, amps, fullVolts float64) DrawID {
	id := DrawID(len(n.draws))
	n.checkPlace(at, ret, Ref{RefDraw, int(id)})
	n.draws = append(n.draws, draw{at: at, ret: ret})
	n.shape++
	n.SetDraw(id, amps, fullVolts)
	return id
}

// AddShunt hangs a resistor. 0 ohm is a dead short, held at 1 microohm; +Inf is none.
func (n *Net) AddShunt(at Node, ret Ground, ohms float64) ShuntID {
	id := ShuntID(len(n.shunts))
	n.checkPlace(at, ret, Ref{RefShunt, int(id)})
	n.shunts = append(n.shunts, shunt{at: at, ret: ret})
	n.shape++
	n.SetShunt(id, ohms)
	return id
}

// Clone is a Net of its own with the same content, for another goroutine.
func (n *Net) Clone() *Net {
	c := *n
	c.el = append([]element(nil), n.el...)
	c.ohms, c.shifts = append([]float64(nil), n.ohms...), append([]float64(nil), n.shifts...)
	c.r, c.v0 = append([]float64(nil), n.r...), append([]float64(nil), n.v0...)
	c.gnd = append([]ground(nil), n.gnd...)
	c.branches = append([]branch(nil), n.branches...)
	c.leds = append([]led(nil), n.leds...)
	c.draws = append([]draw(nil), n.draws...)
	c.shunts = append([]shunt(nil), n.shunts...)
	c.dirty = append([]BranchID(nil), n.dirty...)
	return &c
}
