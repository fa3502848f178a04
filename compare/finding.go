package compare

import (
	"math"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare/words"
)

// Verdict is what is said of one group at one pace. The zero Verdict is "not measured".
type Verdict string

// The verdicts on a group.
const (
	NotMeasured Verdict = "not measured"
	InBand      Verdict = "in band"
	Low         Verdict = "low"
	High        Verdict = "high"
	StuckLit    Verdict = "stuck lit"
	StuckDark   Verdict = "stuck dark"
	OffPace     Verdict = "off pace"
	CantTell    Verdict = "can't tell"
)

// ClosureVerdict is what is said of a closure.
type ClosureVerdict string

// The verdicts on a closure.
const (
	ReadyToClose   ClosureVerdict = "ready to close"
	LookFirst      ClosureVerdict = "look first" // nothing against it by current, not looked at
	KeepOpen       ClosureVerdict = "keep open"
	NotSettled     ClosureVerdict = "not settled"
	ClosedByChoice ClosureVerdict = "closed by choice"
)

// Band is where the draw of a healthy group lies at a stated coverage.
type Band struct {
	LowA     float64 `json:"low_a"`
	HighA    float64 `json:"high_a"`
	Coverage float64 `json:"coverage"` // 0.95: 19 of 20 healthy groups
}

// Cause is one possible reason, most likely first.
type Cause struct {
	Name string `json:"name"` // the fault's name, as seeded on a rig: "dark segment"
	// Kinds are all faults that look the same to a current, Name among them.
	Kinds []string `json:"kinds,omitempty"`
	Text  string   `json:"text"` // in plain words, with where to look first
	// where on the feed tree, from the jack on: "keel > cabin windows"
	Place string `json:"place,omitempty"`
	// Places are joints, returns and boards of the plan that it may lie at.
	Places []string `json:"places,omitempty"`
	P      float64  `json:"p,omitempty"` // posterior probability; 0: not computed
	// Edit is the change to the plan that would explain it, as PATH = VALUE.
	Edit string `json:"edit,omitempty"`
}

// Finding is the verdict on one group at one pace.
type Finding struct {
	Group   string `json:"group"`
	Closure string `json:"closure"`
	Board   string `json:"board,omitempty"`
	Output  int    `json:"output,omitempty"` // of its board, from 1; 0: no board
	Pace    string `json:"pace,omitempty"`
	// Sealed: a wire for a part still to come. What is clipped across its end for
	// the test needn't be looked at.
	Sealed  bool    `json:"sealed_wire,omitempty"`
	Stage   string  `json:"stage"`
	Way     string  `json:"way,omitempty"` // alone, added, joined
	Verdict Verdict `json:"verdict"`

	// FiguresOf says what the measured and the expected draw are of, where not of the
	// group alone.
	FiguresOf string  `json:"figures_of,omitempty"`
	VoltsSet  float64 `json:"volts_set"`  // V, at the supply
	MeasuredA float64 `json:"measured_a"` // while lit, for a blinker
	MeasuredU float64 `json:"measured_u"` // standard uncertainty
	ExpectedA float64 `json:"expected_a"`
	ExpectedU float64 `json:"expected_u"`
	Band      Band    `json:"band"`
	SmallestA float64 `json:"smallest_a"` // the smallest fault of interest: the least current of one branch
	Readings  int     `json:"readings"`   // how many MeasuredA rests on
	// Unread: the readings are of no use (overload, a change of range, too few).
	// Then a look can't make up for them.
	Unread  bool    `json:"unread,omitempty"`
	PeriodS float64 `json:"period_s,omitempty"` // measured
	PeriodU float64 `json:"period_u,omitempty"` // s, standard uncertainty
	// measured: the part of a period in which it is lit, 0 to 1
	Duty        float64 `json:"duty,omitempty"`
	PlanPeriodS float64 `json:"plan_period_s,omitempty"`

	Causes []Cause  `json:"causes,omitempty"`       // the likeliest first
	Why    string   `json:"why,omitempty"`          // why it can't be told
	Settle []string `json:"would_settle,omitempty"` // what would settle a can't tell
	Notes  []string `json:"notes,omitempty"`        // in plain words, for a person
	// what the maker saw at the latest look, in his words
	Seen   string `json:"seen,omitempty"`
	Looked bool   `json:"looked"` // that look says that all is right
	// NoColours: by somebody who can't judge colours, and it has lights
	NoColours   bool      `json:"no_colours,omitempty"`
	Accepted    string    `json:"accepted,omitempty"` // the maker's reason
	StepID      string    `json:"step_id,omitempty"`  // of the step that it rests on
	At          time.Time `json:"at"`
	PlanChanged bool      `json:"plan_changed,omitempty"` // after the reading
	Simulated   bool      `json:"simulated,omitempty"`    // a simulated bench read it

	// PHealthy is the probability that nothing is wrong, after all that was read
	// and seen; 0: not computed.
	PHealthy float64 `json:"p_healthy,omitempty"`
	// Excluded is how small a fault a pass still excludes; nil: it doesn't pass, or that
	// isn't known.
	Excluded *Excluded `json:"excluded,omitempty"`
	// Also are the readings at other voltages that were weighed.
	Also []Also `json:"also,omitempty"`

	// Learned says that other groups of its reel sharpened what is expected.
	Learned string `json:"learned,omitempty"`

	evidence  *evidence // nil: only one number of it is known
	nothing   *evidence // of what draws nothing: for what it has in common with others
	unweighed bool      // it draws nothing, or no probabilities can be put to it: a look doesn't pass it
	record    *capture.StepRecord
	plainA    float64       // expected by the plan alone
	common    bool          // its cause is one that it has in common with others
	above     []Cause       // that it may have in common with others
	rival     rival         // what plans of before that it was read by leave of doubt
	formerly  *formerly     // it passes only by a plan that was changed after a reading; nil: it doesn't
	meanFits  bool          // of outputs that can't be parted: the board's mean is as expected
	asFound   bool          // nothing is planned of it
	pool      *poolDraw     // the mean of several measurements; nil: of one
	moves     bool          // several measurements that don't go together
	wavers    bool          // they don't, whatever the last of them says by itself
	elsewhere bool          // not at its service voltage
	byTrace   bool          // what its trace shows leaves it open: its level isn't known
	rests     capture.Order // the latest reading or look that it rests on
}

