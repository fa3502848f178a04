// Package capture runs the power-on test: it sets the limit before the output
// goes on, ramps, waits until the draw has settled, reads, and switches off on
// every way out. It doesn't know the plan: what to do comes as Steps, what to
// ask upwards goes through a Guide, what the maker sees and answers goes
// through a Face. What was read goes to a record (folder record).
//
// Start at Run, which does a whole test (engine.go: its loop and its ways out;
// measure.go: one step; ramp.go, settle.go, sample.go: what a step is made of).
// Prove proves the bench before it. A Guard switches off on signals and panics.
//
// What it refuses: to power a step that states no limit; to power one in which
// something may burn and that wasn't allowed by name (hazard.go); to go above what
// the bench never goes above (bounds.go); to set a limit above the fuse of the
// meter's jack; to ask the maker to touch anything while the
// output is on, but a button, the wires of a wiggle, and a clip that is felt for at
// little voltage and current (sense.go); to go on with another
// instrument than the one it began with. It judges nothing.
//
// Units: V, A, s. Time comes from one clock; on a simulated one it stands still
// while the maker is asked.
package capture

import (
	"context"
	"time"

	"sealworthy/instruments"
)

// Kind says what a step is.
type Kind string

// The kinds of step.
const (
	Power  Kind = "power"  // power a feed and read it
	Look   Kind = "look"   // power all feeds of a closure and ask what the maker sees, lit two minutes at a time
	Wiggle Kind = "wiggle" // read as fast as possible while the maker moves wires
	Whole  Kind = "whole"  // power the whole model at its jack and read it; done as Power is
	// Resistor powers a known resistor in the model's place and reads it; done as Power is.
	Resistor Kind = "resistor"
)

// Way says how the feeds of a step get their current.
type Way string

// How a feed is reached.
const (
	Alone  Way = "alone"  // only this feed is on, by clip or relay
	Added  Way = "added"  // on top of what is on: base and sum in one sitting
	Joined Way = "joined" // wires are joined for good; the feeds can't be parted
)

// Step is one thing to measure. It is made above and carried out here.
type Step struct {
	ID      string   `json:"id"` // unique within a test, the same for the same plan and closure
	Kind    Kind     `json:"kind"`
	Way     Way      `json:"way"`
	Closure string   `json:"closure"`
	Feed    string   `json:"feed"`   // what is clipped or switched: a group or a board
	Groups  []string `json:"groups"` // judged from it
	Board   string   `json:"board,omitempty"`
	Outputs []int    `json:"outputs,omitempty"` // outputs clipped, where not all of the board's
	Pace    string   `json:"pace,omitempty"`
	// button presses before reading, from the pace the board had in the step before
	Press int `json:"press,omitempty"`
	// PressFromOn, where not 0, is how often to press after power-on instead: the
	// board starts at its first pace. 0: it keeps its pace without power.
	PressFromOn int      `json:"press_from_on,omitempty"`
	On          []string `json:"on"`            // terminals that are on during the step, Feed among them
	Ask         string   `json:"ask,omitempty"` // what the maker is asked to do first
	// First is what must be done by hand before it is powered, where relays switch,
	// too; Ask holds it as well.
	First string   `json:"first,omitempty"`
	See   []string `json:"see,omitempty"` // what should be seen, for the look
	// SeeBy is See by terminal, for a look at one at a time.
	SeeBy map[string][]string `json:"see_by,omitempty"`
	// GroupsBy names the groups of each terminal, for a look: what is lit when.
	GroupsBy map[string][]string `json:"groups_by,omitempty"`
	// Buttons are the boards of a look that a button steps through their paces.
	Buttons []Button `json:"buttons,omitempty"`
	// Lights says what lights each group of a look has by the plan it was made
	// from, in number and kind: with other lights that look is out of date.
	Lights map[string]string `json:"lights,omitempty"`
	// Planned is what each group of a power step was by the plan it was made from, with all that
	// decides its draw: where the plan is changed later, what was read isn't judged by it alone.
	Planned map[string]string `json:"planned,omitempty"`
	// Flash are the groups of a look that flash, or may: for the eye.
	Flash        []string `json:"flash,omitempty"`
	PlanRevision string   `json:"plan_revision"` // of the plan that it was made from

	Volts float64 `json:"volts"` // V, set at the supply; the last point of Ramp
	// Ramp is walked before Volts is reached; the last point is Volts. A feed
	// with a board has a short check at 2 to 3 V and then Volts in one step.
	Ramp   []RampPoint   `json:"ramp"`
	Inrush time.Duration `json:"inrush_ns"` // constant current is no trip for so long after a ramp step
	Settle Settle        `json:"settle"`

	For time.Duration `json:"for_ns"` // how long to read once settled
	// Enough ends the reading before For; zero: it runs its full length.
	Enough Enough `json:"enough,omitzero"`
	// Early, of what is read in full because it's kept: from then on it's known what it comes
	// to, and that is told; zero: once all was read.
	Early Enough `json:"early,omitzero"`
	// BearsA is the least current that a part of the feed bears, A; 0: not stated.
	BearsA float64 `json:"bears_a,omitempty"`
	// Hazards are what may burn at this step's own voltage and load and was not
	// allowed by name: the step isn't powered while there are any.
	Hazards []Hazard `json:"hazards,omitempty"`

	Spacing time.Duration `json:"spacing_ns"` // aimed between readings; 0: as fast as the meter
	Jitter  float64       `json:"jitter"`     // fraction of Spacing, each way
	// since it was powered: then reading ends, with a warning; 0: no bound
	MaxTotal time.Duration `json:"max_total_ns"`
	// Bound says what keeps a limit of the ramp below what a healthy feed may draw,
	// in plain words; empty: nothing does.
	Bound string `json:"bound,omitempty"`
	// Sweep is walked after that, in its order; empty: none.
	Sweep []SweepPoint `json:"sweep,omitempty"`
	// Leads are those of the bench that it was measured with; nil: not known.
	Leads *Leads `json:"leads,omitempty"`
}

