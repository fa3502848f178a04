package fault

import (
	"slices"

	"sealworthy/compare/plan"
)

// Kind is one kind of what may be wrong, by its name: the only spelling of it, from
// a bench that is seeded with it to what stands in a finding.
type Kind string

// In one group.
const (
	// one branch draws nothing: a wire or solder point is off, an LED is dead
	OpenBranch  Kind = "open branch"
	DarkSegment Kind = "dark segment"          // one segment of a strip draws nothing
	ReversedLED Kind = "reversed LED"          // one LED is turned round
	ShortedLED  Kind = "shorted LED"           // one LED of a branch is bridged
	MissingOhms Kind = "missing resistor"      // a branch without its resistor
	DecadeOff   Kind = "resistor a decade off" // ten times or a tenth of the planned value
	BadJoint    Kind = "bad joint"             // ohms where there should be none, in the group's own wire
	ExtraBranch Kind = "extra branch"          // one more than planned
	Overloaded  Kind = "overloaded output"     // the board's output stays lit
	StuckDark   Kind = "stuck dark"            // the board's output never lights
	Short       Kind = "short"                 // plus and minus of the group touch

	PieceReversed Kind = "piece reversed"        // one strip or chain is joined the wrong way round
	GroupReversed Kind = "group reversed"        // the whole group is: plus and minus are swapped
	BranchJoint   Kind = "bad joint in a branch" // ohms between an LED and its resistor
	OpenWire      Kind = "open wire"             // nothing reaches the group
	StuckLit      Kind = "stuck lit"             // the board's output never goes dark
)

// Above the groups: every group behind the place feels them. They aren't among
// those of a group; several groups together show them.
const (
	UpstreamJoint Kind = "bad joint upstream" // ohms where there should be none, in the wire to a joint
	OpenJoint     Kind = "open joint"         // nothing gets past it
	BadReturn     Kind = "bad return"         // ohms in a shared way back
	OpenReturn    Kind = "open return"
	BadJack       Kind = "bad jack or leads"
	DeadBoard     Kind = "dead board" // it draws nothing at all
	BadPlug       Kind = "bad plug"   // ohms at the model's own jack
	Leak          Kind = "leak"       // between plus and minus, by dirt or damp
)

// Of the bench.
const (
	SupplyOff Kind = "supply voltage off"
	MeterOff  Kind = "meter off"
	NoContact Kind = "clip or meter fuse" // nothing flows, and the bench comes first
	MeterLead Kind = "meter lead"         // the supply gives what the meter doesn't see
)

// Of the plan rather than of the lights. A bench isn't seeded with these: it is
// built from the changed plan instead.
const (
	CountOff    Kind = "count off"        // more or fewer segments, pieces or LEDs than the plan says
	OtherPart   Kind = "another part"     // not the part that the plan says
	OtherOhms   Kind = "another resistor" // not the resistor that the plan says, in every branch of the light
	PartFigures Kind = "part's figures off"
	OffPace     Kind = "off pace"            // the board runs at another pace than planned
	SteadyPace  Kind = "board set to steady" // by its button
)

// What isn't one fault.
const (
	Nothing   Kind = "nothing wrong"
	Unknown   Kind = "unknown"
	TwoFaults Kind = "two faults"
	Changed   Kind = "changed since the stage before"
	OneOfThem Kind = "one of several" // groups or outputs that no reading parts
)

// Where says what sort of place a kind lies at.
type Where string

// The sorts of place.
const (
	InGroup  Where = "group"
	InBranch Where = "branch"
	InLED    Where = "LED"
	AtOutput Where = "output"
	AtBoard  Where = "board"
	AtJoint  Where = "joint"
	AtReturn Where = "return"
	AtJack   Where = "jack"
	OnBench  Where = "bench"
	InPlan   Where = "plan"
	Nowhere  Where = "nowhere"
)

// Effect says where a kind's effect is made.
type Effect string

// The ways in which a kind acts.
const (
	ByCircuit  Effect = "circuit"  // Apply puts it into one
	ByTime     Effect = "time"     // what an output does, not what it draws
	ByPlan     Effect = "plan"     // another plan is the right one
	ByReadings Effect = "readings" // it shifts what several readings say
	ByNone     Effect = "none"
)

