package circuit

import "math"

// SetNodeOn switches an element and all that hangs behind it.
func (n *Net) SetNodeOn(node Node, on bool) {
	if e := &n.el[node]; e.off == on {
		e.off = !on
		n.shape++
	}
}

// SetBranchOn switches one branch.
func (n *Net) SetBranchOn(id BranchID, on bool) {
	if b := &n.branches[id]; b.off == on {
		b.off = !on
		n.shape++
	}
}

// SetDrawOn switches a constant draw.
func (n *Net) SetDrawOn(id DrawID, on bool) {
	if d := &n.draws[id]; d.off == on {
		d.off = !on
		n.shape++
	}
}

// SetShuntOn switches a resistor.
func (n *Net) SetShuntOn(id ShuntID, on bool) {
	if s := &n.shunts[id]; s.off == on {
		s.off = !on
		n.shape++
	}
}

// SetOhms sets the resistance of a resistor element, or of an output.
func (n *Net) SetOhms(node Node, ohms float64) {
	e := &n.el[node]
	ohms = n.checkOhms(Ref{RefNode, int(node)}, ohms)
	if e.kind == outputElement {
		e.out.Ohms = ohms
		return
	}
	if (ohms > maxOhms) != (n.ohms[node] > maxOhms) {
		n.shape++
	}
	n.ohms[node] = ohms
}

// Ohms is the resistance of a resistor element, or of an output.
func (n *Net) Ohms(node Node) float64 {
	if e := &n.el[node]; e.kind == outputElement {
		return e.out.Ohms
	}
	return n.ohms[node]
}

// SetFeedDiode replaces the diode of a diode element.
func (n *Net) SetFeedDiode(node Node, d Diode) {
	if err := d.Valid(); err != nil {
		n.fail(Ref{RefNode, int(node)}, "%v", err)
		return
	}
	n.el[node].diode = d
}

// SetConverter replaces the parameters of a converter element.
func (n *Net) SetConverter(node Node, c Converter) {
	if err := c.valid(); err != nil {
		n.fail(Ref{RefNode, int(node)}, "%v", err)
		return
	}
	n.el[node].conv = c
}

// SetOutput replaces the parameters of an output; Lit is one of them.
func (n *Net) SetOutput(node Node, o Output) {
	if err := o.valid(); err != nil {
		n.fail(Ref{RefNode, int(node)}, "%v", err)
		return
	}
	e := &n.el[node]
	if e.lit != o.Lit || e.out.FollowsSupply != o.FollowsSupply {
		n.shape++
	}
	e.out, e.lit = o, o.Lit
}

// Output is the parameters of an output.
func (n *Net) Output(node Node) Output { return n.el[node].out }

// SetLit lights or darkens an output.
func (n *Net) SetLit(node Node, lit bool) {
	if e := &n.el[node]; e.lit != lit {
		e.lit, e.out.Lit = lit, lit
		n.shape++
	}
}

// SetReturnOhms sets the resistance of a return; +Inf opens it.
func (n *Net) SetReturnOhms(g Ground, ohms float64) {
	n.gnd[g].ohms = n.checkOhms(Ref{RefReturn, int(g)}, ohms)
}

// SetDraw sets a constant draw and the voltage below which it falls.
func (n *Net) SetDraw(id DrawID, amps, fullVolts float64) {
	if !(amps >= 0) || math.IsInf(amps, 0) || !(fullVolts >= 0) || math.IsInf(fullVolts, 0) {
		n.fail(Ref{RefDraw, int(id)}, "a draw must be 0 A or more from 0 V or more, got %g A from %g V", amps,
			fullVolts)
		return
	}
	n.draws[id].amps, n.draws[id].fullVolts = amps, fullVolts
}

// SetShunt sets a resistor load; +Inf is none, 0 a dead short.
func (n *Net) SetShunt(id ShuntID, ohms float64) {
	ohms = math.Max(leastOhms, n.checkOhms(Ref{RefShunt, int(id)}, ohms))
	if s := &n.shunts[id]; (s.ohms > maxOhms) != (ohms > maxOhms) {
		n.shape++
	}
	n.shunts[id].ohms = ohms
}

// SetBranchOhms sets the resistor of a branch; 0 is "none fitted".
func (n *Net) SetBranchOhms(id BranchID, ohms float64) {
	if !(ohms >= 0) || math.IsInf(ohms, 0) {
		n.fail(Ref{RefBranch, int(id)}, "resistor must be 0 ohm or more, got %g", ohms)
		return
	}
	n.branches[id].ohms = ohms
	n.touch(id)
}

// BranchOhms is the resistor of a branch.
func (n *Net) BranchOhms(id BranchID) float64 { return n.branches[id].ohms }

// SetBranchFactor makes a branch carry factor times the current of its parts at
// any voltage, as if factor of them lay in parallel.
func (n *Net) SetBranchFactor(id BranchID, factor float64) {
	if !(factor > 0) || math.IsInf(factor, 0) {
		n.fail(Ref{RefBranch, int(id)}, "current factor must be above 0, got %g", factor)
		return
	}
	n.branches[id].factor = factor
	n.touch(id)
}

// SetBranchOpen opens a branch or closes it again.
func (n *Net) SetBranchOpen(id BranchID, open bool) {
	if b := &n.branches[id]; b.open != open {
		b.open = open
		n.restructure(id)
	}
}

