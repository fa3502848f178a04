package stages

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// model is the plan's circuit behind one jack, every part at its nominal value,
// with some feeds on and every board at one pace.
type model struct {
	p       *plan.Plan
	pr      fault.ReturnPriors
	jack    string
	on      []string // nil: all
	outputs []output // that blink
	wired   map[circuitIn]*wiring.Wired
}

// circuitIn is what a circuit depends on besides the voltage: ohms before the jack, and the room.
type circuitIn struct{ seriesOhm, roomC float64 }

// output is one output of a board that blinks, or all that blink as one because
// they run together.
type output struct {
	board  int   // index in the plan
	ats    []int // indexes among the board's outputs
	pace   plan.Pace
	groups []string
}

// number is that of its first output.
func (o output) number(p *plan.Plan) int { return p.Boards[o.board].Outputs[o.ats[0]].Number }

// light switches it.
func (o output) light(w *wiring.Wired, lit bool) {
	for _, k := range o.ats {
		w.SetLit(o.board, k, lit)
	}
}

func (o output) name(p *plan.Plan) string {
	if len(o.groups) > 0 {
		return strings.Join(o.groups, " and ")
	}
	return fmt.Sprintf("output %d of %s", o.number(p), p.Boards[o.board].Name)
}

// newModel takes what a reading was of.
func (c *Comparer) newModel(x Reading) (*model, error) {
	p := c.plan
	m := &model{p: p, pr: c.pr, on: x.On, wired: map[circuitIn]*wiring.Wired{}}
	var w *wiring.Wired
	for _, j := range p.Jacks {
		var err error
		m.jack, m.wired = j.Name, map[circuitIn]*wiring.Wired{}
		if w, err = m.at(x.Scene); err != nil {
			return nil, err
		}
		if j.Name == x.Jack || x.Jack != "" && len(x.On) > 0 && here(w, x.On[0]) {
			break
		}
	}
	for i, b := range p.Boards {
		if !w.Boards[i].Here || !m.isOn(b.Name) || len(b.Paces) == 0 {
			continue
		}
		pace := b.Paces[0]
		if name := paceOf(x.Pace, b.Name); name != "" {
			var ok bool
			if pace, ok = b.Pace(name); !ok {
				return nil, fmt.Errorf("the plan has no pace %q for board %q any more", name, b.Name)
			}
		}
		if pace.Steady() {
			continue
		}
		m.addOutputs(i, b, pace)
	}
	return m, nil
}

// addOutputs lists the outputs in use of a board that blinks.
func (m *model) addOutputs(at int, b plan.Board, pace plan.Pace) {
	first := len(m.outputs)
	for k, o := range b.Outputs {
		out := output{board: at, ats: []int{k}, pace: pace}
		for _, g := range m.p.Groups {
			if g.Board == b.Name && g.Output == o.Number {
				out.groups = append(out.groups, g.Name)
			}
		}
		switch {
		case len(out.groups) == 0:
		case b.Run == plan.Together && len(m.outputs) > first:
			one := &m.outputs[first]
			one.ats, one.groups = append(one.ats, k), append(one.groups, out.groups...)
		default:
			m.outputs = append(m.outputs, out)
		}
	}
}

// here tells whether a feed hangs on the jack of a circuit.
func here(w *wiring.Wired, feed string) bool {
	for _, t := range w.Terminals {
		if t.Name == feed {
			return t.Group >= 0 && w.Groups[t.Group].Here || t.Board >= 0 && w.Boards[t.Board].Here
		}
	}
	return false
}

// paceOf takes one board's pace out of "beacon: blink; lamp driver: slow".
func paceOf(all, board string) string {
	for part := range strings.SplitSeq(all, ";") {
		if b, pace, ok := strings.Cut(part, ":"); ok && strings.TrimSpace(b) == board {
			return strings.TrimSpace(pace)
		}
	}
	return ""
}

func (m *model) isOn(terminal string) bool { return m.on == nil || slices.Contains(m.on, terminal) }

// at is the circuit in a scene, with its feeds on and what blinks dark.
func (m *model) at(s scene.Scene) (*wiring.Wired, error) {
	room := s.RoomOr().C
	k := circuitIn{s.SeriesOhm(), room}
	w, ok := m.wired[k]
	if !ok {
		var err error
		if w, err = wiring.Build(m.p, m.jack, wiring.Options{AmbientC: &room, SeriesOhm: s.SeriesOhm()}); err != nil {
			return nil, err
		}
		m.wired[k] = w
	}
	for t, x := range w.Terminals {
		w.SetOn(t, m.isOn(x.Name))
	}
	for i, b := range m.p.Boards {
		for o := range b.Outputs {
			w.SetLit(i, o, !slices.ContainsFunc(m.outputs, func(x output) bool {
				return x.board == i &&
					slices.Contains(x.ats, o)
			}))
		}
	}
	return w, nil
}

// draw solves a circuit, as it stands.
func draw(w *wiring.Wired, s scene.Scene) (float64, error) {
	if err := w.Solve(circuit.Source{EmfV: voltsOf(w, s)}); err != nil {
		return 0, err
	}
	return w.JackAmps(w.Point), nil
}

// voltsOf are those of a scene, or the jack's own.
func voltsOf(w *wiring.Wired, s scene.Scene) float64 {
	if s.Volts != nil {
		return *s.Volts
	}
	return w.Plan.Jacks[w.Jack].Volts
}

// draws gives what is always lit, then the step of each output that blinks, A.
func (m *model) draws(s scene.Scene) ([]float64, error) {
	w, err := m.at(s)
	if err != nil {
		return nil, err
	}
	base, err := draw(w, s)
	if err != nil {
		return nil, err
	}
	out := []float64{base}
	for _, o := range m.outputs {
		o.light(w, true)
		a, err := draw(w, s)
		o.light(w, false)
		if err != nil {
			return nil, err
		}
		out = append(out, a-base)
	}
	return out, nil
}

// behind lists the groups of a part of the draw, by index in the plan: part 0 is
// what is always lit, part k the output k-1.
func (m *model) behind(w *wiring.Wired, part int) []int {
	var out []int
	for i, g := range m.p.Groups {
		if !w.Groups[i].Here || !m.lit(g) {
			continue
		}
		k := slices.IndexFunc(m.outputs, func(o output) bool { return slices.Contains(o.groups, g.Name) })
		if k+1 == part {
			out = append(out, i)
		}
	}
	return out
}

// lit tells whether a group is fed at all.
func (m *model) lit(g plan.Group) bool {
	if g.Board != "" {
		return m.isOn(g.Board)
	}
	return m.isOn(g.Name)
}