// untold leaves it open for what its trace shows: why says so, and what helps where there's
// something, as "the reason: read for longer". more helps, too.
func (f *Finding) untold(why string, more ...string) {
	reason, do, _ := strings.Cut(why, ": ")
	if !words.IsToDo(do) {
		reason, do = why, ""
	}
	f.Verdict, f.Why, f.byTrace = CantTell, words.Sentence(reason)+".", true
	if do != "" {
		f.Settle = append(f.Settle, do)
	}
	f.Settle = append(f.Settle, more...)
}

// Excluded is how small a fault is excluded beside a pass, once in twenty let by.
type Excluded struct {
	LossA float64 `json:"loss_a,omitempty"` // a loss of current of at least so much
	// a joint in the group's own wire of at least so many ohms; 0: of none
	JointOhm float64 `json:"joint_ohm,omitempty"`
}

// Also is the draw of a group at another voltage than the service voltage.
type Also struct {
	Volts     float64 `json:"volts"` // V, at the supply
	MeasuredA float64 `json:"measured_a"`
	MeasuredU float64 `json:"measured_u"`
	ExpectedA float64 `json:"expected_a"`
	ExpectedU float64 `json:"expected_u"`
}

// Nothing: nothing is expected there, and nothing flows, as in a strip below its knee. It needn't be told.
func (a Also) Nothing() bool {
	return math.Abs(a.ExpectedA) < nothingA && math.Abs(a.MeasuredA) < nothingA
}

// ClosureFinding is the verdict on a closure with its reasons.
type ClosureFinding struct {
	Build   string `json:"build"`
	Closure string `json:"closure"`
	// the closure that it closes inside of; empty: none
	Inside  string         `json:"inside,omitempty"`
	Verdict ClosureVerdict `json:"verdict"`
	Reasons []string       `json:"reasons"` // for the verdict, in plain words
	Groups  []Finding      `json:"groups"`  // all of its own and of what closes inside it
	// Items are what must be in it before it closes, each ticked or not.
	Items []Item `json:"items,omitempty"`
	// Checks of the plan that speak against it, accepted ones too.
	Checks []CheckFinding `json:"checks,omitempty"`
	// Slip is the chance that a fault is still in there; nil: it didn't pass.
	Slip *Slip `json:"slip,omitempty"`
	// Damage is all that is wrong with the record of the build.
	Damage []record.Damage `json:"damage,omitempty"`
	// Simulated: it rests on a simulated bench and says nothing of a real model.
	Simulated bool `json:"simulated,omitempty"`
	// Changed says that the whole model changed since the stage before and nothing
	// mended it: then something in it is wrong, whatever each group says.
	Changed string `json:"changed,omitempty"`
	// Beside is what couldn't be worked out, and so isn't in the verdict.
	Beside []string `json:"beside,omitempty"`
	// BeforeChain: some of the record is of before its lines were chained, so nobody
	// can tell whether any is missing.
	BeforeChain bool `json:"before_chain,omitempty"`
}
