package returns

import (
	"time"

	"sealworthy/compare/blink"
	"sealworthy/instruments"
)

// Signature is what a model drew when it left.
type Signature struct {
	Build        string    `json:"build"`
	PlanRevision string    `json:"plan_revision"`       // of the plan as it was then
	TakenAt      time.Time `json:"taken_at"`            // when it was made from the record
	Simulated    bool      `json:"simulated,omitempty"` // some of it is of a simulated bench
	Jack         string    `json:"jack"`                // that it was measured at, by its name in the plan
	// AmbientC is the room when the whole model was measured, nil: unknown.
	AmbientC *float64 `json:"ambient_c,omitempty"`
	// WarmS is how long it had been on before the sweep, s.
	WarmS       float64                            `json:"warm_s"`
	Instruments map[string]instruments.Description `json:"instruments,omitempty"` // of the whole model's sweep

	Groups []GroupCurve `json:"groups"`           // in the order of the plan
	Boards []BoardCurve `json:"boards,omitempty"` // in the order of the plan
	Whole  []Whole      `json:"whole,omitempty"`  // one for each pace; the first is that of power-on
	Twins  []Twin       `json:"twins,omitempty"`
	// Resistor was read in the model's place, by what read the whole model; nil: none was.
	Resistor *Resistor `json:"resistor,omitempty"`
	Notes    []string  `json:"notes,omitempty"` // what wasn't kept, and why
}

// Curve is a draw over voltage. Volts rise.
type Curve struct {
	Volts []float64 `json:"volts"` // at the model, meter and leads taken off
	Amps  []float64 `json:"amps"`  // one for each of Volts, their mean
	// U is the standard uncertainty of each mean by scatter alone, A; may be nil.
	U []float64 `json:"u,omitempty"`
}

// GroupCurve is one group as built.
type GroupCurve struct {
	Group   string `json:"group"`
	Closure string `json:"closure,omitempty"`
	Board   string `json:"board,omitempty"`
	Output  int    `json:"output,omitempty"` // of its board, from 1; 0: no board
	// Lit is its draw while lit; for a group on a board what its output adds.
	Lit Curve `json:"lit"`
	// Kept says what of it was kept: alone, at one voltage only, not at all.
	Kept  Kept    `json:"kept"`
	Paces []Level `json:"paces,omitempty"` // of its board; empty: it doesn't blink
}

// Kept says how much of a group a signature holds. The zero Kept is "nothing".
type Kept string

// How much can be kept.
const (
	KeptNothing Kept = ""
	KeptSweep   Kept = "its sweep"
	KeptLevels  Kept = "its levels at some voltages"
	KeptOne     Kept = "its draw at one voltage"
)

// Level is how a group on a board blinks at one pace, as built.
type Level struct {
	Pace    string  `json:"pace"`
	PeriodS float64 `json:"period_s"` // 0: steady
	Duty    float64 `json:"duty"`     // the part of a period in which it is lit, 0 to 1
	OnA     float64 `json:"on_a"`     // added while lit
	OnU     float64 `json:"on_u"`
}

// BoardCurve is one board as built, with every output dark.
type BoardCurve struct {
	Board string `json:"board"`
	Dark  Curve  `json:"dark"` // every output dark
}

// Whole is the whole model at its jack at one pace of its boards.
type Whole struct {
	Pace    string         `json:"pace"`  // "beacon: blink"; empty: no board
	Sweep   Curve          `json:"sweep"` // the mean draw over voltage
	DwellS  float64        `json:"dwell_s"`
	Trace   []blink.Sample `json:"trace,omitempty"` // at service voltage; times from its first reading
	WindowS float64        `json:"window_s,omitempty"`
	Volts   float64        `json:"volts,omitempty"` // at the model during the trace
}

// Twin is two groups whose faults look the same from the jack.
type Twin struct {
	A        string  `json:"a"`        // a group
	B        string  `json:"b"`        // the other
	Distance float64 `json:"distance"` // d' of one branch open in A or in B; below 1.5 nothing decides
}

// Group finds a group.
func (s *Signature) Group(name string) (GroupCurve, bool) {
	for _, g := range s.Groups {
		if g.Group == name {
			return g, true
		}
	}
	return GroupCurve{}, false
}

// board finds a board.
func (s *Signature) board(name string) (BoardCurve, bool) {
	for _, b := range s.Boards {
		if b.Board == name {
			return b, true
		}
	}
	return BoardCurve{}, false
}

// level gives how a group blinks at a pace; empty: the first that is kept.
func (g GroupCurve) level(pace string) (Level, bool) {
	for _, l := range g.Paces {
		if pace == "" || l.Pace == pace {
			return l, true
		}
	}
	return Level{}, false
}
