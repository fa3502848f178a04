package compare

import (
	"encoding/json"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/sample"
)

// edits are what a plan says of a group now and said otherwise when it was read, each by how it's told apart from any
// draw: a count of what is lit, something to be read on the pieces or measured at them with nothing on, a sample of
// loose pieces. What is none of these nothing tells but the draw itself.
type edits struct {
	lit     bool
	read    []string // as look.Figure and look.PartRead say them
	sampled int      // parts whose figures are of a sample now
	counted bool     // of some kind there are more or fewer lights
	other   bool     // something that none of it tells
}

// told: a look told all of it.
func (e edits) told(eye look.Look) bool {
	return !e.other && eye.Saw == look.AllLit && (!e.lit || eye.Lit > 0) &&
		!slices.ContainsFunc(e.read, func(r string) bool { return !eye.HasRead(r) })
}

// figures that somebody would have misread, if the plan of before were right.
func (e edits) figures() int { return len(e.read) + e.sampled }

func (e *edits) reads(what string) {
	if !slices.Contains(e.read, what) {
		e.read = append(e.read, what)
	}
}

// alike: two parts of a plan are kept alike.
func alike(a, b any) bool {
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && string(x) == string(y)
}

// editsOf compares what was planned of a group with what is. sources are those of the parts now.
func editsOf(was, is planned, now plan.Group) edits {
	was, is = was.bare(), is.bare()
	var e edits
	e.lit = look.HowMany(plan.Group{Lights: was.Lights}) != look.HowMany(plan.Group{Lights: is.Lights})
	if len(was.Lights) == len(is.Lights) {
		for i, l := range is.Lights {
			e.light(was.Lights[i], l, now.Lights[i].Source)
		}
		e.other = e.other || e.counted && !e.lit // one more of one kind, one less of another: as many are lit
	} else {
		for i, l := range is.Lights { // what is new among them
			if !slices.ContainsFunc(was.Lights, func(x plan.Light) bool { return alike(x, l) }) {
				e.light(plan.Light{}, l, now.Lights[i].Source)
			}
		}
		e.other = e.other || !e.lit
	}
	e.wire(was.Wire, is.Wire)
	e.way(was, is)
	e.board(was.On, is.On)
	if was.Jack.Volts != is.Jack.Volts {
		e.reads(look.Figure(is.Jack.Volts, "V"))
	}
	return e
}

// light compares one kind of lights. How many there are is counted for the whole group.
func (e *edits) light(was, is plan.Light, source string) {
	if was.Count*max(1, was.Segments)*max(1, len(was.Series)) == is.Count*max(1, is.Segments)*max(1, len(is.Series)) &&
		(was.Count != is.Count || was.Segments != is.Segments) {
		e.other = true // as many of them, put together otherwise
	}
	resistor := is.Kind == plan.LEDs || is.Kind == plan.TestLoad
	if resistor && was.Ohms.Nominal != is.Ohms.Nominal {
		e.reads(look.Figure(is.Ohms.Nominal, "ohm"))
		share := was.Ohms.HalfWidth / was.Ohms.Nominal
		if was.Ohms.Nominal == 0 || math.Abs(share*is.Ohms.Nominal-is.Ohms.HalfWidth) < 1e-9*is.Ohms.Nominal {
			was.Ohms = is.Ohms
		}
	}
	e.counted = e.counted || was.Count != is.Count || was.Segments != is.Segments || len(was.Series) != len(is.Series)
	was.Count, was.Segments = is.Count, is.Segments
	if len(was.Series) > 0 && len(is.Series) > 0 && alike(was.Series[0], is.Series[0]) {
		was.Series = is.Series // another number of them is counted
	}
	switch {
	case alike(was, is):
	case strings.Contains(source, sample.Measured) && !strings.HasPrefix(source, "as "): // no figures of its own on top
		e.sampled++
	case was.Part != is.Part && is.Part != "" && !strings.ContainsAny(is.Part, ",;:"):
		e.reads(look.PartRead(is.Part))
	default:
		e.other = true
	}
}

// wire compares two wires: a rule tells how long one is, a gauge how thick.
func (e *edits) wire(was, is plan.Wire) {
	if alike(was, is) {
		return
	}
	n := len(e.read)
	if was.LengthM != is.LengthM {
		e.reads(look.Figure(1e3*is.LengthM, "mm"))
	}
	if was.AreaM2 != is.AreaM2 {
		e.reads(look.Figure(2e3*math.Sqrt(is.AreaM2/math.Pi), "mm"))
	}
	e.other = e.other || len(e.read) == n
}

// way compares what lies between a group and the jack.
func (e *edits) way(was, is planned) {
	if was.Joint != is.Joint || was.Return != is.Return || was.Board != is.Board || was.Output != is.Output ||
		len(was.Joints) != len(is.Joints) || len(was.Returns) != len(is.Returns) {
		e.other = true // it hangs elsewhere
		return
	}
	for i, j := range is.Joints {
		e.wire(was.Joints[i].Wire, j.Wire)
		e.holds(was.Joints[i].Holds, j.Holds)
	}
	for i, r := range is.Returns {
		e.wire(was.Returns[i].Wire, r.Wire)
	}
}

// holds compares what sits in a joint: a voltmeter tells what a converter gives.
func (e *edits) holds(was, is []plan.Hold) {
	if len(was) != len(is) {
		e.other = true
		return
	}
	for i, h := range is {
		x := was[i]
		if x.OutVolts.Nominal != h.OutVolts.Nominal {
			e.reads(look.Figure(h.OutVolts.Nominal, "V"))
			x.OutVolts = h.OutVolts
		}
		e.other = e.other || !alike(x, h)
	}
}

// board compares two boards: the leaflet of one tells how long its paces are.
func (e *edits) board(was, is *plan.Board) {
	if was == nil || is == nil {
		e.other = e.other || (was == nil) != (is == nil)
		return
	}
	e.wire(was.Wire, is.Wire)
	b := *was
	b.Wire = is.Wire
	if len(b.Paces) == len(is.Paces) {
		b.Paces = slices.Clone(b.Paces)
		for i, p := range is.Paces {
			if b.Paces[i].PeriodS != p.PeriodS && b.Paces[i].PeriodS > 0 && p.PeriodS > 0 && p.Flashes == nil {
				e.reads(look.Figure(p.PeriodS, "s"))
				b.Paces[i].PeriodS = p.PeriodS
			}
		}
	}
	switch {
	case alike(b, *is):
	case b.Part != is.Part && is.Part != "" && !strings.ContainsAny(is.Part, ",;:"):
		e.reads(look.PartRead(is.Part))
	default:
		e.other = true
	}
}
