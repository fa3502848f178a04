package page

import (
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// State is all that the page of a bench shows. It is made of events alone.
type State struct {
	Order Order
	Name  string // of the build
	Photo string // the latest one of the build, for its eye; "": none
	// Simulated: its bench is.
	Simulated bool
	Groups    []string  // in the order of the plan
	Feeds     []string  // that a clip can go on
	Buttons   []string  // boards that have one
	Glued     Glued     // before this test
	Parts     int       // closures of the build
	Running   bool      // a test is under way
	Since     time.Time // began
	Bench     *session.OnBench
	Output    Output
	Stop      Stopped         // what came of STOP
	StopAt    time.Time       // when that was known
	stopOver  bool            // it was said long enough
	engineOff bool            // the engine switched off before STOP could, and hasn't told yet what came of it
	Unsure    bool            // an off wasn't confirmed, here or in the test before, and none was since
	StopWhy   string          // in words; empty: it needs none
	Step      *capture.Step   // the one under way; nil: none
	Test      capture.Event   // the last one of it
	Purpose   session.Purpose // of Step, in a return
	Band      *session.Band
	BandOf    bandOf   // by what Band is
	Amps      *float64 // what flows; nil: not known
	AmpsText  string   // that, as it is shown
	metered   bool     // the meter was read in this step: the supply's own reading is the poorer
	Drops     int      // seen while wires are moved
	Trace     []point  // of the step under way, for its picture
	Rows      []Row
	SoFar     []capture.Said           // of the step under way, while its curve is read: shown, and nothing else
	Last      []capture.Said           // the verdicts of the last step
	LastOf    string                   // that step, where it had none
	LastText  string                   // what became of that step, in words
	Ask       *session.Question        // what is asked now; nil: nothing
	Opened    time.Time                // when Ask was
	Refused   string                   // why the last answer to Ask changed nothing
	Felt      capture.Event            // what was felt last while Ask is open; What is empty: nothing that changes it
	Log       []Line                   // the oldest first
	Closures  []compare.ClosureFinding // their verdicts, once they are known
	FoundOf   string                   // stands for the files that they were found from
	FoundAt   time.Time                // when
	Over      *session.Event           // how it ended; nil: it hasn't
	Result    string                   // in words
	File      string                   // that is written to, relative to the build's folder
	Found     []session.Looked         // of a search for instruments, by port in their order
	Searches  string                   // what it does now, in words; "": nothing that takes time
}

// Output is the output's state, as far as is known.
type Output string

// What the output can be.
const (
	NotKnown Output = "not known" // no supply was reached yet, or it doesn't confirm that it's off
	Off      Output = "off"
	Sensing  Output = "sensing" // live to feel for a clip: no state to solder in
	On       Output = "on"
)

// bandOf says by what a band is. The one that is judged by rests on what was read, which only the judge knows at its
// end: by the room, the leads and what other groups have in common. Before, the bar shows the plan's own and says so.
type bandOf bool

// By what a band can be.
const (
	byPlan    bandOf = false
	ofVerdict bandOf = true
)

// Stopped says what became of a STOP.
type Stopped string

// What can become of it.
const (
	NotStopped    Stopped = ""
	StopAsked     Stopped = "asked"
	StopRead      Stopped = "off"       // the supply confirmed that its output is off
	StopNothing   Stopped = "none"      // no test was under way
	StopUnreached Stopped = "unreached" // a test was, with no supply in use
	StopByHand    Stopped = "byhand"    // nothing here can switch it
	StopNotKnown  Stopped = "not confirmed"
)

// point is what flowed at a time since the step's output went on.
type point struct {
	at time.Time
	a  float64
}

// mostPoints are kept of a trace: what is older is thinned out.
const mostPoints = 600

// Row is the verdict on a group at one of its paces.
type Row struct {
	capture.Said
	Earlier bool // from what was recorded before this test
}

// Line is something that was said.
type Line struct {
	Kind string // caution, note, warning, trip, told, paused
	Text string // in words, as it came: package plain has still to make it harmless
}

// mostLines of what was said stay on the page.
const mostLines = 40

func (s *State) say(kind, text string) {
	if text == "" {
		return
	}
	s.Log = append(s.Log, Line{kind, text})
	if n := len(s.Log) - mostLines; n > 0 {
		s.Log = slices.Clone(s.Log[n:])
	}
}

// row puts a verdict in the place of the one before.
func (s *State) row(r Row) {
	for i, x := range s.Rows {
		if x.Group == r.Group && x.Pace == r.Pace {
			s.Rows[i] = r
			return
		}
	}
	at := len(s.Rows)
	for i, x := range s.Rows { // behind the others of its group, else in the plan's order
		if x.Group == r.Group {
			at = i + 1
		}
	}
	s.Rows = slices.Insert(s.Rows, at, r)
}

// known are the rows that a test begins with: what was found before, and a row for
// each group of which nothing is known.
func known(f *Findings, closure string) []Row {
	if f == nil {
		return nil
	}
	var out []Row
	for _, c := range f.Closures {
		if closure != "" && c.Closure != closure && !within(f.Closures, c.Closure, closure) {
			continue
		}
		for _, f := range c.Groups {
			out = append(out, Row{Said: compare.Say(f), Earlier: true})
		}
	}
	return out
}

// within: a closure closes inside another, somehow.
func within(all []compare.ClosureFinding, name, outer string) bool {
	for range all { // no deeper than there are closures
		i := slices.IndexFunc(all, func(c compare.ClosureFinding) bool { return c.Closure == name })
		if i < 0 || all[i].Inside == "" {
			return false
		}
		if name = all[i].Inside; name == outer {
			return true
		}
	}
	return false
}

// confirmedOff: the supply confirmed that its output is off, after STOP.
func (s *State) confirmedOff(now time.Time) {
	s.stopped(StopRead, now)
	s.Output, s.Unsure = Off, false
}

// stopped takes over what came of STOP.
func (s *State) stopped(came Stopped, now time.Time) { s.Stop, s.StopAt, s.stopOver = came, now, false }

// byHand: nothing here can switch the supply, its maker does.
func (s State) byHand() bool { return s.Bench != nil && s.Bench.ByHand }

// stopSaidFor is how long it's said what came of a STOP that leaves nothing to do (our own
// choice: long enough to look up from the bench).
const stopSaidFor = 10 * time.Second

// soaks: the model is left on and watched.
func (s State) soaks() bool {
	return s.Order.Verb == Soak && s.Step != nil && s.Step.Kind == capture.Whole
}

// SaysStop: what came of STOP is still said. What was read back then isn't what is now.
func (s State) SaysStop() bool { return s.Stop != NotStopped && !s.stopOver }

// stopPasses: what came of STOP is to be said for a while only. What leaves something to do stays.
func (s State) stopPasses() bool {
	done := s.Stop == StopRead || s.Stop == StopNothing || s.Stop == StopByHand && !s.Running && !s.Unsure
	return done && !s.stopOver
}

// add puts a reading into the trace.
func (s *State) add(at time.Time, amps float64) {
	s.Trace = append(s.Trace, point{at, amps})
	if len(s.Trace) > mostPoints {
		thin := s.Trace[:0:0]
		for i, p := range s.Trace {
			if i%2 == 0 || i > len(s.Trace)-mostPoints/4 {
				thin = append(thin, p)
			}
		}
		s.Trace = thin
	}
}

// found puts what is known of a port in the place of what was before.
func (s *State) found(x session.Looked) {
	s.Found = slices.Clone(s.Found)
	for i := range s.Found {
		if s.Found[i].Port == x.Port {
			s.Found[i] = x
			return
		}
	}
	s.Found = append(s.Found, x)
}
