package plan

// Plan is one model as the maker means to build it.
type Plan struct {
	Build    string `json:"build"`
	Scale    string `json:"scale,omitempty"` // as the maker writes it: "1:96"; empty: not said
	Revision string `json:"revision"`        // first 12 hex digits of SHA-256 over the file

	Jacks    []Jack    `json:"jacks"`
	Joints   []Joint   `json:"joints"`   // parents before children
	Returns  []Return  `json:"returns"`  // parents before children
	Closures []Closure `json:"closures"` // outer before inner
	Boards   []Board   `json:"boards"`   // in the order of the file
	Groups   []Group   `json:"groups"`   // in the order of the file

	Warnings []Problem `json:"warnings,omitempty"` // nothing that keeps it from being used
}

// Pos is a place in the plan file; lines and columns count from 1. The zero
// Pos is "made by the program".
type Pos struct {
	Line   int `json:"line"`   // from 1
	Column int `json:"column"` // in characters, from 1
}

// Value is a nominal value with a tolerance. HalfWidth is in the unit of
// Nominal, the limit of a rectangular distribution. Share is how much of its
// variance all pieces of one reel have in common (0 to 1).
type Value struct {
	Nominal   float64 `json:"nominal"` // in the unit of the field that holds it
	HalfWidth float64 `json:"half_width"`
	Share     float64 `json:"share"`             // 0 to 1
	Assumed   bool    `json:"assumed,omitempty"` // a default, not the maker's word
	Source    string  `json:"source,omitempty"`  // where it comes from, in words
}

// Jack is where the model is fed.
type Jack struct {
	Name      string  `json:"name"`
	Volts     float64 `json:"volts"`      // V, nominal
	LowVolts  float64 `json:"low_volts"`  // ratings must hold from here
	HighVolts float64 `json:"high_volts"` // to here
	// RangeAssumed: LowVolts and HighVolts come from the kind of source.
	RangeAssumed bool    `json:"range_assumed,omitempty"`
	Source       string  `json:"source"`         // adapter, usb, coin, battery
	AdapterAmps  float64 `json:"adapter_amps"`   // 0: not stated
	Plug         string  `json:"plug,omitempty"` // in the maker's words; empty: not said
	Pos          Pos     `json:"pos"`
}

// Wire is one length of two conductors, out and back, unless it belongs to
// something with a return of its own: then it is the plus conductor alone.
type Wire struct {
	Text     string  `json:"text"`              // as a maker would say it: "0.2 mm, 220 mm"
	LengthM  float64 `json:"length_m"`          // one way
	AreaM2   float64 `json:"area_m2"`           // copper of one conductor
	Ohms     Value   `json:"ohms"`              // of ONE conductor at 20 degC, over LengthM
	WorkAmps float64 `json:"work_amps"`         // working limit in glued plastic
	FuseAmps float64 `json:"fuse_amps"`         // where it melts in free air
	Assumed  bool    `json:"assumed,omitempty"` // some of it is a default, not the maker's word
	// SizeAssumed: nobody said how thick it is. Then it sets no limit of a test.
	SizeAssumed bool `json:"size_assumed,omitempty"`
	// LengthAssumed: nobody said how long it is.
	LengthAssumed bool `json:"length_assumed,omitempty"`
	// Colour is that of its insulation, Pin where it ends, in the maker's words.
	Colour string `json:"colour,omitempty"`
	Pin    string `json:"pin,omitempty"`
}

// HoldKind says what sits in a joint.
type HoldKind string

// What a joint can hold.
const (
	HoldDiode     HoldKind = "diode"
	HoldFuse      HoldKind = "fuse"
	HoldSwitch    HoldKind = "switch"
	HoldPlug      HoldKind = "plug"
	HoldConverter HoldKind = "converter"
)

// Hold is a thing in series with all that hangs behind its joint.
type Hold struct {
	Kind      HoldKind `json:"kind"`
	Text      string   `json:"text"`                 // as a maker would say it: "silicon diode"
	Ohms      Value    `json:"ohms"`                 // fuse, switch, plug; dynamic part of a diode
	DropVolts Value    `json:"drop_volts"`           // diode, at 20 mA
	RatedAmps float64  `json:"rated_amps,omitempty"` // fuse, switch, plug, diode; 0: not stated
	// Converter: keeps OutVolts while its input is at least MinInVolts.
	OutVolts   Value   `json:"out_volts"`
	Efficiency Value   `json:"efficiency"`             // output power over input power
	IdleAmps   Value   `json:"idle_amps"`              // drawn at its input without load
	MaxOutAmps float64 `json:"max_out_amps,omitempty"` // A; 0: not stated
	MinInVolts float64 `json:"min_in_volts,omitempty"`
	Linear     bool    `json:"linear,omitempty"` // a linear regulator: input current equals output current
	Pos        Pos     `json:"pos"`
}

