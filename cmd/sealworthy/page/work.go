package page

import (
	"context"
	"io"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// Work is what the page can have done: the program's verbs on builds. A build is
// named by an ID that Work gives out; no path comes from a browser.
type Work interface {
	// Builds lists the builds that can be opened.
	Builds(ctx context.Context) ([]Build, error)
	// Overview tells what is known of a build without judging anything: Findings are there only
	// where they were worked out already. The error says what is wrong with its plan.
	Overview(ctx context.Context, id string) (Overview, error)
	// Judge works out what the readings of a build say, which takes as long as it takes. Whoever asks
	// for what is being judged waits for that.
	Judge(ctx context.Context, id string) (Findings, error)
	// Files stands for all that Judge makes its findings of, as the files are now.
	Files(ctx context.Context, id string) (string, error)
	// Do carries out an order to its end, with all that it tells and asks at the desk.
	Do(ctx context.Context, o Order, d *session.Desk, g *capture.Guard) Result
	// Tell keeps what was told of a build without a test.
	Tell(ctx context.Context, id string, t Told) error
	// Folder is where new builds are made; "": none are.
	Folder() string
	// New begins a build of that name and gives its ID.
	New(ctx context.Context, name string) (id string, err error)
	// Simulated gives a copy of a build on a simulated bench; "": the program's own
	// example.
	Simulated(ctx context.Context, of string) (id string, err error)
	// Picture draws a picture of a build as SVG.
	Picture(ctx context.Context, id, name string, w io.Writer) error
	// Sheet writes a page that is printed and kept, of a form as the command line names it.
	Sheet(ctx context.Context, id, form string, w io.Writer) error
}

// Hander is Work that has hands at a simulated bench.
type Hander interface {
	// Hand does what hands do there: "clip FEED", "open", and so on.
	Hand(id, line string) error
}

// Build is a build that can be opened.
type Build struct {
	ID        string // in addresses of the page
	Name      string // as its plan calls it, else its folder's
	Where     string // its folder
	Simulated bool   // its bench is
	Problem   string // why it can't be opened; "": it can
}

// Overview is what is known of a build.
type Overview struct {
	Build
	Files    string          // as Work.Files gives it; "": not all of them can be read
	Findings *Findings       // what the readings say; nil: that wasn't worked out yet
	Parts    []string        // its closures, in the order of the plan
	Groups   []string        // in that order, too
	Feeds    []string        // that a clip can go on
	Buttons  []string        // boards that have one, which steps to their next pace
	Places   []capture.Place // what can be touched
	Cautions []string        // where a test begins
	Pictures []Picture
	ByHand   bool // its bench.toml says so: no port is needed
	Ports    bool // its bench.toml or the command line names a supply
	Relays   bool // they switch the feeds
	// Bench says what it's measured with, an instrument a sentence; none: nothing is known.
	Bench          []string
	BenchSimulated bool // one of these is
	Kept           bool // a signature is: a return can be set against it
	Past           []Past
	Said           []Said  // that can be taken back, the latest first
	Photos         []Photo // beside the record, in their order
	Glued          Glued
	Returned       bool // a return was diagnosed: its pages can be printed
	// NoCentre is the jack of an adapter of which the plan doesn't say which pole is in the middle of
	// the plug, as its label should; "": it does.
	NoCentre string
}

// Findings are what the readings of a build say by its plan, and what that plan lets expect.
type Findings struct {
	Files    string                   // that it was judged from, as Work.Files gives it
	Closures []compare.ClosureFinding // their verdicts by the record
	Offers   []Offer                  // changes of the plan that would fit
	Text     string                   // the budget with its checks, as the command line prints it
	// StageChanges is the whole model against the stage before; none: measured at one only.
	StageChanges []StageChange
	Trend        *Picture // what was drawn stage by stage; nil: at one stage only
}

// LastTest is the one that can be gone on with; nil: none was begun.
func (o Overview) LastTest() *Past {
	for i := range o.Past {
		if o.Past[i].What == record.ForTest {
			return &o.Past[i]
		}
	}
	return nil
}

// Said is a word of the maker that can be taken back: without it less is ready than with it.
type Said struct {
	Of   string // for Told.Names
	At   time.Time
	What string // in words
}

// Past is a sitting of the record, the latest first.
type Past struct {
	At                  time.Time
	Stage, What, Lasted string // as it is shown
	Simulated           bool   // its bench was
	Ended               string // what broke it off, or that no end is recorded; "": it came to its end
}

// StageChange is the whole model at a stage against the stage before.
type StageChange struct {
	Stage, Before, Verdict, Text string // the stages, what became of it, and that in words
	Good, Bad                    bool   // of the verdict; neither: it can't be told
}

// Picture is one that can be drawn.
type Picture struct {
	Name string // for Work.Picture
	Says string // what is to be seen, for who can't see it
}

// Verb is what an order is.
type Verb string

// What can be ordered.
const (
	Measure  Verb = "measure"  // the power-on test
	Diagnose Verb = "diagnose" // what tells most, until it's settled
	Soak     Verb = "soak"
	Keep     Verb = "keep"
	Return   Verb = "return"
	Bench    Verb = "bench" // the instruments are looked for, tried and written down: of no build
)

// Order is a test to be made.
type Order struct {
	Build   string // its ID
	Verb    Verb
	Closure string // "": all
	Stage   string
	Resume  bool     // go on with the latest test of the stage
	Redo    []string // groups
	// TypedMeter and SupplyByHand: there is no port for it.
	TypedMeter, SupplyByHand bool
	NoProof                  bool    // leave the proof of the bench out
	HandsFree                bool    // feel for clips
	Hands                    bool    // on a simulated bench hands clip, not relays
	Hours                    float64 // of a soak
	Adapter                  bool    // of keep: the one that goes along is measured, too
	Short                    bool    // a recheck: the sweep is left out
	// Of a search for instruments: the ports that are looked at.
	Ports []string
	// by port, the profile that the maker chose for it
	As map[string]string
}

// Result is what became of an order.
type Result struct {
	Status int      // as the command line's exit status
	Text   string   // what was found, in words
	Err    error    // nil: it ran to its end, whatever was found
	Hints  []string // what to do about Err
}

// Told is what is told of a build without a test.
type Told struct {
	Kind    Telling  // what is told
	Names   []string // places, or groups, or items
	Closure string   // of items
	Reason  string   // in the maker's words; empty: none is asked for
}

// Telling is what kind of thing is told.
type Telling string

// What can be told.
const (
	ToldTouched  Telling = "touched" // no names: nothing was
	ToldAccepted Telling = "accept"
	ToldTicked   Telling = "tick"
	ToldAllowed  Telling = "allow"
	ToldClients  Telling = "client photo" // those that stand on the client's page, no others
	ToldGlued    Telling = "glued"        // closures
	ToldBack     Telling = "taken back"   // what was said before, by Said.Of
)
