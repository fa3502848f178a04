package record

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// Folded is what the record of a build tells of the tests.
type Folded struct {
	BuildID string   // the build's own identity; empty before the chain
	Builds  []string // names of builds seen, in order of appearance
	// Steps are in the order in which they began. Those that the maker wanted to
	// do again stay, with Redone; what the program itself broke off is left out.
	Steps []capture.StepRecord
	// Redone counts the records that a redone mark was about, by step ID.
	Redone   map[string]int
	Accepted []Acceptance // in the order of the record, as all lists here
	Reworked []Rework     // places, each with when it was touched
	// Allowed, Ticked and Answers are what the maker accepted or answered by name;
	// TouchedNothing are the times that nothing was said to be touched.
	Allowed        []ByName
	Ticked         []ByName // items of a closure's list
	Answers        []ByName // to damage of the record
	TouchedNothing []ByName // only At and Order are filled in for sure
	Notes          []Note
	Files          []Attached // beside the chain, by their names
	// Sittings are in their order; Damage is all that is wrong with the record.
	Sittings []SittingState
	Damage   []Damage
	Warnings []Warning
}

// ByName is a word of the maker about a thing with a name.
type ByName struct {
	Name    string `json:"name"`
	Closure string `json:"closure,omitempty"`
	Stage   string `json:"stage,omitempty"`
	// in the maker's words; empty where none is asked for
	Reason string        `json:"reason,omitempty"`
	Value  float64       `json:"value,omitempty"` // of a check when it was allowed, in its own unit
	At     time.Time     `json:"at"`
	Order  capture.Order `json:"order"`
}

// Note is what a verb wrote that judges nothing: a proof of the bench, say.
type Note struct {
	Name     string                `json:"name"`
	Text     string                `json:"text"` // words, or JSON
	Stage    string                `json:"stage"`
	At       time.Time             `json:"at"`
	Order    capture.Order         `json:"order"`
	Readings []instruments.Reading `json:"readings,omitempty"`
}

// SittingState is what a record tells of one sitting as a whole.
type SittingState struct {
	Number    int       `json:"number"` // from 1; that of a file of before the chain too
	File      string    `json:"file"`   // relative to the build's folder, with slashes
	Stage     string    `json:"stage"`
	At        time.Time `json:"at"`
	Until     time.Time `json:"until"`     // of its last line
	Simulated bool      `json:"simulated"` // some line of it says so
	// Whole: it has its end. Without, the program died in it or was cut off.
	Whole bool `json:"whole"`
	// BrokeOff says what broke it off, where it has its end: a stop or a failure. Empty: it
	// came to its end, or was recorded by a program that didn't say so yet.
	BrokeOff string `json:"broke_off,omitempty"`
	// Chained is false for a record of before the chain.
	Chained bool `json:"chained"`

	Lines int `json:"lines"` // that were read
	// what it was opened for: test, told, check, ...
	What string `json:"what,omitempty"`
	Name string `json:"name,omitempty"` // of the build, then
	// of the plan that stood there when it was opened
	PlanRevision string `json:"plan_revision,omitempty"`
	Program      string `json:"program,omitempty"` // and its version
	// which instruments stood there, as they call themselves
	Bench string `json:"bench,omitempty"`
	// GoesOn is the number of the sitting that this one goes on with; 0: none.
	GoesOn int `json:"goes_on,omitempty"`
	// Clock is what the record says of the machine's clock: that it stood back, or was
	// set. It judges nothing, so it's said when it happens and where the record is looked
	// through.
	Clock []string `json:"clock,omitempty"`
	// From is the file of before the chain that it was converted from.
	From string `json:"from,omitempty"`
}

// DamageKind says what is wrong with a record.
type DamageKind string

// The kinds of damage.
const (
	Changed DamageKind = "changed" // it is not what was written
	Missing DamageKind = "missing"
	Doubled DamageKind = "doubled" // it stands there once more
	Moved   DamageKind = "moved"   // it stands where it doesn't belong
	Foreign DamageKind = "foreign" // of another build or sitting, or by another hand
)

// Damage is something wrong with a record that could matter: a changed, missing,
// doubled, moved or foreign line or file. It caps every verdict until answered.
type Damage struct {
	Name  string        `json:"name"`           // by which it is answered: "FILE:LINE" or "FILE"
	File  string        `json:"file"`           // relative to the build's folder, with slashes
	Line  int           `json:"line,omitempty"` // from 1; 0: the file as a whole
	Kind  DamageKind    `json:"kind"`
	What  string        `json:"what"`            // what is wrong, in plain words
	Order capture.Order `json:"order,omitempty"` // where it stands
	// Sitting is the number of the sitting that it is in; 0: none is known.
	Sitting int `json:"sitting,omitempty"`
	// Remains is what stands there, as far as it can be read, quoted to ASCII.
	Remains string `json:"remains,omitempty"`
	// Answered is what the maker said of it; empty: nothing yet.
	Answered string `json:"answered,omitempty"`
	// AnsweredAt is where that stands.
	AnsweredAt capture.Order `json:"answered_at,omitempty"`
}

// Answer makes the mark by which damage is answered, without its time and stage.
// It names the damage as it is now: other damage at the same place later on needs
// an answer of its own.
func (d Damage) Answer(say string) capture.Mark {
	return capture.Mark{Kind: capture.MarkAnswered, Check: d.key(), Reason: say}
}

// key is the name with a digest of what was found.
func (d Damage) key() string {
	sum := sha256.Sum256([]byte(string(d.Kind) + "\x00" + d.What + "\x00" + d.Remains))
	return d.Name + "#" + hex.EncodeToString(sum[:4])
}

func (d Damage) String() string { return fmt.Sprintf("%s: %s", d.Name, d.What) }

// Acceptance is a group that the maker closes over by choice.
type Acceptance struct {
	// of the step at which it was said; empty: at none
	StepID  string        `json:"step_id,omitempty"`
	Closure string        `json:"closure"`
	Feed    string        `json:"feed"`   // of that step
	Groups  []string      `json:"groups"` // that are closed over by choice
	Pace    string        `json:"pace,omitempty"`
	Stage   string        `json:"stage"`
	Reason  string        `json:"reason"` // in the maker's words
	At      time.Time     `json:"at"`
	Order   capture.Order `json:"order"`
	step    capture.Order // begin of the step that it is of; 0: of none
}

// Rework is a solder point, wire, board or group that was touched again. What
// lies behind it must have been measured after it.
type Rework struct {
	Closure string   `json:"closure,omitempty"`
	Clip    bool     `json:"clip,omitempty"`   // only the clip on Place: readings count no more, looks do
	Place   string   `json:"place,omitempty"`  // joint, board or group
	Groups  []string `json:"groups,omitempty"` // that lie behind it, where the mark says so
	Stage   string   `json:"stage"`
	// in the maker's words; empty: none was said
	Reason string        `json:"reason,omitempty"`
	At     time.Time     `json:"at"`
	Order  capture.Order `json:"order"`
}

// Kept gives the steps that nobody wanted to do again.
func (f Folded) Kept() []capture.StepRecord {
	return slices.DeleteFunc(slices.Clone(f.Steps), func(r capture.StepRecord) bool { return r.Redone })
}