// Joint is a solder point that feeds wires on.
type Joint struct {
	Name    string `json:"name"`
	From    string `json:"from"`            // a jack or another joint
	Wire    Wire   `json:"wire"`            // from there to here
	Holds   []Hold `json:"holds,omitempty"` // in series, from there to here
	Closure string `json:"closure,omitempty"`
	Pos     Pos    `json:"pos"`
}

// Return is a solder point of a minus side that is not the twin of the plus
// wires: a brass mast, one minus for several groups.
type Return struct {
	Name    string `json:"name"`
	To      string `json:"to"`   // a jack or another return
	Wire    Wire   `json:"wire"` // from here to there
	Closure string `json:"closure,omitempty"`
	Pos     Pos    `json:"pos"`
}

// Closure is a part that hides groups, joints and boards once it's glued.
type Closure struct {
	Name   string `json:"name"`
	Inside string `json:"inside,omitempty"` // it closes inside that one
	// Holds are the things that must be in it before it closes and that no test
	// shows: ticked by hand, by these names.
	Holds []string `json:"must_hold,omitempty"`
	Pos   Pos      `json:"pos"`
}

// OutputsRun says how the outputs of a board go together.
type OutputsRun string

// How the outputs of a board run.
const (
	Alternate OutputsRun = "alternate" // one lit at a time, in turn
	Together  OutputsRun = "together"
	Free      OutputsRun = "free" // unrelated
)

// Board is electronics with outputs, paces and maybe a button.
type Board struct {
	Name       string     `json:"name"`
	Part       string     `json:"part"`             // its name in the book; empty: values of its own
	Joint      string     `json:"joint"`            // a joint, or a jack
	Return     string     `json:"return,omitempty"` // empty: the twin of its plus wire
	Closure    string     `json:"closure,omitempty"`
	Wire       Wire       `json:"wire"`       // from its joint to here
	Standing   Value      `json:"standing"`   // A, drawn with every output dark
	Outputs    []Output   `json:"outputs"`    // by their numbers
	Run        OutputsRun `json:"run"`        // how the outputs go together
	Paces      []Pace     `json:"paces"`      // at least one; a board that doesn't blink has one steady pace
	Button     bool       `json:"button"`     // steps to the next pace, after the last to the first
	LowVolts   float64    `json:"low_volts"`  // works from here
	HighVolts  float64    `json:"high_volts"` // rated to here
	CapacitorF float64    `json:"capacitor_f"`
	Source     string     `json:"source"` // where its values come from, in words
	Pos        Pos        `json:"pos"`
}

// Output is one output of a board. Lit, it is OpenVolts (or the board's own
// supply voltage where FollowsSupply) behind Ohms.
type Output struct {
	Number int `json:"number"` // from 1
	// its open voltage is the board's own supply voltage
	FollowsSupply bool    `json:"follows_supply"`
	OpenVolts     Value   `json:"open_volts"` // unused where FollowsSupply
	Ohms          Value   `json:"ohms"`       // behind the voltage
	MaxAmps       float64 `json:"max_amps"`   // above this it stays lit
}

// Pace is what a board's outputs do in time. Steady: PeriodS is 0.
// Flashes, when given, are alternating lit and dark times in seconds that add
// up to PeriodS; otherwise the output is lit for Duty of each period.
type Pace struct {
	Name    string  `json:"name"`
	PeriodS float64 `json:"period_s"`
	Duty    float64 `json:"duty"` // the part of PeriodS in which it is lit, 0 to 1
	// s, lit and dark in turn; empty: Duty says it
	Flashes      []float64 `json:"flashes,omitempty"`
	PeriodRelTol float64   `json:"period_rel_tol"` // half-width, fraction
	DutyTol      float64   `json:"duty_tol"`       // half-width, absolute
	Pos          Pos       `json:"pos"`
}

// Group is lights that are judged together.
type Group struct {
	Name    string  `json:"name"`
	Closure string  `json:"closure"`
	Joint   string  `json:"joint,omitempty"`    // a joint, or a jack; empty when a board feeds it
	Board   string  `json:"board,omitempty"`    // empty when a joint feeds it
	Output  int     `json:"output,omitempty"`   // of the board
	Return  string  `json:"return,omitempty"`   // a return, or empty: the twin of its plus wire
	Wire    Wire    `json:"wire"`               // from its joint or board to here
	Lights  []Light `json:"lights"`             // all of them in parallel; empty where AsFound
	AsFound bool    `json:"as_found,omitempty"` // no plan of it: no band, a baseline only
	// Sealed: a wire that is sealed in for a part still to come. Its Lights are what
	// is clipped across its end for the test, and for that alone: see TestLoadText.
	Sealed bool   `json:"sealed_wire,omitempty"`
	See    string `json:"see,omitempty"` // what the maker should see, in the maker's words
	Pos    Pos    `json:"pos"`
}

