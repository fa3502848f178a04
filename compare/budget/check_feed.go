package budget

import (
	"math"
	"slices"

	"sealworthy/compare/plan"
)

// adapterLoad is the part of an adapter's rating that is used at most;
// common practice, no source.
const adapterLoad = 0.8

// What sources without a stated rating give. From memory: a USB port without
// negotiation 0.5 A; a lithium coin cell of 20 mm some 10 mA for long.
const (
	usbAmps  = 0.5
	coinAmps = 0.010
)

// jacks checks every source: load, fuse, and the cautions that go with its kind.
func (c *checker) jacks() {
	for i, j := range c.p.Jacks {
		at := Check{Jack: j.Name, Pos: j.Pos}
		a := c.high.jacks[i].amps
		steady := c.mid.jacks[i].amps
		most, whose := j.AdapterAmps, "the adapter gives "
		switch {
		case most > 0:
		case j.Source == "usb":
			most, whose = usbAmps, "a USB port gives, unless asked, "
		case j.Source == "coin":
			most, whose = coinAmps, "for long a coin cell gives no more than "
		}
		switch {
		case most > 0 && a > most:
			c.say(Wrong, KindAdapter, at, a, most, "A", "with everything lit the model draws %s at jack %s, %s%s: "+
				"too much",
				amps(a), quote(j.Name), whose, amps(most))
		case most > 0 && a > adapterLoad*most:
			c.say(Risky, KindAdapter, at, a, adapterLoad*most, "A", "with everything lit the model draws %s at jack "+
				"%s, %s%s: that is %.0f %%, keep to 80 %%",
				amps(a), quote(j.Name), whose, amps(most), 100*a/most)
		case most == 0 && (j.Source == "adapter" || j.Source == ""):
			c.say(Advice, KindAdapter, at, a, 0, "A", "the adapter's rating isn't in the plan: jack %s needs one of "+
				"at least %s",
				quote(j.Name), amps(roundUp(a/adapterLoad)))
		}
		c.jackFuse(j, at, steady)
		c.source(j, at)
	}
}

// roundUp goes to the next tenth of an ampere.
func roundUp(a float64) float64 { return math.Ceil(a*10-1e-9) / 10 }

// leastFuse: smaller fuses have tens of ohms and dim what they protect; from
// memory, no source.
const leastFuse = 0.1

// fuseFor is the fuse for a steady draw, none smaller than leastFuse.
func fuseFor(steady float64) (float64, bool) {
	f, ok := FuseAmps(steady)
	return max(f, leastFuse), ok
}

// jackFuse names a fuse where none protects the whole model.
func (c *checker) jackFuse(j plan.Jack, at Check, steady float64) {
	fuse, ok := fuseFor(steady)
	if !ok || j.Source == "coin" {
		return
	}
	// Fuses at the joints that hang on the jack itself protect all behind them, and
	// nothing that hangs on the jack without a joint.
	var open []string // what hangs there without a fuse
	behind, least, where := 0, math.Inf(1), ""
	for _, k := range c.p.Joints {
		if k.From != j.Name {
			continue
		}
		if !slices.ContainsFunc(k.Holds, func(h plan.Hold) bool { return h.Kind == plan.HoldFuse }) {
			open = append(open, quote(k.Name))
			if k.Wire.FuseAmps > 0 && k.Wire.FuseAmps < least {
				least, where = k.Wire.FuseAmps, k.Name
			}
		} else {
			behind++
		}
	}
	for _, b := range c.p.Boards {
		if b.Joint == j.Name {
			open = append(open, quote(b.Name))
		}
	}
	for _, g := range c.p.Groups {
		if g.Joint == j.Name {
			open = append(open, quote(g.Name))
		}
	}
	if len(open) == 0 {
		return
	}
	what := "the model"
	if behind > 0 {
		// Some of it has one: name what hasn't.
		what = list(open)
	}
	n := c.say(Caution, KindFuse, at, steady, 0, "A",
		"no fuse lies between jack %s and %s: with %s at this jack, a fuse of %s before all else keeps a short in a "+
			"glued part from becoming a fire",
		quote(j.Name), what, amps(steady), amps(fuse))
	n.Instead = fuse
	if j.AdapterAmps > least {
		at.detail = "thinnest wire"
		c.say(Risky, KindFuse, at, j.AdapterAmps, least, "A",
			"a short behind %s would carry all the %s of the adapter through a wire that melts at %s: the fuse "+
				"belongs before it",
			quote(where), amps(j.AdapterAmps), amps(least))
	}
}

