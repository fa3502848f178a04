package capture

import (
	"time"

	"sealworthy/instruments"
)

// MarkKind says what a Mark marks. The zero MarkKind is no valid mark.
type MarkKind string

// What the record keeps beside readings.
const (
	MarkBegin   MarkKind = "begin"   // a step begins; Step and Instruments are filled in
	MarkOn      MarkKind = "on"      // the output went on at SetVolts and LimitA
	MarkSettled MarkKind = "settled" // readings from here on are the trace
	// a voltage of the sweep was set: SetVolts and LimitA; the trace ends at the first
	MarkPoint   MarkKind = "point"
	MarkEnd     MarkKind = "end"     // the step is over; Outcome, Reason, Warnings, Drops are filled in
	MarkTripped MarkKind = "tripped" // stopped at SetVolts; an end follows
	// MarkRedone: the step is done again. What the program itself broke off no
	// longer counts; with ByMaker it had ended, and stays on the record.
	MarkRedone   MarkKind = "redone"
	MarkSkipped  MarkKind = "skipped"  // by the maker, with a reason; an end follows
	MarkAccepted MarkKind = "accepted" // by the maker, with a reason, against the verdict
	// MarkLooked: Seen is all that was seen in this step so far, "GROUP: words" for
	// each group; Groups are those. The last one that wasn't taken back counts,
	// also against the Seen of the end.
	MarkLooked MarkKind = "looked"
	// MarkReworked: something was touched again. Feed is the joint, return, board
	// or group, Groups what lies behind it. With Check TheClip it was only the clip
	// on Feed: its readings count no more, its looks do.
	MarkReworked MarkKind = "reworked"
	// MarkTouchedNothing: asked what was touched, the maker said nothing was.
	MarkTouchedNothing MarkKind = "touched nothing"
	// MarkTakenBack takes the mark at Of back: a look, a rework, an acceptance, a
	// tick. Both stay on the record.
	MarkTakenBack MarkKind = "taken back"
	MarkAllowed   MarkKind = "allowed" // Check was accepted by name against the program's own word; Reason says why
	MarkTicked    MarkKind = "ticked"  // Check, an item of a closure's list, was ticked by hand
	// damage to the record, named by Check, was looked at; Reason is what the maker says of it
	MarkAnswered MarkKind = "answered"
	MarkClock    MarkKind = "clock" // the machine's clock was set while the sitting ran; Reason says by how much
	// words of the maker or of a verb that judge nothing: a proof, a sample, a return's answers
	MarkNote MarkKind = "note"
)

// Mark is one event of a step as the record keeps it. From the marks of a step
// and its readings the StepRecord can be made again: begin, on, settled, end
// give its times, end the rest. A redone step begins anew with a begin of the
// same StepID.
type Mark struct {
	Kind    MarkKind
	At      time.Time
	StepID  string // of the step that it is of; empty: of none
	Closure string
	Feed    string   // of the step
	Groups  []string // judged from the step, or that it concerns
	Pace    string
	Stage   string

	SetVolts float64 // V, as last sent to the supply
	LimitA   float64 // A, as last sent to the supply

	Outcome Outcome // end
	Reason  string  // end, tripped, redone, skipped, accepted, reworked
	Seen    string  // looked, end

	Step         *Step                              // begin: the whole step
	PlanRevision string                             // begin
	Instruments  map[string]instruments.Description // begin: by Reading.Instrument
	AmbientC     *float64                           // begin; nil is unknown
	Simulated    bool                               // every mark

	TripVolts     float64  // end of a tripped step: set voltage at which it tripped
	Warnings      []string // end
	ShortestDropS float64  // end of a wiggle
	Drops         []Drop   // end of a wiggle

	// Check names a check of the plan, an item of a closure's list, or damage to
	// the record: allowed, ticked, answered.
	Check string
	// Value is what a check stood at when it was allowed, in its own unit: once it
	// is worse it isn't covered any more. 0 where it has none.
	Value float64
	// ByMaker, of a redone mark: the maker wanted it.
	ByMaker bool
	// Of is the mark that is taken back.
	Of Order
	// Order is where the mark stands; filled in on reading.
	Order Order
}

// StepRef says to which step a reading belongs.
type StepRef struct {
	StepID  string // as in Step.ID; empty: of no step
	Closure string
	Feed    string   // clipped or switched for the step
	Groups  []string // judged from it
	Pace    string
	Stage   string
	// Base is true for the settled readings of what was on before the feed was
	// added (StepRecord.Base).
	Base bool
}

// Record keeps what was measured. Append and Mark queue and return at once; an
// error means that the record can't be kept (disk full), which pauses the test.
type Record interface {
	Append(r instruments.Reading, ref StepRef) error
	Mark(m Mark) error
	// Sync returns when all that was queued is on disk, or with what went wrong.
	Sync() error
	// Kept is the number of lines known to be on disk.
	Kept() uint64
}
