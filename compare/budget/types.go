package budget

import "sealworthy/compare/plan"

// Budget is what a plan draws under the conditions At, and how sure that is.
type Budget struct {
	Build    string  `json:"build"`
	Revision string  `json:"revision"` // of the plan
	At       At      `json:"at"`       // with its defaults filled in
	Seed     uint64  `json:"seed"`     // of the trials: the same seed gives the same draws
	Trials   int     `json:"trials"`   // of the Monte Carlo
	Coverage float64 `json:"coverage"` // of every band

	Groups []Group `json:"groups"` // in the order of the plan
	Feeds  []Feed  `json:"feeds"`  // what one clip or relay switches on
	Jacks  []Jack  `json:"jacks"`
	Joints []Joint `json:"joints"` // the feed tree with everything lit, in service

	Checks   []Check   `json:"checks,omitempty"`
	Twins    []Twin    `json:"twins,omitempty"`
	Warnings []Warning `json:"warnings,omitempty"`

	model *model // for Curve; not kept in a file
}

// Draw is one current with its uncertainty. All in A.
type Draw struct {
	NominalA float64 `json:"nominal_a"` // every part at its nominal value, or at what was learned of its reel
	MeanA    float64 `json:"mean_a"`    // over the trials
	UA       float64 `json:"u_a"`       // standard uncertainty, Monte Carlo
	// UA split, by the law of propagation: squares add up to UA squared.
	UReelA  float64 `json:"u_reel_a"`  // what pieces of one reel have in common
	UOwnA   float64 `json:"u_own_a"`   // what each piece has on its own
	UBenchA float64 `json:"u_bench_a"` // voltage, temperature, leads

	LinearUA float64 `json:"linear_u_a"` // standard uncertainty by the law of propagation
	// LowA and HighA hold Coverage of healthy models, half of the rest on either side.
	LowA  float64 `json:"low_a"`
	HighA float64 `json:"high_a"`
	// WorstLowA and WorstHighA: every part at the end of its tolerance, all in
	// the same sense; never within the band (a lone piece with a share between 0
	// and 1 may reach beyond its half-width).
	WorstLowA  float64 `json:"worst_low_a"`
	WorstHighA float64 `json:"worst_high_a"`
	// Differ is true where Monte Carlo and linear figures differ; a Warning says how.
	Differ bool `json:"differ,omitempty"`
}

// Group is the budget of one group.
type Group struct {
	Group   string `json:"group"`
	Closure string `json:"closure"`
	Feed    string `json:"feed"` // the group itself, or its board
	Board   string `json:"board,omitempty"`
	Output  int    `json:"output,omitempty"`   // of its board, from 1; 0: no board
	Jack    string `json:"jack"`               // that feeds it
	AsFound bool   `json:"as_found,omitempty"` // no plan of it: the draws below are no expectation
	// TestLoad is what is clipped across the end of a sealed wire for its test, and
	// draws what stands below; empty for any other group.
	TestLoad string   `json:"test_load,omitempty"`
	Pos      plan.Pos `json:"pos"`

	// Lit is its draw while lit, alone at the meter, burden and leads in. For a
	// group on a board: the step of the board's draw, without its standing draw.
	Lit Draw `json:"lit"`
	// Service is its draw while lit in service: everything on, no meter, at the jack's voltage.
	Service Draw `json:"service"`
	// Paces: its mean draw at the meter for each pace of its board.
	Paces []PaceDraw `json:"paces,omitempty"`
	// Reels: which reels its uncertainty comes from, largest first.
	Reels []ReelPart `json:"reels,omitempty"`

	// FarVolts is the least voltage at any of its branches, everything lit, in
	// service; FarVoltsLow the same with the jack at its lowest.
	FarVolts    float64 `json:"far_volts"`
	FarVoltsLow float64 `json:"far_volts_low"`

	Branches int `json:"branches"` // in parallel, of all its lights
	// SmallestA is the smallest fault of interest: by how much the draw falls
	// when the least branch goes dark. SmallestText names it.
	SmallestA    float64 `json:"smallest_a"`
	SmallestText string  `json:"smallest_text"`    // "one segment of strip warm white 12 V"
	Losses       []Loss  `json:"losses,omitempty"` // one for each kind of branch
	Visible      Visible `json:"visible"`
}

// Loss is what the draw of a group falls by when one branch of this kind goes dark.
type Loss struct {
	Light int     `json:"light"` // index into the group's lights
	What  string  `json:"what"`  // "one segment of strip warm white 12 V"
	Amps  float64 `json:"amps"`  // A, less by this, nominal
}

// ReelPart is the standard uncertainty that one reel brings into a draw, by
// what its pieces have in common and by what each has on its own.
type ReelPart struct {
	Reel    string  `json:"reel"` // its name in the plan, or the part's own where none is given
	CommonA float64 `json:"common_a"`
	OwnA    float64 `json:"own_a"`
}