// source says the usual cautions for where the current comes from.
func (c *checker) source(j plan.Jack, at Check) {
	switch j.Source {
	case "adapter":
		c.say(Caution, KindSource, at, j.AdapterAmps, 0, "A",
			"use a regulated adapter that is approved where it will be used: an unregulated one gives up to 40 %% "+
				"more than it says (%s here); leave the mains side to its maker and to local codes",
			volts(1.4*j.Volts))
	case "coin":
		c.say(Caution, KindSource, at, 0, 0, "",
			"coin cells burn a child from inside within hours when swallowed: close the holder with a screw")
	case "battery":
		c.say(Caution, KindSource, at, 0, 0, "", "a lithium pack shorted or crushed burns: use one with its own "+
			"protection and a fuse, never close it in where it can't be taken out, charge it outside the model")
	}
}

// joint checks wire and holds of joint i.
func (c *checker) joint(i int) {
	j := c.p.Joints[i]
	at := Check{Joint: j.Name, Closure: j.Closure, Pos: j.Pos}
	high, mid, low := c.high.joints[i], c.mid.joints[i], c.low.joints[i]
	in := high.amps
	if len(high.holds) > 0 {
		in = high.holds[0].inAmps
	}
	c.wire(j.Wire, in, at, "the wire to "+quote(j.Name))
	for k, h := range j.Holds {
		at := at
		if h.Pos.Line > 0 {
			at.Pos = h.Pos
		}
		at.detail = holdName(j, k)
		c.hold(j, h, high.holds[k], mid.holds[k], low.holds[k], at)
	}
	// What copper and holds take is lost to everything behind.
	if drop, src := c.high.joints[i].drop, c.sourceVolts(j.From, c.high); !converts(j) && src > 0 && drop > 0.1*src {
		c.say(Advice, KindFarEnd, at, drop, 0.1*src, "V", "%s of %s are lost on the way to %s: the lights behind it "+
			"are dimmer for it; thicker wire, or a shorter one, helps",
			volts(drop), volts(src), quote(j.Name))
	}
}

func converts(j plan.Joint) bool {
	return slices.ContainsFunc(j.Holds, func(h plan.Hold) bool { return h.Kind == plan.HoldConverter })
}

// sourceVolts is the voltage at a joint or jack.
func (c *checker) sourceVolts(name string, s *state) float64 {
	if i := c.p.JackAt(name); i >= 0 {
		return s.jacks[i].volts
	}
	if i := c.p.JointAt(name); i >= 0 {
		return s.joints[i].volts
	}
	return 0
}

