package wiring

import (
	"math"

	"sealworthy/compare/circuit"
)

var inf = math.Inf(1)

// labels are the places in the plan, by the circuit's own numbers.
type labels struct {
	node, gnd, branch, draw, shunt []label
}

// wire is one wire of the plan: plus conductors in node, a minus kept apart in gnd.
type wire struct {
	node  circuit.Node   // -1: a return
	gnd   circuit.Ground // 0: none
	plus  float64        // conductors in node
	ohms  float64        // of one, at 20 degC
	warm  float64        // what the temperature makes of it
	dev   float64        // deviation, at 20 degC
	fault float64        // in series
}

// branchOhms is the resistor of a branch: (nominal + dev) scale + series.
type branchOhms struct {
	nominal, dev, scale, series float64
}

// feed is what a hold or an output is nominally.
type feed struct {
	node          circuit.Node
	ohms, ohmsDev float64
	drop, dropDev float64 // of a diode at 20 mA
	shift         float64 // of a diode, by temperature
	conv, cur     circuit.Converter
	out           circuit.Output
}

// diodePerK: a silicon diode's drop falls by about 2 mV per kelvin (from memory, textbooks).
const diodePerK = -0.002

// diode is a series diode: ideality 1.5 is assumed, its drop is stated at 20 mA.
func (f *feed) diode() circuit.Diode {
	d := circuit.FromDrop(f.drop, 0.020, 1.5*circuit.ThermalVolts(RoomC), math.Max(0, f.ohms+f.ohmsDev))
	d.ShiftV += f.dropDev + f.shift
	return d
}

// standing is a constant draw as planned; high below 0: no envelope.
type standing struct {
	amps, full, low, high float64
}

func (w *Wired) setWire(i int) {
	q := &w.wires[i]
	ohms := math.Max(0, (q.ohms+q.dev)*q.warm)
	switch {
	case q.node < 0:
		w.Net.SetReturnOhms(q.gnd, ohms+q.fault)
		return
	case q.gnd > 0:
		w.Net.SetReturnOhms(q.gnd, ohms)
	}
	w.Net.SetOhms(q.node, q.plus*ohms+q.fault)
}

func (w *Wired) setOhms(id circuit.BranchID) {
	o := &w.ohms[id]
	w.Net.SetBranchOhms(id, math.Max(0, o.nominal+o.dev)*o.scale+o.series)
}

// place puts the plan's words on a circuit's error.
func (w *Wired) place(err error) error {
	ce, ok := err.(*circuit.Error)
	if !ok {
		return err
	}
	l := label{where: "jack " + w.Plan.Jacks[w.Jack].Name, line: w.Plan.Jacks[w.Jack].Pos.Line}
	var list []label
	switch ce.At.Kind {
	case circuit.RefNode:
		list = w.labels.node
	case circuit.RefReturn:
		list = w.labels.gnd
	case circuit.RefBranch:
		list = w.labels.branch
	case circuit.RefDraw:
		list = w.labels.draw
	case circuit.RefShunt:
		list = w.labels.shunt
	}
	if k := ce.At.Index; k >= 0 && k < len(list) && list[k].where != "" {
		l = list[k]
	}
	bare := *ce
	bare.At = circuit.Ref{}
	return &Error{l.where, l.line, &bare}
}