// About is all that is known of one kind: a new one is a row of the table below.
type About struct {
	Kind   Kind
	At     Where // what kind of place can have it
	Effect Effect
	// Seeded: a simulated bench can have it.
	Seeded bool
	// Prior is its weight at one place before anything is measured; nil: it is
	// never weighed.
	Prior func(Priors) float64
	// Return is its weight at one place of a model that came back; nil: not looked
	// for there.
	Return func(ReturnPriors) float64
	// Dark: it puts out all lights of its group.
	Dark bool
	// Short is what it is in a few words: a light of GROUP is "…".
	Short string
}

// table holds every kind, in the order of the documentation.
var table = []About{
	{OpenBranch, InBranch, ByCircuit, true, func(p Priors) float64 { return p.Fault.OpenBranch },
		func(p ReturnPriors) float64 { return p.DarkBranch }, false, "a light dark"},
	{DarkSegment, InBranch, ByCircuit, true, func(p Priors) float64 { return p.Fault.DarkSegment }, nil, false,
		"a segment dark"},
	{ReversedLED, InLED, ByCircuit, true, func(p Priors) float64 { return p.Fault.ReversedLED }, nil, false,
		"an LED turned round"},
	{ShortedLED, InLED, ByCircuit, true, func(p Priors) float64 { return p.Fault.ShortedLED },
		func(p ReturnPriors) float64 { return p.ShortedLED }, false, "an LED bridged"},
	{MissingOhms, InBranch, ByCircuit, true, func(p Priors) float64 { return p.Fault.MissingOhms }, nil, false,
		"a resistor missing"},
	{DecadeOff, InBranch, ByCircuit, true, func(p Priors) float64 { return p.Fault.DecadeOff }, nil, false,
		"a wrong resistor"},
	{BadJoint, InGroup, ByCircuit, true, func(p Priors) float64 { return p.Fault.BadJoint },
		func(p ReturnPriors) float64 { return p.BadJoint }, false, "bad joint"},
	{ExtraBranch, InGroup, ByCircuit, true, func(p Priors) float64 { return p.Fault.ExtraBranch }, nil, false,
		"more lights than planned"},
	{Overloaded, AtOutput, ByCircuit, true, func(p Priors) float64 { return p.Fault.Overloaded }, nil, false,
		"an overloaded output"},
	{StuckDark, AtOutput, ByTime, true, func(p Priors) float64 { return p.Fault.StuckDark },
		func(p ReturnPriors) float64 { return p.StuckDark }, true, "stuck dark"},
	{Short, InGroup, ByCircuit, true, func(p Priors) float64 { return p.Fault.Short }, nil, true, "a short"},
	{PieceReversed, InGroup, ByCircuit, true, func(p Priors) float64 { return p.Fault.PieceReversed }, nil, false,
		"a piece the wrong way round"},
	{GroupReversed, InGroup, ByCircuit, true, func(p Priors) float64 { return p.Fault.GroupReversed }, nil, true,
		"plus and minus swapped"},
	{BranchJoint, InBranch, ByCircuit, false, func(p Priors) float64 { return p.Fault.BranchJoint }, nil, false,
		"a bad joint in one branch"},
	{OpenWire, InGroup, ByCircuit, false, nil, func(p ReturnPriors) float64 { return p.Dead }, true, "all dark"},
	{StuckLit, AtOutput, ByTime, false, nil, func(p ReturnPriors) float64 { return p.StuckLit }, false, "stuck lit"},

	{UpstreamJoint, AtJoint, ByCircuit, true, func(p Priors) float64 { return p.Common.Joint * (1 - p.Common.Open) },
		func(p ReturnPriors) float64 { return p.BadJoint }, false, "bad joint on the way"},
	{OpenJoint, AtJoint, ByCircuit, true, func(p Priors) float64 { return p.Common.Joint * p.Common.Open },
		func(p ReturnPriors) float64 { return p.Dead }, true, "an open joint"},
	{BadReturn, AtReturn, ByCircuit, true, func(p Priors) float64 { return p.Common.Return * (1 - p.Common.Open) },
		func(p ReturnPriors) float64 { return p.BadJoint }, false, "bad return"},
	{OpenReturn, AtReturn, ByCircuit, true, func(p Priors) float64 { return p.Common.Return * p.Common.Open },
		func(p ReturnPriors) float64 { return p.Dead }, true, "an open return"},
	{BadJack, AtJack, ByReadings, false, func(p Priors) float64 { return p.Common.Jack }, nil, false,
		"bad jack or leads"},
	{DeadBoard, AtBoard, ByReadings, false, nil, func(p ReturnPriors) float64 { return p.DeadBoard }, true,
		"dead board"},
	{BadPlug, AtJack, ByReadings, false, nil, func(p ReturnPriors) float64 { return p.BadPlug }, false, "bad plug"},
	{Leak, AtJack, ByReadings, false, nil, func(p ReturnPriors) float64 { return p.Leak }, false, "leak"},

	{SupplyOff, OnBench, ByReadings, false, func(p Priors) float64 { return p.Common.Supply }, nil, false,
		"the supply's volts wrong"},
	{MeterOff, OnBench, ByReadings, false, func(p Priors) float64 { return p.Common.Meter }, nil, false,
		"the meter reading wrong"},
	{NoContact, OnBench, ByReadings, false, nil, nil, false, "clip or meter fuse"},
	{MeterLead, OnBench, ByReadings, false, nil, nil, false, "meter lead"},

	{CountOff, InPlan, ByPlan, false, func(p Priors) float64 { return p.Plan.CountOff }, nil, false,
		"another number of lights"},
	{OtherPart, InPlan, ByPlan, false, func(p Priors) float64 { return p.Plan.OtherPart }, nil, false, "another part"},
	{OtherOhms, InPlan, ByPlan, false, func(p Priors) float64 { return p.Plan.OtherOhms }, nil, false,
		"another resistor"},
	{PartFigures, InPlan, ByReadings, false, func(p Priors) float64 { return p.Common.PartFigures }, nil, false,
		"a part's figures off"},
	{OffPace, InPlan, ByTime, false, nil, nil, false, "another pace"},
	{SteadyPace, InPlan, ByTime, false, nil, nil, false, "set to steady"},

	{Nothing, Nowhere, ByNone, false, func(p Priors) float64 { return p.None },
		func(p ReturnPriors) float64 { return p.Nothing }, false, "nothing wrong"},
	{Unknown, Nowhere, ByNone, false, func(p Priors) float64 {
		return p.Unknown
	}, func(p ReturnPriors) float64 { return p.Unknown }, false,
		"something that isn't listed"},
	{TwoFaults, Nowhere, ByNone, false, func(p Priors) float64 { return p.Two },
		func(p ReturnPriors) float64 { return p.Two }, false, "two faults"},
	{Changed, Nowhere, ByNone, false, nil, nil, false, "a change"},
	{OneOfThem, Nowhere, ByNone, false, nil, nil, false, "one of several"},
}

