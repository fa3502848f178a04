package circuit

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// minLitA: below it LED voltages and inner nodes are set by rounding.
const minLitA = 1e-9

func TestCasesAgreeWithNgspice(t *testing.T) {
	path := filepath.Join("testdata", "circuits", "cases.json")
	if other := os.Getenv("SEALWORTHY_CIRCUITS"); other != "" {
		path = other
	}
	f, err := readCases(path)
	if err != nil {
		t.Fatal(err)
	}
	tl := &tally{}
	for k := range f.Cases {
		c := &f.Cases[k]
		if err := f.check(c, tl); err != nil {
			t.Errorf("%s: %v", c.ID, err)
		}
	}
	for k, msg := range tl.fails {
		if k == 20 {
			t.Errorf("… and %d more", len(tl.fails)-k)
			break
		}
		t.Error(msg)
	}
	if tl.values == 0 {
		t.Fatal("nothing was compared")
	}
	t.Logf("%d cases, %d values compared, worst deviation %.3g of its tolerance (%s)", len(f.Cases), tl.values,
		tl.worst, tl.at)
}

func (f *caseFile) check(c *circuitCase, tl *tally) error {
	b, err := f.build(c)
	if err != nil {
		return err
	}
	s, p := NewSolver(b.net), b.net.NewPoint()
	src := Source{EmfV: c.Source.Emf, Ohms: c.Source.R}
	if c.Source.Limit != nil {
		src.LimitA = *c.Source.Limit
	}
	var kind struct {
		Sweep []float64 `json:"sweep_v"`
	}
	if err := json.Unmarshal(c.Expected, &kind); err != nil {
		return err
	}
	if len(kind.Sweep) > 0 {
		return f.checkSweep(c, b, s, p, src, tl)
	}
	var want wantPoint
	if err := json.Unmarshal(c.Expected, &want); err != nil {
		return err
	}
	if err := s.Solve(src, p); err != nil {
		return err
	}
	f.checkSource(c.ID, p, &want, tl)
	for name, v := range want.Node {
		node, ok := b.node[name]
		if !ok {
			return fmt.Errorf("no node %q", name)
		}
		tl.compare(c.ID+" node "+name, p.NodeV[node], v, f.Compare.Voltage.Abs, f.Compare.Voltage.Rel)
	}
	for name, i := range want.Edge {
		tl.compare(c.ID+" edge "+name, p.ElementA[b.edge[name]], i, f.Compare.Current.Abs, f.Compare.Current.Rel)
	}
	seen := 0
	for k := range c.Loads {
		raw, ok := want.Loads[c.Loads[k].ID]
		if !ok {
			continue
		}
		seen++
		if err := f.checkLoad(c, b, k, p, raw, tl); err != nil {
			return err
		}
	}
	if seen != len(want.Loads) {
		return fmt.Errorf("%d loads expected, %d found", len(want.Loads), seen)
	}
	for group, w := range want.Switched {
		for k := range c.Loads {
			g := c.Loads[k].Group
			b.setOn(k, g == nil || *g == group)
		}
		if err := s.Solve(src, p); err != nil {
			return fmt.Errorf("only %s on: %w", group, err)
		}
		f.checkSource(c.ID+" only "+group, p, &w, tl)
	}
	return nil
}

func (f *caseFile) checkSource(id string, p *Point, w *wantPoint, tl *tally) {
	ca, cr, va, vr := f.Compare.Current.Abs, f.Compare.Current.Rel, f.Compare.Voltage.Abs, f.Compare.Voltage.Rel
	tl.compare(id+" source", p.SourceA, w.Source, ca, cr)
	tl.compare(id+" emf", p.EmfV, w.Emf, va, vr)
	tl.compare(id+" terminal", p.NodeV[0], w.Terminal, va, vr)
	tl.values++
	if p.Mode.String() != w.Mode {
		tl.fails = append(tl.fails, fmt.Sprintf("%s: mode %s, want %s", id, p.Mode, w.Mode))
	}
}

