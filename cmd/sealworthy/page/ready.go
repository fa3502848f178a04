package page

import (
	"slices"
	"time"

	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
)

// Glued is when closures were glued, by name, as it was told.
type Glued map[string]time.Time

// card is a closure as it's shown: its verdict and, where that is ready, what comes next.
type card struct {
	compare.ClosureFinding
	ID    string // of the build
	Ready *ready
	Glued string // when it was glued, though it isn't ready any more; "": it is, or nobody said so
}

// ready is what comes after READY for a closure.
type ready struct {
	Build, Closure string
	Since          string // when what it rests on was measured last
	Old            bool   // a day ago or more
	Glued          string // when it was glued; "": nobody said so
	Retested       bool   // and measured since
	// Leaves: every closure of the model is glued, and those that stand beside it were measured
	// since and are right, or closed by choice: it may leave. One that is ready and not glued
	// yet is the next part.
	Leaves bool
}

// dayPassed: wires move and cool joints settle meanwhile; a short recheck comes before the
// glue (common practice, no source).
const dayPassed = 24 * time.Hour

// cardOf shows a closure of a model that has some more; beside are those that are shown with it.
func (s *Server) cardOf(id string, c compare.ClosureFinding, beside []compare.ClosureFinding, glued Glued,
	closures int) card {
	x := card{ClosureFinding: c, ID: id, Ready: s.readyOf(id, c, glued)}
	if x.Ready != nil {
		x.Ready.Leaves = x.Ready.Retested && len(glued) >= closures && !slices.ContainsFunc(beside,
			func(o compare.ClosureFinding) bool { return !shutAndRight(o, glued) })
	}
	if at, shut := glued[c.Closure]; shut && x.Ready == nil {
		x.Glued = s.when(at)
	}
	return x
}

// Next says what comes after the verdict; "": the buttons beside it do.
func (c card) Next() string {
	switch {
	case c.Ready != nil:
		return ""
	case !c.measured():
		return wording.NothingMeasured
	}
	return wording.Next(c.Verdict)
}

// measured: something of it was, or all that hangs on what it hides.
func (c card) measured() bool {
	for _, x := range c.Items {
		if x.By == compare.ByTest {
			return true
		}
	}
	for _, g := range c.Groups {
		if g.Readings > 0 {
			return true
		}
	}
	return false
}

// Word is the verdict, in a word or two. What is glued isn't said to be ready for it any more.
func (c card) Word() string {
	if c.Ready != nil && c.Ready.Glued != "" {
		return wording.IsGlued
	}
	return string(c.Verdict)
}

// shutAndRight: a closure was glued, measured since and is right, or its maker takes it as it is.
func shutAndRight(c compare.ClosureFinding, glued Glued) bool {
	return c.Verdict == compare.ClosedByChoice || c.Verdict == compare.ReadyToClose && retested(c, glued)
}

// retested: a closure was measured glued shut since it was glued.
func retested(c compare.ClosureFinding, glued Glued) bool {
	at, shut := glued[c.Closure]
	return shut && slices.ContainsFunc(c.Groups, func(g compare.Finding) bool {
		return g.Stage == compare.Closed && g.At.After(at)
	})
}

// readyOf says what comes next for a closure that is ready; nil: it isn't.
func (s *Server) readyOf(id string, c compare.ClosureFinding, glued Glued) *ready {
	if c.Verdict != compare.ReadyToClose {
		return nil
	}
	r := &ready{Build: id, Closure: c.Closure}
	at, shut := glued[c.Closure]
	var last time.Time
	for _, g := range c.Groups {
		if g.At.After(last) {
			last = g.At
		}
	}
	r.Retested = retested(c, glued)
	if shut {
		r.Glued = s.when(at)
	}
	if !last.IsZero() {
		r.Since, r.Old = s.when(last), s.o.Now().Sub(last) >= dayPassed
	}
	return r
}