// AboutKind is the row of a kind; the zero About for one that isn't known.
func AboutKind(k Kind) About {
	i := slices.IndexFunc(table, func(a About) bool { return a.Kind == k })
	if i < 0 {
		return About{Kind: k}
	}
	return table[i]
}

// Kinds lists every kind that a bench can have in one group, in the order of the
// documentation; UpstreamKinds those above the groups.
func Kinds() []Kind {
	return kindsWhere(func(a About) bool { return a.Seeded && !a.above() })
}

// UpstreamKinds lists the kinds that sit at a joint or return.
func UpstreamKinds() []Kind {
	return kindsWhere(func(a About) bool { return a.Seeded && a.above() })
}

func kindsWhere(meant func(About) bool) []Kind {
	var out []Kind
	for _, a := range table {
		if meant(a) {
			out = append(out, a.Kind)
		}
	}
	return out
}

func (a About) above() bool { return a.At == AtJoint || a.At == AtReturn }

func upstream(k Kind) bool { return AboutKind(k).above() }

// OfPlan: the plan may be wrong rather than the lights, about one of them.
func (k Kind) OfPlan() bool { return AboutKind(k).Effect == ByPlan }

// Of is the weight of one fault at one place.
func (f FaultPriors) Of(k Kind) float64 {
	if a := AboutKind(k); a.Prior != nil {
		return a.Prior(Priors{Fault: f})
	}
	return f.Other
}

// inFactory is how probable it is that an LED of a ready-made strip is turned round, against one that
// a maker solders: each reel is lit before it's sold (common practice, no source).
const inFactory = 0.02

// In is the weight of one fault of a group at its own place.
func (f FaultPriors) In(g plan.Group, x Fault) float64 {
	if x.Kind == ReversedLED && x.Light < len(g.Lights) && g.Lights[x.Light].Kind == plan.Strip {
		return inFactory * f.Of(x.Kind)
	}
	return f.Of(x.Kind)
}

// Of is the weight of a kind at one place of a model that came back; 0: it isn't
// looked for there.
func (p ReturnPriors) Of(k Kind) float64 {
	if a := AboutKind(k); a.Return != nil {
		return a.Return(p)
	}
	return 0
}

// AllKinds lists every kind that there is.
func AllKinds() []Kind { return kindsWhere(func(About) bool { return true }) }