func (f *caseFile) checkLoad(c *circuitCase, b *builtCase, k int, p *Point, raw json.RawMessage, tl *tally) error {
	ca, cr, va, vr := f.Compare.Current.Abs, f.Compare.Current.Rel, f.Compare.Voltage.Abs, f.Compare.Voltage.Rel
	l, bl := &c.Loads[k], &b.loads[k]
	id := c.ID + " load " + l.ID
	leds := func(what string, br BranchID, amps float64, want []float64) error {
		if want == nil || amps < minLitA {
			return nil
		}
		if len(want) != b.net.LEDs(br) {
			return fmt.Errorf("%s: %d LED voltages for %d LEDs", what, len(want), b.net.LEDs(br))
		}
		for q, v := range want {
			tl.compare(fmt.Sprintf("%s LED %d", what, q+1), b.net.LEDVolts(p, br, q), v, va, vr)
		}
		return nil
	}
	switch l.Type {
	case "strip":
		var w wantStrip
		if err := json.Unmarshal(raw, &w); err != nil {
			return err
		}
		tl.compare(id, b.amps(p, k), w.Amps, ca, cr)
		if len(w.Segment) != len(bl.branches) || len(w.Volts) != len(bl.branches) {
			return fmt.Errorf("%s: %d segments expected, %d built", id, len(w.Segment), len(bl.branches))
		}
		for s, br := range bl.branches {
			what := fmt.Sprintf("%s segment %d", id, s+1)
			tl.compare(what, p.BranchA[br], w.Segment[s], ca, cr)
			tl.compare(what+" volts", p.NodeV[bl.nodes[s]], w.Volts[s], va, vr)
			if err := leds(what, br, w.Segment[s], w.LED[s]); err != nil {
				return err
			}
		}
	case "blinker":
		var w wantBlinker
		if err := json.Unmarshal(raw, &w); err != nil {
			return err
		}
		tl.compare(id, b.amps(p, k), w.Amps, ca, cr)
		for q, o := range l.Outputs {
			wo, ok := w.Outputs[o.ID]
			if !ok {
				return fmt.Errorf("%s: output %s has no expected value", id, o.ID)
			}
			what := id + " output " + o.ID
			tl.compare(what, p.ElementA[bl.pins[q]], wo.Amps, ca, cr)
			tl.compare(what+" pin", p.NodeV[bl.pins[q]], wo.Pin, va, vr)
			tl.values++
			if got := b.net.Overloaded(p, bl.pins[q]); got != wo.Overloaded {
				tl.fails = append(tl.fails, fmt.Sprintf("%s: overloaded %v, want %v", what, got, wo.Overloaded))
			}
			for name, wb := range wo.Branches {
				br := bl.byOutput[q][name]
				tl.compare(what+" branch "+name, p.BranchA[br], wb.Amps, ca, cr)
				if err := leds(what+" branch "+name, br, wb.Amps, wb.LED); err != nil {
					return err
				}
			}
		}
	default:
		var w wantBranch
		if err := json.Unmarshal(raw, &w); err != nil {
			return err
		}
		tl.compare(id, b.amps(p, k), w.Amps, ca, cr)
		if len(bl.branches) > 0 {
			return leds(id, bl.branches[0], w.Amps, w.LED)
		}
	}
	return nil
}

func (f *caseFile) checkSweep(c *circuitCase, b *builtCase, s *Solver, p *Point, src Source, tl *tally) error {
	ca, cr, va, vr := f.Compare.Current.Abs, f.Compare.Current.Rel, f.Compare.Voltage.Abs, f.Compare.Voltage.Rel
	var w wantSweep
	if err := json.Unmarshal(c.Expected, &w); err != nil {
		return err
	}
	for k, v := range w.Volts {
		src.EmfV = v
		if err := s.Solve(src, p); err != nil {
			return fmt.Errorf("at %g V: %w", v, err)
		}
		id := fmt.Sprintf("%s at %g V", c.ID, v)
		tl.compare(id+" source", p.SourceA, w.Source[k], ca, cr)
		tl.compare(id+" terminal", p.NodeV[0], w.Terminal[k], va, vr)
		for name, l := range w.Node {
			tl.compare(id+" node "+name, p.NodeV[b.node[name]], l[k], va, vr)
		}
		for name, l := range w.Edge {
			tl.compare(id+" edge "+name, p.ElementA[b.edge[name]], l[k], ca, cr)
		}
		for q := range c.Loads {
			if l, ok := w.Load[c.Loads[q].ID]; ok {
				tl.compare(id+" load "+c.Loads[q].ID, b.amps(p, q), l[k], ca, cr)
			}
		}
	}
	return nil
}
