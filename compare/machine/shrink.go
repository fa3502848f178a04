package machine

import "slices"

// Shrink leaves out of a failing script what it fails without: whole events, in
// ever smaller runs, then what events say more than they need. fails must be true
// of s.
func Shrink(s Script, fails func(Script) bool) Script {
	for size := len(s.Events); size > 0; {
		smaller := false
		for from := 0; from+size <= len(s.Events); {
			t := s
			t.Events = slices.Delete(slices.Clone(s.Events), from, from+size)
			if fails(t) {
				s, smaller = t, true
				continue
			}
			from++
		}
		if size = min(size/2, len(s.Events)); smaller && size == 0 {
			size = 1
		}
	}
	for i := range s.Events {
		for _, plainer := range plainer {
			t := s
			t.Events = slices.Clone(s.Events)
			t.Events[i] = plainer(s.Events[i])
			if t.Events[i] != s.Events[i] && fails(t) {
				s = t
			}
		}
	}
	return s
}

// plainer are what may do in an event's place.
var plainer = []func(Event) Event{
	func(e Event) Event { e.N = 0; return e },
	func(e Event) Event {
		switch e.Verb {
		case Kill:
			e.B = "clean"
		case Rework, Touch:
			e.B = "stays"
		}
		return e
	},
}