// LightKind says how a light is built.
type LightKind string

// The kinds of light.
const (
	Strip    LightKind = "strip"    // Segments equal segments, each LEDs in series with Ohms
	SMD      LightKind = "smd"      // pre-resistored: LEDs in series with Ohms inside the part
	LEDs     LightKind = "leds"     // LEDs in series with the maker's own resistor
	Envelope LightKind = "envelope" // flicker, sound, motor, pixels: judged on an envelope
	// TestLoad is a resistor of Ohms that is clipped across the end of a sealed wire.
	TestLoad LightKind = "test load"
)

// Light is Count equal pieces in parallel. Its branches: Count for SMD and
// LEDs, Count x Segments for a strip, one for an envelope.
type Light struct {
	Part     string    `json:"part"` // its name in the book; empty: values of its own
	Kind     LightKind `json:"kind"`
	Count    int       `json:"count"`              // pieces in parallel
	Segments int       `json:"segments,omitempty"` // of a strip
	Series   []LED     `json:"series,omitempty"`   // LEDs of one branch, in series, plus side first
	Ohms     Value     `json:"ohms"`               // of one branch; 0 nominal: no resistor
	// CopperOhms lies between one strip segment and the next, both conductors.
	CopperOhms Value `json:"copper_ohms"`
	// Regulator holds the current of each branch, in place of a resistor; zero: none.
	Regulator Regulator `json:"regulator,omitzero"`
	// BranchSpread is what branches of the part differ by on top of LEDs and
	// resistors, as half-width fraction of the branch's current with its share:
	// the honest spread of strips and pre-resistored parts.
	BranchSpread Value   `json:"branch_spread"`         // Nominal 1
	Reel         string  `json:"reel"`                  // pieces with the same reel share deviations
	RatedVolts   float64 `json:"rated_volts,omitempty"` // strips and SMDs
	OhmsWatts    float64 `json:"ohms_watts,omitempty"`  // rating of the resistor; 0: not stated
	// of a load without a pace; nil: it isn't one
	Envelope *Draw  `json:"envelope,omitempty"`
	Source   string `json:"source,omitempty"` // where its values come from, in words
	Pos      Pos    `json:"pos"`
}

// Regulator is what holds the current of a branch, in series with its LEDs.
type Regulator struct {
	Amps      float64 `json:"amps"`       // that it holds
	HoldVolts float64 `json:"hold_volts"` // V across it alone, from which it does
}

// Held reports that a regulator holds the current of each branch.
func (l Light) Held() bool { return l.Regulator.Amps > 0 }

// HoldVolts is the voltage of a branch from which its regulator holds, V, with
// typical LEDs; 0 without a regulator.
func (l Light) HoldVolts() float64 {
	if !l.Held() {
		return 0
	}
	v := l.Regulator.HoldVolts
	for _, d := range l.Series {
		v += d.Volts.Nominal
	}
	return v
}

// Branches is the number of parallel branches of a light.
func (l Light) Branches() int {
	switch l.Kind {
	case Strip:
		return l.Count * l.Segments
	case Envelope:
		return 1
	}
	return l.Count
}

// LED is one diode of a branch.
type LED struct {
	Part   string `json:"part"`   // its name in the book
	Colour string `json:"colour"` // as the part says; empty: it doesn't
	// Points are volts at amps of a typical piece at 25 degC, rising; one to many.
	Points []VoltsAtAmps `json:"points"`
	// Volts is the spread of the forward voltage: Nominal is the voltage at the
	// last point, HalfWidth in volts.
	Volts       Value   `json:"volts"`
	TempcoVPerK float64 `json:"tempco_v_per_k"`              // negative
	MaxAmps     float64 `json:"max_amps"`                    // rating, steady; 0: not stated
	Conducts    bool    `json:"conducts_reversed,omitempty"` // a protection diode lies across it
	Source      string  `json:"source,omitempty"`            // where its values come from, in words
}

// VoltsAtAmps is one point of a part's curve.
type VoltsAtAmps struct {
	Volts float64 `json:"volts"` // V, forward
	Amps  float64 `json:"amps"`  // A, through it
}

// Draw is the envelope of a load without a pace, in a named state.
type Draw struct {
	Behaves  string  `json:"behaves"` // flicker, welding, sound, motor, dimmer, pixels
	State    string  `json:"state"`   // in the maker's words: "idle", "full sound"
	LowAmps  float64 `json:"low_amps"`
	MeanAmps float64 `json:"mean_amps"`
	HighAmps float64 `json:"high_amps"`
}

// Problem is one thing wrong in a plan, or worth a warning.
type Problem struct {
	File    string `json:"file"` // as it was given to Parse
	Pos     Pos    `json:"pos"`
	Text    string `json:"text"`              // the line as it stands in the file
	What    string `json:"what"`              // what is wrong
	Instead string `json:"instead,omitempty"` // what to write instead
}
