package returns

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"sealworthy/capture/record"
	"sealworthy/compare/blink"
)

// maxLine bounds a line of a signature.
const maxLine = 4 << 20

// Decode reads a signature. A damaged line is an error: a curve with a hole in
// it would pass for another one.
func Decode(r io.Reader) (*Signature, error) {
	sc := bufio.NewScanner(r)
	sc.Buffer(nil, maxLine)
	d := &decoder{}
	for n := 1; sc.Scan(); n++ {
		l, err := record.ParseLine(sc.Bytes())
		if err != nil {
			return nil, fmt.Errorf("%s: %w", number(n), err)
		}
		if err := d.line(l); err != nil {
			return nil, fmt.Errorf("%s: %w", number(n), err)
		}
	}
	if err := sc.Err(); err != nil {
		return nil, err
	}
	if d.s == nil {
		return nil, errors.New("no signature in it")
	}
	return d.s, d.check()
}

type decoder struct{ s *Signature }

// line takes one line.
func (d *decoder) line(l record.Line) error {
	tag := map[string]string{}
	for _, t := range l.Tags {
		tag[t.Key] = t.Value
	}
	if l.Measurement == headLine {
		return d.head(l, tag["build"])
	}
	if d.s == nil {
		return fmt.Errorf("a %s before the signature's own line", l.Measurement)
	}
	f := map[string]float64{}
	for _, x := range l.Fields {
		v, ok := x.Value.Interface().(float64)
		if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("field %s is no number", x.Key)
		}
		f[x.Key] = v
	}
	switch l.Measurement {
	case curveLine:
		c, err := d.curve(tag)
		if err != nil {
			return err
		}
		c.Volts, c.Amps = append(c.Volts, f["volts_v"]), append(c.Amps, f["amps_a"])
		if u, ok := f["u_a"]; ok {
			c.U = append(c.U, u)
		}
	case levelLine:
		g := d.group(tag["group"])
		if g == nil {
			return fmt.Errorf("a level of %q, which the signature doesn't list", tag["group"])
		}
		g.Paces = append(g.Paces, Level{Pace: tag["pace"], PeriodS: f["period_s"], Duty: f["duty"], OnA: f["on_a"],
			OnU: f["on_u_a"]})
	case sampleLine:
		w := d.whole(tag["pace"])
		if w == nil {
			return fmt.Errorf("a reading at pace %q, which the signature doesn't list", tag["pace"])
		}
		w.Trace = append(w.Trace, blink.Sample{AtS: f["at_s"], Amps: f["amps_a"]})
	default:
		return fmt.Errorf("unknown measurement %q", l.Measurement)
	}
	return nil
}

func (d *decoder) head(l record.Line, build string) error {
	if d.s != nil {
		return errors.New("a second signature in one file")
	}
	if len(l.Fields) != 1 || l.Fields[0].Key != "head" {
		return errors.New("a signature without its head")
	}
	var h head
	text, ok := l.Fields[0].Value.Interface().(string)
	if !ok {
		return errors.New("the head of a signature is no text")
	}
	if err := json.Unmarshal([]byte(text), &h); err != nil {
		return err
	}
	d.s = &Signature{Build: build, PlanRevision: h.PlanRevision, TakenAt: l.At.Add(-1), Simulated: h.Simulated,
		Jack:  h.Jack,
		WarmS: h.WarmS, AmbientC: h.AmbientC, Instruments: h.Instruments, Twins: h.Twins, Resistor: h.Resistor,
		Notes:  h.Notes,
		Groups: h.Groups, Whole: h.Whole}
	for _, b := range h.Boards {
		d.s.Boards = append(d.s.Boards, BoardCurve{Board: b})
	}
	return nil
}

func (d *decoder) group(name string) *GroupCurve {
	for i := range d.s.Groups {
		if d.s.Groups[i].Group == name {
			return &d.s.Groups[i]
		}
	}
	return nil
}

func (d *decoder) whole(pace string) *Whole {
	for i := range d.s.Whole {
		if d.s.Whole[i].Pace == pace {
			return &d.s.Whole[i]
		}
	}
	return nil
}

// curve finds the curve that a line belongs to.
func (d *decoder) curve(tag map[string]string) (*Curve, error) {
	switch tag["of"] {
	case ofGroup:
		if g := d.group(tag["group"]); g != nil {
			return &g.Lit, nil
		}
	case ofBoard:
		for i := range d.s.Boards {
			if d.s.Boards[i].Board == tag["group"] {
				return &d.s.Boards[i].Dark, nil
			}
		}
	case ofWhole:
		if w := d.whole(tag["pace"]); w != nil {
			return &w.Sweep, nil
		}
	}
	return nil, fmt.Errorf("a curve of %s %q %q, which the signature doesn't list", tag["of"], tag["group"],
		tag["pace"])
}

// check refuses curves that no sweep gives.
func (d *decoder) check() error {
	if r := d.s.Resistor; r != nil && !(finite(r.Volts, r.Amps, r.U) && r.Volts > 0 && r.Amps > 0 && r.U >= 0) {
		return fmt.Errorf("a resistor of %g V and %g A is none", r.Volts, r.Amps)
	}
	for _, g := range d.s.Groups {
		if len(g.Lit.Volts) > 0 {
			if err := g.Lit.check(); err != nil {
				return fmt.Errorf("%q: %w", g.Group, err)
			}
		}
	}
	for _, b := range d.s.Boards {
		if len(b.Dark.Volts) > 0 {
			if err := b.Dark.check(); err != nil {
				return fmt.Errorf("%q: %w", b.Board, err)
			}
		}
	}
	for _, w := range d.s.Whole {
		if len(w.Sweep.Volts) > 0 {
			if err := w.Sweep.check(); err != nil {
				return fmt.Errorf("whole model, %s: %w", w.Pace, err)
			}
		}
	}
	return nil
}