// Button is that of a board in a look.
type Button struct {
	Board  string   `json:"board"`
	Groups []string `json:"groups"` // that the board lights
	// what is to be seen at each of its paces, from that of power-on on; after the last the
	// first comes again
	See []string `json:"see"`
}

// Hazard is something that may burn when a step is powered.
type Hazard struct {
	Check string `json:"check"` // its name, by which it can be allowed
	Text  string `json:"text"`  // the part, the value, what becomes of it
	Cure  string `json:"cure"`  // what to change
	// Value is how far it goes, in the check's own unit, for the record of what was allowed.
	Value float64 `json:"value,omitempty"`
}

// SweepPoint is one voltage of a sweep with its own limit. Readings count from
// Settle after it was set. Above MaxA the step trips; 0 is not stated.
type SweepPoint struct {
	Volts  float64       `json:"volts"` // V, set at the supply
	LimitA float64       `json:"limit_a"`
	MaxA   float64       `json:"max_a"`
	Settle time.Duration `json:"settle_ns"` // readings of this first time don't count
	For    time.Duration `json:"for_ns"`    // how long is read after that
}

// RampPoint is one voltage of the ramp, the limit set there and what a healthy
// feed may draw there at most. Above MaxA the ramp stops; 0 is not stated, then
// only the limit guards.
type RampPoint struct {
	Volts   float64 `json:"volts"` // V, set at the supply
	LimitA  float64 `json:"limit_a"`
	ExpectA float64 `json:"expect_a"`
	MaxA    float64 `json:"max_a"`
}

// LimitA is the limit at the step's own voltage.
func (s Step) LimitA() float64 {
	if len(s.Ramp) == 0 {
		return 0
	}
	return s.Ramp[len(s.Ramp)-1].LimitA
}

// Settle says when the draw counts as settled: two successive means over
// Window differ by less than Rel of the draw plus Abs, not before Min, at Max
// in any case (and then the record says so).
type Settle struct {
	Min    time.Duration `json:"min_ns"`    // since the step's voltage stands
	Max    time.Duration `json:"max_ns"`    // since then; 0: no bound
	Window time.Duration `json:"window_ns"` // of each of the two means
	Rel    float64       `json:"rel"`       // fraction of the draw
	AbsA   float64       `json:"abs_a"`
	// Spacing of readings meanwhile, for a long warm-up; 0: as the step's own.
	Spacing time.Duration `json:"spacing_ns,omitempty"`
}

// Enough says when a steady draw is known so well that more readings change no
// decision: after Readings of them, once the standard uncertainty that their own
// scatter leaves in their mean is UA or less. It goes by the scatter alone and never
// by the value, so that it favours none.
type Enough struct {
	Readings int     `json:"readings"` // 0: never enough; fewer than 4 never are
	UA       float64 `json:"u_a"`      // A
}

