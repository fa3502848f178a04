package fault

import (
	"slices"

	"sealworthy/compare/plan"
)

// SpotKind says what sort of place above the groups a resistance sits at.
type SpotKind string

// The places above the groups.
const (
	SpotJoint  SpotKind = "joint"
	SpotReturn SpotKind = "return"
	SpotBoard  SpotKind = "board wire"
	SpotJack   SpotKind = "jack"
	SpotLeads  SpotKind = "leads"
)

// Spot is a place above the groups, where a resistance is felt by all that hang on it.
type Spot struct {
	Kind SpotKind `json:"kind"`
	Name string   `json:"name"`
}

// Spots lists the places above the groups of a plan, from the bench down.
func Spots(p *plan.Plan) []Spot {
	out := []Spot{{SpotLeads, "the bench's leads"}}
	for _, j := range p.Jacks {
		out = append(out, Spot{SpotJack, j.Name})
	}
	for _, j := range p.Joints {
		out = append(out, Spot{SpotJoint, j.Name})
	}
	for _, r := range p.Returns {
		out = append(out, Spot{SpotReturn, r.Name})
	}
	for _, b := range p.Boards {
		out = append(out, Spot{SpotBoard, b.Name})
	}
	return out
}

// Feeds reports whether a group hangs on the place.
func (s Spot) Feeds(p *plan.Plan, g plan.Group) bool {
	switch s.Kind {
	case SpotLeads:
		return true
	case SpotJack:
		return p.JackOf(p.JointOf(g)) == s.Name
	case SpotBoard:
		return g.Board == s.Name
	case SpotJoint:
		return slices.Contains(Path(p, g), s.Name)
	}
	return slices.Contains(returnsOf(p, g), s.Name)
}

// Common is one thing that several groups have in common, with what its size is: ohms
// that are too many at one of several places that the same readings hang on, volts that the
// supply is off, the factor by which a meter reads or a reel's pieces draw more.
type Common struct {
	Kind  Kind    `json:"kind"`
	Spots []Spot  `json:"spots,omitempty"` // from the bench down
	Ohms  float64 `json:"ohms,omitempty"`  // at the spot
	Open  bool    `json:"open,omitempty"`  // nothing gets past it
	Volts float64 `json:"volts,omitempty"` // SupplyOff: above what is set
	Reel  string  `json:"reel,omitempty"`  // PartFigures: the reel or part
	// Factor is what MeterOff and PartFigures multiply a draw by.
	Factor float64 `json:"factor,omitempty"`
	// Lack: of each group of the reel as large a part is dark, instead.
	Lack bool `json:"lack,omitempty"`

	Shows       []string `json:"shows,omitempty"`        // groups that show it
	Against     []string `json:"against,omitempty"`      // hang on it and should show it, but don't
	CantShow    []string `json:"cant_show,omitempty"`    // hang on it, but their own doubt hides it
	NotMeasured []string `json:"not_measured,omitempty"` // hang on it, without a reading that would tell
	Besides     []string `json:"besides,omitempty"`      // off for a reason of their own
}