// Branch is a branch as it stands, with every LED's own state and shift.
func (n *Net) Branch(id BranchID) Branch {
	b := &n.branches[id]
	out := Branch{Ohms: b.ohms, Regulator: b.reg, Factor: b.factor, Open: b.open, LEDs: make([]LED, b.n)}
	for k := range out.LEDs {
		out.LEDs[k] = n.LED(id, k)
	}
	return out
}

// LEDs is the number of LEDs in a branch.
func (n *Net) LEDs(id BranchID) int { return int(n.branches[id].n) }

// LED is one LED of a branch as it stands, counted from 0 at the plus side.
func (n *Net) LED(id BranchID, k int) LED {
	l := n.ledAt(id, k).LED
	l.ShiftV = n.shifts[int(n.branches[id].first)+k]
	return l
}

func (n *Net) ledAt(id BranchID, k int) *led { return &n.leds[int(n.branches[id].first)+k] }

// SetLEDState sets the state of one LED.
func (n *Net) SetLEDState(id BranchID, k int, s LEDState) {
	if l := n.ledAt(id, k); l.State != s {
		l.State = s
		n.restructure(id)
	}
}

// SetLEDShift sets the deviation of one LED's forward voltage, V.
func (n *Net) SetLEDShift(id BranchID, k int, volts float64) {
	if math.IsNaN(volts) || math.IsInf(volts, 0) {
		n.fail(Ref{RefBranch, int(id)}, "LED %d: voltage shift is not a number", k+1)
		return
	}
	n.shifts[int(n.branches[id].first)+k] = volts
	n.touch(id)
}

// SetLEDLeak puts a resistor across one LED; 0 or +Inf takes it away.
func (n *Net) SetLEDLeak(id BranchID, k int, ohms float64) {
	if math.IsInf(ohms, 1) {
		ohms = 0
	}
	n.ledAt(id, k).LeakOhm = n.checkOhms(Ref{RefBranch, int(id)}, ohms)
	n.restructure(id)
}

// SetLEDDiode replaces the diode of one LED, as another temperature does.
func (n *Net) SetLEDDiode(id BranchID, k int, d Diode) {
	l := n.ledAt(id, k)
	l.LED.Diode, l.ShiftV = d, 0
	*l = n.newLED(Ref{RefBranch, int(id)}, k, l.LED)
	n.restructure(id)
}

// SetBranchLaw gives a branch a law of its own in place of its parts'; nil takes it away.
func (n *Net) SetBranchLaw(id BranchID, law Law) {
	n.branches[id].law = law
	n.restructure(id)
}

func (n *Net) touch(id BranchID) {
	if b := &n.branches[id]; !b.dirty {
		b.dirty = true
		n.dirty = append(n.dirty, id)
	}
}

// refresh brings the lumped values of touched branches up to date.
func (n *Net) refresh() {
	for _, id := range n.dirty {
		b := &n.branches[id]
		b.dirty = false
		n.r[id] = (b.ohms + b.seriesOhm) / b.factor
		if b.kind == ohmic {
			n.r[id] = math.Max(n.r[id], leastOhms)
			continue
		}
		if b.kind != lumped {
			continue
		}
		v := b.baseV
		for k := b.first; k < b.first+b.n; k++ {
			if b.healthy || n.leds[k].State == OK {
				v += n.shifts[k]
			}
		}
		if b.factor != 1 {
			v -= b.m * math.Log(b.factor)
		}
		n.v0[id] = v
	}
	n.dirty = n.dirty[:0]
}

// restructure decides anew how a branch is treated: its states have changed.
func (n *Net) restructure(id BranchID) {
	b := &n.branches[id]
	b.stamp++
	n.shape++
	b.kind, b.m, b.i0, b.seriesOhm, b.baseV, b.healthy = ohmic, 0, 0, 0, 0, true
	sum, most := 0.0, 0.0
	var first *Diode
	alike := true
	leds := n.leds[b.first : b.first+b.n]
	for k := range leds {
		l := &leds[k]
		b.healthy = b.healthy && l.State == OK
		if l.State == Open || b.open {
			b.kind = blocked
			break
		}
		if l.State == Shorted {
			continue
		}
		d, logI0, ok := l.diode()
		switch {
		case !ok && l.LeakOhm > 0:
			b.seriesOhm += l.LeakOhm
		case !ok:
			b.kind = blocked
		case l.LeakOhm > 0:
			b.kind = max(b.kind, mixed)
		default:
			if first == nil {
				first = d
			} else if d.SaturationA != first.SaturationA {
				alike = false
			}
			b.seriesOhm += d.SeriesOhm
			b.m += d.SlopeV
			b.baseV += d.ShiftV
			sum += d.SlopeV * logI0
			most = math.Max(most, d.SaturationA)
		}
		if b.kind == blocked {
			break
		}
	}
	if b.open {
		b.kind = blocked
	}
	if (b.law != nil || !b.reg.IsZero()) && b.kind != blocked {
		b.kind = mixed
	}
	if b.kind == ohmic && first != nil {
		b.kind = lumped
		if b.i0 = math.Exp(sum / b.m); !alike && most > lumpLimitA {
			b.kind = mixed
		}
	}
	n.touch(id)
}