// hold checks one thing in a joint. A fuse is sized by what flows at the jack's
// own voltage.
func (c *checker) hold(j plan.Joint, h plan.Hold, high, mid, low holdState, at Check) {
	name := h.Text
	if name == "" {
		name = string(h.Kind)
	}
	a := high.inAmps
	switch {
	case h.Kind == plan.HoldFuse && h.RatedAmps > 0:
		steady := mid.inAmps
		next, ok := fuseFor(steady)
		switch {
		case a > h.RatedAmps:
			n := c.say(Wrong, KindFuse, at, a, h.RatedAmps, "A",
				"the fuse at %s carries %s and is rated %s: it will blow", quote(j.Name), amps(a), amps(h.RatedAmps))
			if ok {
				n.Text += ", use " + amps(next)
				n.Instead = next
			}
		case steady > h.RatedAmps/1.5*(1+1e-9) && ok:
			c.say(Risky, KindFuse, at, steady, h.RatedAmps/1.5, "A", "the fuse at %s carries %s and is rated %s: "+
				"use %s, 1.5 to 2 times what flows",
				quote(j.Name), amps(steady), amps(h.RatedAmps), amps(next)).Instead = next
		case ok && h.RatedAmps > 2*next:
			c.say(Risky, KindFuse, at, h.RatedAmps, 2*next, "A", "the fuse at %s is rated %s and carries %s: it "+
				"would not blow in time, use %s",
				quote(j.Name), amps(h.RatedAmps), amps(steady), amps(next)).Instead = next
		}
		if w := c.weakest(j.Name); w > 0 && h.RatedAmps > w {
			at.detail = and(at.detail, "thinnest wire")
			c.say(Risky, KindFuse, at, h.RatedAmps, w, "A", "the fuse at %s (%s) lets more through than the "+
				"thinnest wire behind it stands (%s): that wire melts first",
				quote(j.Name), amps(h.RatedAmps), amps(w))
		}
	case h.Kind == plan.HoldConverter:
		c.converter(j, h, high, low, at)
	case h.RatedAmps > 0 && a > h.RatedAmps:
		c.say(Wrong, KindHold, at, a, h.RatedAmps, "A", "the %s at %s carries %s and is rated %s",
			name, quote(j.Name), amps(a), amps(h.RatedAmps)).burns().cure(": ", "use a stronger one")
	}
}

func (c *checker) converter(j plan.Joint, h plan.Hold, high, low holdState, at Check) {
	if h.MinInVolts > 0 && low.inVolts < h.MinInVolts {
		at := at
		at.detail = and(at.detail, "too low")
		c.say(Wrong, KindHold, at, low.inVolts, h.MinInVolts, "V", "the converter at %s gets %s when the jack is at "+
			"its lowest, it needs %s: what hangs on it goes dim or out",
			quote(j.Name), volts(low.inVolts), volts(h.MinInVolts))
	}
	if a := max(high.outAmps, low.outAmps); h.MaxOutAmps > 0 && a > h.MaxOutAmps {
		c.say(Wrong, KindHold, at, a, h.MaxOutAmps, "A", "the converter at %s would have to give %s, it can give %s",
			quote(j.Name), amps(a), amps(h.MaxOutAmps)).burns().cure(": ", "use a stronger one, or hang less on it")
	} else if h.MaxOutAmps > 0 && a > adapterLoad*h.MaxOutAmps {
		c.say(Risky, KindHold, at, a, adapterLoad*h.MaxOutAmps, "A", "the converter at %s gives %s of the %s that "+
			"it can: it gets hot in a closed part",
			quote(j.Name), amps(a), amps(h.MaxOutAmps))
	}
	// Half a watt is what a small regulator stands without a heat sink; common practice, no source.
	if p := high.inVolts*high.inAmps - high.outVolts*high.outAmps; p > 0.5 {
		c.say(Risky, KindHeat, at, p, 0.5, "W", "the converter at %s turns %s into heat: give it air or a metal plate",
			quote(j.Name), watts(p))
	}
}

// weakest is the least melting current of the wires behind a joint up to the next fuse; 0: none known.
func (c *checker) weakest(joint string) float64 {
	least := math.Inf(1)
	see := func(w plan.Wire) {
		if w.FuseAmps > 0 {
			least = math.Min(least, w.FuseAmps)
		}
	}
	behind := map[string]bool{joint: true}
	for _, j := range c.p.Joints {
		if behind[j.From] && !slices.ContainsFunc(j.Holds, func(h plan.Hold) bool { return h.Kind == plan.HoldFuse }) {
			behind[j.Name] = true
			see(j.Wire)
		}
	}
	for _, b := range c.p.Boards {
		if behind[b.Joint] {
			see(b.Wire)
		}
	}
	for _, g := range c.p.Groups {
		if behind[g.Joint] {
			see(g.Wire)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}