// PaceDraw is the draw of a group or a feed at one pace.
type PaceDraw struct {
	Pace    string  `json:"pace"`
	PeriodS float64 `json:"period_s"` // 0: steady
	Duty    float64 `json:"duty"`     // the part of a period in which it is lit, 0 to 1
	Mean    Draw    `json:"mean"`     // over whole periods
	PeakA   float64 `json:"peak_a"`   // the highest level, nominal
}

// Feed is what one clip, plug pin or relay switches on: a group on a joint, or
// a board with all its groups.
type Feed struct {
	Feed    string `json:"feed"`            // name of the group or board
	Board   bool   `json:"board,omitempty"` // it is a board
	Closure string `json:"closure"`
	Jack    string `json:"jack"` // that feeds it
	// Volts at the source for which the levels hold.
	Volts  float64  `json:"volts"`
	Groups []string `json:"groups"` // all that hang on it, in the order of the plan
	Pos    plan.Pos `json:"pos"`
	// Levels are the draws that it can show at the meter, lowest first: one for
	// a group, one for each set of outputs that can be lit together for a board.
	Levels []Level `json:"levels"`
	// Run is how the outputs of a board go together.
	Run   plan.OutputsRun `json:"run,omitempty"`
	Paces []PaceDraw      `json:"paces,omitempty"` // of the board, at the meter; empty: steady
	// CapacitorF takes a surge when the feed is switched on.
	CapacitorF float64 `json:"capacitor_f,omitempty"`
	AsFound    bool    `json:"as_found,omitempty"` // some group of it has no plan
}

// Level is the draw of a feed with a given set of outputs lit.
type Level struct {
	Outputs []int    `json:"outputs,omitempty"` // numbers of the lit outputs
	Groups  []string `json:"groups,omitempty"`  // groups that are lit
	Draw    Draw     `json:"draw"`
	// Usual is false for a set that a healthy board never shows: all outputs at
	// once of a board whose outputs alternate.
	Usual bool `json:"usual"`
}

// Jack is the whole model at one jack.
type Jack struct {
	Jack  string  `json:"jack"`  // its name
	Volts float64 `json:"volts"` // V, its own by the plan
	// Meter: burden and leads in. Service: without.
	DarkMeter   Draw `json:"dark_meter"`    // every blinker dark
	AllLitMeter Draw `json:"all_lit_meter"` // every blinker lit at once
	DarkService Draw `json:"dark_service"`  // every blinker dark
	AllLit      Draw `json:"all_lit"`       // every blinker lit at once, in service
	MeanService Draw `json:"mean_service"`  // every board at its first pace
	// all lit in service, the jack at its highest voltage
	HighestVolts Draw `json:"highest_volts"`
	// ByPace: mean in service with one board at one of its paces, the others at their first.
	ByPace []BoardPace `json:"by_pace,omitempty"`
}

// BoardPace is the mean draw of the model with one board at one pace.
type BoardPace struct {
	Board string `json:"board"`
	Pace  string `json:"pace"`
	Mean  Draw   `json:"mean"` // over whole periods
}

// Joint is one node of the feed tree, for the picture: everything lit, in service.
type Joint struct {
	Name    string  `json:"name"`
	From    string  `json:"from"` // empty for a jack
	Kind    string  `json:"kind"` // jack, joint, board, group, return
	Closure string  `json:"closure,omitempty"`
	Amps    float64 `json:"amps"` // through it
	// LowA and HighA hold Coverage of healthy models at the jack's own voltage, half of the
	// rest on either side: of the place as a whole, in which deviations of its groups partly
	// cancel, so it is narrower than the sum of their bands.
	LowA  float64 `json:"low_a"`
	HighA float64 `json:"high_a"`
	Volts float64 `json:"volts"` // there, against its own minus; of a return: above the minus of the jack
	// V lost on the way from From, holds included; a return of its own counts by itself
	Drop     float64 `json:"drop"`
	LowDrop  float64 `json:"low_drop"`  // V, as LowA
	HighDrop float64 `json:"high_drop"` // V, as HighA
	// what lies in series before it, in words: fuse, diode, ...
	Holds []string `json:"holds,omitempty"`
	// that leads to it, as a maker would say it: "0.2 mm, 220 mm"
	Wire string `json:"wire,omitempty"`
	// Dark: the groups that go dark if this joint opens.
	Dark []string `json:"dark,omitempty"`
	Pos  plan.Pos `json:"pos"`
}

// Severity says how much a check matters. The zero Severity is no valid answer.
type Severity string

// The severities.
const (
	Wrong   Severity = "wrong"   // won't work, or is outside a rating
	Risky   Severity = "risky"   // works, without a margin that good practice keeps
	Caution Severity = "caution" // can hurt someone or something: the usual warning
	Advice  Severity = "advice"  // worth knowing before it's glued
)

