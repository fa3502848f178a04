package compare

import (
	"encoding/json"
	"fmt"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// keepPlanned writes into power steps what their groups are by the plan now.
func keepPlanned(p *plan.Plan, steps []capture.Step) {
	for i := range steps {
		s := &steps[i]
		if s.Kind != capture.Power {
			continue
		}
		for _, name := range s.Groups {
			if s.Planned == nil {
				s.Planned = map[string]string{}
			}
			s.Planned[name] = plannedOf(p, name)
		}
	}
}

// planned is all of a plan that decides what one group draws: its lights, and all that lies between
// them and the source.
type planned struct {
	Lights []plan.Light `json:"lights"`
	Board  string       `json:"board,omitempty"`
	Output int          `json:"output,omitempty"`
	Joint  string       `json:"joint,omitempty"`
	Return string       `json:"return,omitempty"`
	Wire   plan.Wire    `json:"wire"`
	// Joints and Returns are those on its way, the nearest to the jack first.
	Joints  []plan.Joint  `json:"joints,omitempty"`
	Returns []plan.Return `json:"returns,omitempty"`
	On      *plan.Board   `json:"on,omitempty"` // the board that feeds it
	Jack    plan.Jack     `json:"jack"`
}

// plannedOf is that as the record keeps it; "" where nothing is planned of the group, or it isn't
// in the plan.
func plannedOf(p *plan.Plan, group string) string {
	g, ok := p.Group(group)
	if !ok || g.AsFound {
		return ""
	}
	return plannedFrom(p, g).kept()
}

func plannedFrom(p *plan.Plan, g plan.Group) planned {
	w := planned{Lights: g.Lights, Board: g.Board, Output: g.Output, Joint: g.Joint, Return: g.Return, Wire: g.Wire}
	at, back := g.Joint, []string{g.Return}
	if b, ok := p.Board(g.Board); ok {
		w.On, at = &b, b.Joint
		back = append(back, b.Return)
	}
	if j, ok := p.Jack(p.JackOf(at)); ok {
		w.Jack = j
	}
	for {
		i := slices.IndexFunc(p.Joints, func(j plan.Joint) bool { return j.Name == at })
		if i < 0 {
			break
		}
		w.Joints, at = append(w.Joints, p.Joints[i]), p.Joints[i].From
	}
	for _, b := range back {
		for {
			i := slices.IndexFunc(p.Returns, func(r plan.Return) bool { return r.Name == b })
			if i < 0 || slices.ContainsFunc(w.Returns, func(r plan.Return) bool { return r.Name == b }) {
				break
			}
			w.Returns, b = append(w.Returns, p.Returns[i]), p.Returns[i].To
		}
	}
	slices.Reverse(w.Joints)
	slices.Reverse(w.Returns)
	return w
}

// kept is what the record keeps of it.
func (w planned) kept() string {
	b, err := json.Marshal(w.bare())
	if err != nil { // figures that no file can hold: nothing is kept of them
		return ""
	}
	return string(b)
}

// bare leaves out what decides no draw: where it stands in a file, where its figures come from,
// what it bears, which closure it is in.
func (w planned) bare() planned {
	w.Wire = drawing(w.Wire)
	w.Lights = slices.Clone(w.Lights)
	for i, l := range w.Lights {
		l.Pos, l.Source, l.OhmsWatts = plan.Pos{}, "", 0
		l.Ohms, l.CopperOhms, l.BranchSpread = stated(l.Ohms), stated(l.CopperOhms), stated(l.BranchSpread)
		l.Series = slices.Clone(l.Series)
		for k, d := range l.Series {
			d.Source, d.MaxAmps, d.Volts = "", 0, stated(d.Volts)
			l.Series[k] = d
		}
		w.Lights[i] = l
	}
	w.Joints, w.Returns = slices.Clone(w.Joints), slices.Clone(w.Returns)
	for i, j := range w.Joints {
		j.Pos, j.Closure, j.Wire, j.Holds = plan.Pos{}, "", drawing(j.Wire), slices.Clone(j.Holds)
		for k, h := range j.Holds {
			h.Pos, h.Text, h.RatedAmps = plan.Pos{}, "", 0
			h.Ohms, h.DropVolts, h.OutVolts = stated(h.Ohms), stated(h.DropVolts), stated(h.OutVolts)
			h.Efficiency, h.IdleAmps = stated(h.Efficiency), stated(h.IdleAmps)
			j.Holds[k] = h
		}
		w.Joints[i] = j
	}
	for i, r := range w.Returns {
		r.Pos, r.Closure, r.Wire = plan.Pos{}, "", drawing(r.Wire)
		w.Returns[i] = r
	}
	if w.On != nil {
		b := *w.On
		b.Pos, b.Closure, b.Source, b.Wire, b.Standing = plan.Pos{}, "", "", drawing(b.Wire), stated(b.Standing)
		b.LowVolts, b.HighVolts = 0, 0
		b.Outputs, b.Paces = slices.Clone(b.Outputs), slices.Clone(b.Paces)
		for i, o := range b.Outputs {
			b.Outputs[i].OpenVolts, b.Outputs[i].Ohms = stated(o.OpenVolts), stated(o.Ohms)
		}
		for i := range b.Paces {
			b.Paces[i].Pos = plan.Pos{}
		}
		w.On = &b
	}
	w.Jack = plan.Jack{Name: w.Jack.Name, Volts: w.Jack.Volts}
	return w
}

// drawing is of a wire what decides a draw, stated of a value.
func drawing(w plan.Wire) plan.Wire {
	return plan.Wire{LengthM: w.LengthM, AreaM2: w.AreaM2, Ohms: stated(w.Ohms)}
}

func stated(v plan.Value) plan.Value {
	v.Source, v.Assumed = "", false
	return v
}

// plannedThen reads what the record keeps of a group. One that was kept before the way to it was
// holds its lights alone: the rest is taken as it is now.
func plannedThen(kept string, now planned) (planned, error) {
	var w planned
	if kept != "" && kept[0] == '[' {
		w = now
		if err := json.Unmarshal([]byte(kept), &w.Lights); err != nil {
			return w, fmt.Errorf("what was planned then can't be read: %w", err)
		}
		return w, nil
	}
	if err := json.Unmarshal([]byte(kept), &w); err != nil {
		return w, fmt.Errorf("what was planned then can't be read: %w", err)
	}
	return w, nil
}

// into is a plan in which one group is as it was planned.
func (w planned) into(p *plan.Plan, group string) *plan.Plan {
	q := *p
	q.Groups = slices.Clone(p.Groups)
	if i := q.GroupAt(group); i >= 0 {
		g := &q.Groups[i]
		g.Lights, g.AsFound, g.Board, g.Output, g.Joint, g.Return = w.Lights, false, w.Board, w.Output, w.Joint, w.Return
		g.Wire = bearing(w.Wire, g.Wire)
	}
	q.Joints = nil
	for _, j := range w.Joints {
		if i := slices.IndexFunc(p.Joints, func(x plan.Joint) bool { return x.Name == j.Name }); i >= 0 {
			j.Closure, j.Wire = p.Joints[i].Closure, bearing(j.Wire, p.Joints[i].Wire)
		}
		q.Joints = append(q.Joints, j)
	}
	q.Returns = nil
	for _, r := range w.Returns {
		if i := slices.IndexFunc(p.Returns, func(x plan.Return) bool { return x.Name == r.Name }); i >= 0 {
			r.Closure, r.Wire = p.Returns[i].Closure, bearing(r.Wire, p.Returns[i].Wire)
		}
		q.Returns = append(q.Returns, r)
	}
	for _, j := range p.Joints {
		if !slices.ContainsFunc(w.Joints, func(x plan.Joint) bool { return x.Name == j.Name }) {
			q.Joints = append(q.Joints, j)
		}
	}
	for _, r := range p.Returns {
		if !slices.ContainsFunc(w.Returns, func(x plan.Return) bool { return x.Name == r.Name }) {
			q.Returns = append(q.Returns, r)
		}
	}
	if w.On != nil {
		on := *w.On
		q.Boards = slices.DeleteFunc(slices.Clone(p.Boards), func(b plan.Board) bool {
			if b.Name == on.Name {
				on.Closure, on.LowVolts, on.HighVolts, on.Wire = b.Closure, b.LowVolts, b.HighVolts, bearing(on.Wire, b.Wire)
			}
			return b.Name == on.Name
		})
		q.Boards = append(q.Boards, on)
	}
	q.Jacks = slices.Clone(p.Jacks)
	if i := slices.IndexFunc(q.Jacks, func(j plan.Jack) bool { return j.Name == w.Jack.Name }); i >= 0 {
		q.Jacks[i].Volts = w.Jack.Volts
	}
	return &q
}

// bearing is a wire as it was planned with what today's bears.
func bearing(was, now plan.Wire) plan.Wire {
	now.LengthM, now.AreaM2, now.Ohms = was.LengthM, was.AreaM2, was.Ohms
	return now
}