// Outcome says how a step ended. The zero Outcome is no valid answer.
type Outcome string

// How a step can end.
const (
	Measured    Outcome = "measured"
	Tripped     Outcome = "tripped"     // stopped by limit, ramp or watch; the trace is kept
	Skipped     Outcome = "skipped"     // by the maker, with a reason
	Interrupted Outcome = "interrupted" // the test ended in it
	Failed      Outcome = "failed"      // an instrument failed; Reason says which
)

// StepRecord is what became of a step.
type StepRecord struct {
	Step    Step      `json:"step"`
	Stage   string    `json:"stage"`
	Began   time.Time `json:"began"`   // when it was taken up
	On      time.Time `json:"on"`      // output on (zero: never)
	Settled time.Time `json:"settled"` // zero: never
	Ended   time.Time `json:"ended"`   // when its outcome was known
	Outcome Outcome   `json:"outcome"`
	// why it isn't Done, in plain words; empty: it is
	Reason string `json:"reason,omitempty"`
	// the maker's look: "GROUP: words; GROUP: all right", or AllRight of all of them
	Seen      string  `json:"seen,omitempty"`
	TripVolts float64 `json:"trip_volts,omitempty"` // set voltage at which it tripped
	// Base holds the readings of what was on before, for Way Added.
	Base []instruments.Reading `json:"base,omitempty"`
	// the whole step, ramp included; those at or after Settled are the trace
	Readings []instruments.Reading `json:"readings"`
	// Kept and KeptBase are the same of a step that a record gives back, packed: of a
	// step there are either the ones or the others. All, Before and Count know both.
	Kept     *Series `json:"kept,omitempty"`
	KeptBase *Series `json:"kept_base,omitempty"` // of Base; see Kept
	// Points are the voltages of the sweep that were set, each from At on to the
	// next one's.
	Points   []PointAt `json:"points,omitempty"`
	AmbientC *float64  `json:"ambient_c,omitempty"`
	// an instrument of the bench was a simulated one
	Simulated   bool                               `json:"simulated"`
	Instruments map[string]instruments.Description `json:"instruments,omitempty"` // by Reading.Instrument
	// in plain words, for a person
	Warnings []string `json:"warnings,omitempty"`
	// ShortestDropS, for a wiggle: the shortest interruption it could have seen.
	ShortestDropS float64 `json:"shortest_drop_s,omitempty"`
	Drops         []Drop  `json:"drops,omitempty"`
	// Accepted is the maker's reason for going on against the verdict.
	Accepted string `json:"accepted,omitempty"`
	// Redone: it had ended, and the maker wanted it done again.
	Redone bool `json:"redone,omitempty"`
	// BeganAt and EndedAt are where its begin and its end stand in the record; zero
	// in the sitting under way.
	BeganAt Order `json:"began_at,omitempty"`
	EndedAt Order `json:"ended_at,omitempty"`
	// SeenAt is where its look stands.
	SeenAt Order `json:"seen_at,omitempty"`
}

// PointAt is one voltage of a sweep as it was set.
type PointAt struct {
	Volts float64   `json:"volts"` // V, as set
	At    time.Time `json:"at"`
}

// Drop is a dip of the draw during a wiggle.
type Drop struct {
	At  time.Time     `json:"at"`
	For time.Duration `json:"for_ns"` // how long it lasted, as far as the readings show
	ToA float64       `json:"to_a"`
}

// Guide is what the engine asks upwards while it runs. compare implements it.
type Guide interface {
	// Next gives the step to do after done, or false at the end.
	Next(done []StepRecord) (Step, bool)
	// Recognise tells what a draw of the feed of a step fits: what that feed itself
	// should draw, and the others that fit. None where it fits itself, where it
	// isn't known what it should draw, or where nothing flows.
	Recognise(s Step, amps, halfWidthA float64) (own Fit, others []Fit)
	// Judge gives the verdicts to be said at once, one for each group of the step.
	Judge(r StepRecord) []Said
	// Remaining tells how long the steps after done will take.
	Remaining(done []StepRecord) time.Duration
}

