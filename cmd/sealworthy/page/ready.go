package page

import (
	"time"

	"sealworthy/compare"
)

// ready is what comes after READY for a closure.
type ready struct {
	Build, Closure string
	Since          string // when what it rests on was measured last
	Old            bool   // a day ago or more
	Glued          string // when it was glued; "": nobody said so
}

// dayPassed: wires move and cool joints settle meanwhile; a short recheck comes before the
// glue (common practice, no source).
const dayPassed = 24 * time.Hour

// readyOf says what comes next for a closure that is ready; nil: it isn't.
func (s *Server) readyOf(id string, c compare.ClosureFinding, glued map[string]string) *ready {
	if c.Verdict != compare.ReadyToClose {
		return nil
	}
	r := &ready{Build: id, Closure: c.Closure, Glued: glued[c.Closure]}
	var last time.Time
	for _, g := range c.Groups {
		if g.At.After(last) {
			last = g.At
		}
	}
	if !last.IsZero() {
		r.Since, r.Old = last.UTC().Format("2006-01-02 15:04 UTC"), s.o.Now().Sub(last) >= dayPassed
	}
	return r
}
