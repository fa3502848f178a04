package machine

import (
	"maps"
	"slices"

	"sealworthy/capture"
)

// answer says of all damage that the record names what the maker makes of it:
// retest, or words that take it as it stands.
func (w *World) answer(how string) error {
	f, err := w.folded()
	if err != nil {
		return err
	}
	var marks []capture.Mark
	for _, d := range f.Damage {
		if d.Answered != "" {
			continue
		}
		reason := "retest"
		if how != "retest" {
			reason = "the folder was copied by hand, nothing is missing"
		}
		marks = append(marks, d.Answer(reason))
	}
	if len(marks) == 0 {
		return nil
	}
	if kept, err := w.tell(marks...); err != nil || !kept {
		return err
	}
	clear(w.o.damage)
	clear(w.whole) // as it is now is what was answered
	if how == "retest" {
		w.o.retest = w.o.tick()
	} else {
		w.o.words = true
	}
	return nil
}

// tick ticks by hand what no test tells of.
func (w *World) tick() error {
	var marks []capture.Mark
	var names []string
	for _, c := range w.kit.plan.Closures {
		for _, name := range bareThings(w.kit.plan, c.Name) {
			marks = append(marks, capture.Mark{Kind: capture.MarkTicked, Check: name, Closure: c.Name})
			names = append(names, c.Name+"/"+name)
		}
	}
	if len(marks) == 0 {
		return nil
	}
	if kept, err := w.tell(marks...); err != nil || !kept {
		return err
	}
	at := w.o.tick()
	for _, n := range names {
		w.o.ticked[n] = append(w.o.ticked[n], at)
	}
	return nil
}

// allow accepts every check that binds, by its name.
func (w *World) allow() error {
	checks, err := w.kit.binding(w.stage)
	if err != nil {
		return err
	}
	var marks []capture.Mark
	for _, c := range checks {
		marks = append(marks, capture.Mark{Kind: capture.MarkAllowed, Check: c.Name, Value: c.Value,
			Reason: "it is only for a minute"})
	}
	if len(marks) == 0 {
		return nil
	}
	_, err = w.tell(marks...)
	return err
}

// takeBack takes the last rework, look or acceptance back.
func (w *World) takeBack(what string) error {
	f, err := w.folded()
	if err != nil {
		return err
	}
	var of capture.Order
	var back func()
	switch what {
	case "rework":
		if len(f.Reworked) == 0 {
			return nil
		}
		of, back = f.Reworked[len(f.Reworked)-1].Order, w.o.takeRework
	case "look":
		for _, s := range f.Steps {
			if s.Step.Kind == capture.Look && s.SeenAt.After(of) {
				of = s.SeenAt
			}
		}
		back = w.o.takeLook
	case "accept":
		if len(f.Accepted) == 0 {
			return nil
		}
		of, back = f.Accepted[len(f.Accepted)-1].Order, func() {}
	case "tick":
		if len(f.Ticked) == 0 {
			return nil
		}
		last := f.Ticked[len(f.Ticked)-1]
		of, back = last.Order, func() {
			if at := w.o.ticked[last.Closure+"/"+last.Name]; len(at) > 0 {
				w.o.ticked[last.Closure+"/"+last.Name] = at[:len(at)-1]
			}
		}
	}
	if of == 0 {
		return nil
	}
	if kept, err := w.tell(capture.Mark{Kind: capture.MarkTakenBack, Of: of}); err != nil || !kept {
		return err
	}
	back()
	return nil
}

// takeRework forgets the last rework: what it was told of wasn't touched.
func (o *oracle) takeRework() {
	last := 0
	for _, at := range o.touched {
		last = max(last, at)
	}
	maps.DeleteFunc(o.touched, func(_ string, at int) bool { return at == last })
	for _, k := range o.groups {
		k.reworked = slices.DeleteFunc(k.reworked, func(at int) bool { return at == last })
	}
}

// takeLook forgets the last look: it says nothing.
func (o *oracle) takeLook() {
	last := 0
	for _, k := range o.groups {
		for _, l := range k.looked {
			last = max(last, l.at)
		}
	}
	for _, k := range o.groups {
		if n := len(k.looked); n > 0 && k.looked[n-1].at == last {
			k.looked = k.looked[:n-1]
		}
	}
}