// Said is what is told of one group right after its step.
type Said struct {
	Group   string `json:"group"`
	Pace    string `json:"pace,omitempty"`
	Verdict string `json:"verdict"` // as compare names it; capture doesn't know the word
	// Word is Verdict as it's read beside the figures: "0 mA" for a low at which nothing flows.
	Word string `json:"word"`
	Good bool   `json:"good"` // nothing speaks against it
	// Undecided: neither good nor bad. Nobody looks for a fault because of it.
	Undecided bool     `json:"undecided,omitempty"`
	Measured  string   `json:"measured"`         // with unit, as a maker reads it: "38.2 mA"
	Expected  string   `json:"expected"`         // "35 to 43 mA"
	LowA      float64  `json:"low_a,omitempty"`  // Expected in A; HighA 0: there is none
	HighA     float64  `json:"high_a,omitempty"` // see LowA
	Yet       string   `json:"yet,omitempty"`    // why it's good though Measured lies outside of Expected
	Causes    []string `json:"causes,omitempty"` // in plain words, the likeliest first
	// Before is the verdict that was told while its curve was still read, where it's another now.
	Before string `json:"before,omitempty"`
}

// Face shows what happens and asks the maker. Terminal, page and the
// unattended run implement it.
type Face interface {
	// Show returns at once; calls come from one goroutine, in order.
	Show(e Event)
	// Ask waits for an answer. Its ctx ends when the current gave the answer.
	Ask(ctx context.Context, q Question) (Answer, error)
}

// Event is something to show.
type Event struct {
	At time.Time `json:"at"`
	// decides which of the other fields are filled in
	What EventKind `json:"what"`
	// in plain words; empty: the fields say all
	Text     string               `json:"text,omitempty"`
	Step     *Step                `json:"step,omitempty"`
	Reading  *instruments.Reading `json:"reading,omitempty"`
	Said     []Said               `json:"said,omitempty"`
	OutputOn bool                 `json:"output_on"` // always true to the last command sent
	// it is on only to feel for a clip, at little voltage and current
	Sensing bool `json:"sensing"`
	// ToTap: what is asked for isn't felt, healthy or not: once it's clipped on, that is said
	ToTap bool `json:"to_tap,omitempty"`
	// it was told to be off and the supply didn't confirm it: it may still be on
	Unsure bool `json:"unsure,omitempty"`
	// Sweeping: its voltages are lower ones, for the curve of what is on
	Sweeping bool `json:"sweeping,omitempty"`
	// ByHand: the maker switches and sets the supply. SetVolts is what it is to be set to
	// then, which a question may still have to say
	ByHand   bool    `json:"by_hand,omitempty"`
	SetVolts float64 `json:"set_volts"`
	LimitA   float64 `json:"limit_a"`
	// LitFor is how long a look that is asked about stays lit yet, by itself; 0: it's dark, or
	// none is.
	LitFor    time.Duration `json:"lit_for_ns,omitempty"`
	Done      int           `json:"done"`         // steps done
	Total     int           `json:"total"`        // steps known of
	Remaining time.Duration `json:"remaining_ns"` // of the test, about; 0: nobody knows
	Kept      uint64        `json:"kept"`         // lines on disk
}

// EventKind says what an Event is about.
type EventKind string

// What can be shown.
const (
	Starting   EventKind = "starting" // says how long it will take
	StepBegins EventKind = "step begins"
	OutputOn   EventKind = "output on"
	OutputOff  EventKind = "output off"
	SensingOn  EventKind = "sensing"     // the output is live to feel for a clip: no state to solder in
	ClipOff    EventKind = "clip off"    // nothing hangs on it, as far as is felt; Text: how the question reads now
	Contact    EventKind = "contact"     // something was felt: sound a tone
	NothingYet EventKind = "nothing yet" // was felt for a while: sound a tone
	HandsOff   EventKind = "hands off"   // it is about to be ramped: sound a tone
	RampStep   EventKind = "ramp"
	Settling   EventKind = "settling"
	Sampling   EventKind = "reading"
	// SoFar: Said is what a step comes to by what was read at its own voltage, while its curve is read
	// yet. It's shown and nothing else: what counts is what StepEnds says.
	SoFar    EventKind = "so far"
	Trip     EventKind = "trip"
	DropSeen EventKind = "drop" // in a wiggle: sound a tone
	Lit      EventKind = "lit"  // of a look: how long it's lit yet, that it went dark, or is lit again
	Told     EventKind = "told" // what was understood of an answer, and what follows from it
	StepEnds EventKind = "step ends"
	Warning  EventKind = "warning"
	Paused   EventKind = "paused"
	Ended    EventKind = "ended"
)
