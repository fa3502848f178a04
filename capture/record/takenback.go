package record

import (
	"slices"

	"sealworthy/capture"
)

// takenBack takes away what the mark at an order did. The last look of a step
// that wasn't taken back counts; with none left, nothing was seen in it.
func (f *Folder) takenBack(of capture.Order) {
	at := func(o capture.Order) bool { return o == of }
	f.f.Reworked = slices.DeleteFunc(f.f.Reworked, func(r Rework) bool { return at(r.Order) })
	for _, list := range []*[]ByName{&f.f.Allowed, &f.f.Ticked, &f.f.Answers, &f.f.TouchedNothing} {
		*list = slices.DeleteFunc(*list, func(x ByName) bool { return at(x.Order) })
	}
	if i := slices.IndexFunc(f.f.Accepted, func(a Acceptance) bool { return at(a.Order) }); i >= 0 {
		a := f.f.Accepted[i]
		f.f.Accepted = slices.Delete(f.f.Accepted, i, i+1)
		f.unaccept(a)
	}
	if i := slices.IndexFunc(f.looks, func(l look) bool { return at(l.at) }); i >= 0 {
		f.looks, f.unlooked = slices.Delete(f.looks, i, i+1), true
	}
	for began, looks := range f.seen {
		i := slices.IndexFunc(looks, func(l look) bool { return at(l.at) })
		if i < 0 {
			continue
		}
		f.seen[began] = slices.Delete(looks, i, i+1)
		f.unsee(began, f.seen[began])
	}
}

// unaccept gives the step of an acceptance the reason that it had before.
func (f *Folder) unaccept(a Acceptance) {
	i := slices.IndexFunc(f.f.Steps, func(s capture.StepRecord) bool { return a.step != 0 && s.BeganAt == a.step })
	if i < 0 {
		return
	}
	f.f.Steps[i].Accepted = ""
	for _, x := range f.f.Accepted {
		if x.step == a.step {
			f.f.Steps[i].Accepted = x.Reason
		}
	}
}

// unsee gives the step that began at an order what is left of its looks.
func (f *Folder) unsee(began capture.Order, looks []look) {
	for i := range f.f.Steps {
		if f.f.Steps[i].BeganAt != began {
			continue
		}
		f.f.Steps[i].Seen, f.f.Steps[i].SeenAt = "", 0
		if n := len(looks); n > 0 {
			f.f.Steps[i].Seen, f.f.Steps[i].SeenAt = looks[n-1].seen, looks[n-1].at
		}
	}
}