// Check is one thing to know about the plan before any solder.
type Check struct {
	// Name is what it is accepted by: its kind and what it is about, unique within
	// a plan and the same as long as that is in it.
	Name     string   `json:"name"`
	Severity Severity `json:"severity"`
	Kind     string   `json:"kind"` // one of the Kind constants
	Group    string   `json:"group,omitempty"`
	Board    string   `json:"board,omitempty"`
	Output   int      `json:"output,omitempty"` // of Board, from 1; 0: of none
	Joint    string   `json:"joint,omitempty"`
	Jack     string   `json:"jack,omitempty"` // that it is about; empty: none
	Closure  string   `json:"closure,omitempty"`
	Pos      plan.Pos `json:"pos"`
	Text     string   `json:"text"`           // in plain words, with the numbers and what to do
	Value    float64  `json:"value"`          // what it stands at, in Unit
	Limit    float64  `json:"limit"`          // what it may be at most, or at least, in Unit
	Unit     string   `json:"unit,omitempty"` // V, A, W, ...; empty: it has no number
	// Instead is what to use instead (ohms of a series resistor, amps of a fuse); 0: nothing to name.
	Instead float64 `json:"instead,omitempty"`
	// Burns: something may burn, melt or be destroyed when it's powered like this.
	Burns bool `json:"burns,omitempty"`
	// Accepted is why the maker takes it as it is; empty: he doesn't.
	Accepted string `json:"accepted,omitempty"`
	// Closures that it concerns: see Concerns.
	Closures []string `json:"closures,omitempty"`
	// Cure says what to change and Fact what is so, where Text says both.
	Cure string `json:"cure,omitempty"`
	Fact string `json:"-"`

	detail string // of its name
	ret    bool   // Joint is a return
}

// What a check is about.
const (
	KindAdapter   = "adapter"
	KindRating    = "voltage rating"
	KindFarEnd    = "far end"
	KindLED       = "LED current"
	KindResistor  = "resistor heat"
	KindWire      = "wire"
	KindHold      = "in the feed" // diode, fuse, switch, plug, converter
	KindOutput    = "board output"
	KindBoard     = "board supply"
	KindFuse      = "fuse"
	KindNoLimit   = "no resistor"
	KindHeat      = "heat"
	KindFlash     = "flash rate"
	KindSource    = "source"
	KindInvisible = "can't be seen"
	KindTwins     = "twins"
	KindAsFound   = "as found"
)

// Twin is two groups whose faults can't be told apart from the jack.
type Twin struct {
	A    string `json:"a"`    // a group
	B    string `json:"b"`    // the other
	Jack string `json:"jack"` // that feeds both
	// Distance is d' between "one branch of A open" and "one branch of B open"
	// over a sweep at the jack; below 1.5 nothing decides between them.
	Distance float64  `json:"distance"`
	Text     string   `json:"text"`            // in plain words
	Cures    []string `json:"cures,omitempty"` // each would part them, in plain words
}

// Visible is what can be seen of a group with the meter of At.
type Visible struct {
	Known bool `json:"known"` // false without a meter: the rest is empty then
	// The smallest loss that can be told from healthy, 3.29 standard
	// uncertainties: against the plan, and against an as-built signature taken
	// with the same meter and with another one like it.
	PlanA        float64  `json:"plan_a"`
	AsBuiltA     float64  `json:"as_built_a"`
	OtherMeterA  float64  `json:"other_meter_a"`
	OnPlan       bool     `json:"on_plan"`          // the least branch can be seen on the plan
	OnAsBuilt    bool     `json:"on_as_built"`      // … against an as-built signature
	MaxOnPlan    int      `json:"max_on_plan"`      // so many of its least branches, no more, may be one group
	MaxOnAsBuilt int      `json:"max_on_as_built"`  // the same against an as-built signature
	Advice       []string `json:"advice,omitempty"` // what to do where a dead branch would be invisible
}

// Warning is something about the figures themselves.
type Warning struct {
	Group string `json:"group,omitempty"`
	Text  string `json:"text"` // in plain words
}

// RampPoint is the draw to be expected of a feed at one voltage on the way up.
type RampPoint struct {
	Volts    float64 `json:"volts"`     // V, at the source
	NominalA float64 `json:"nominal_a"` // highest level, every part nominal
	LowA     float64 `json:"low_a"`     // lowest level, least of the trials
	HighA    float64 `json:"high_a"`    // highest level, most of the trials: above it something is wrong
	UA       float64 `json:"u_a"`       // standard uncertainty of the highest level
}

// GroupNamed finds a group.
func (b *Budget) GroupNamed(name string) (Group, bool) {
	for _, g := range b.Groups {
		if g.Group == name {
			return g, true
		}
	}
	return Group{}, false
}

// FeedNamed finds a feed; a group on a board finds its board.
func (b *Budget) FeedNamed(name string) (Feed, bool) {
	for _, f := range b.Feeds {
		if f.Feed == name {
			return f, true
		}
	}
	if g, ok := b.GroupNamed(name); ok && g.Feed != name {
		return b.FeedNamed(g.Feed)
	}
	return Feed{}, false
}

// Levels gives the draws that a feed can show at the meter; nil where there is no such feed.
func (b *Budget) Levels(feed string) []Level {
	f, _ := b.FeedNamed(feed)
	return f.Levels
}
