package reel

import (
	"math"
	"slices"

	"sealworthy/compare/wiring"
)

// prior is the standard deviation of a common factor of which nothing is
// known: rectangular from -1 to 1.
var prior = 1 / math.Sqrt(3)

// Learned is what is known of reels. It doesn't change once made. A nil
// *Learned knows nothing and is of use everywhere.
type Learned struct {
	Build   string   `json:"build"`
	Day     string   `json:"day,omitempty"` // 2026-11-25; the caller's
	Factors []Factor `json:"factors"`
	// Covariance of the factors' c, by their order.
	Covariance [][]float64 `json:"covariance"`
	Reels      []Reel      `json:"reels"` // of lights, as they are shown
	LeftOut    []Left      `json:"left_out,omitempty"`

	// bench is what was learned of meter, supply and room along with it; nil once
	// it was kept in a file: another bench may stand there then.
	bench *bench
}

// Factor is what was learned of one reel-common factor.
type Factor struct {
	wiring.Factor
	// HalfWidth is that of the plan it was learned with: of BranchSpread a
	// fraction, of a resistor a fraction of its nominal, else in the unit of the kind.
	HalfWidth float64 `json:"half_width"`
	Share     float64 `json:"share"` // planned
	// CommonShare and OwnShare replace the planned one: a draw is
	// HalfWidth*(sqrt(CommonShare)*c + sqrt(1-OwnShare)*e). OwnShare is the lower,
	// by the doubt that is left about the share.
	CommonShare float64 `json:"common_share"`
	OwnShare    float64 `json:"own_share"`
	// Mean and SD of c; 0 and 0.577 before anything is known.
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"`
}

// Reel is what was learned of the pieces of one reel, in words that a maker knows.
type Reel struct {
	Reel   string   `json:"reel"`
	Parts  []string `json:"parts"`
	Groups []string `json:"groups"` // learned from
	// Rel is by how much the pieces draw more than planned (less: negative), a
	// fraction; U its standard uncertainty.
	Rel   float64 `json:"rel"`
	U     float64 `json:"u"`
	Share Share   `json:"share"`
	// Beyond: the pieces lie further off than their tolerance lets a whole reel
	// lie. Groups that all lack a light would look so, too.
	Beyond bool `json:"beyond,omitempty"`
}

// Share is what is known of the share of one reel.
type Share struct {
	Planned   float64 `json:"planned"`
	Best      float64 `json:"best"`
	U         float64 `json:"u"`   // standard uncertainty
	Own       float64 `json:"own"` // the low end, taken for what pieces differ by
	Groups    int     `json:"groups"`
	Estimated bool    `json:"estimated"` // from the groups; false: planned, with its doubt
	Certain   bool    `json:"certain,omitempty"`
}

// bench is the joint distribution with what the readings share besides reels:
// standard normal before the first reading.
type bench struct {
	gains       []string // meters, in the order of their states
	mean        []float64
	cov         [][]float64 // factors first, then gains, then volts, temperature, leads
	setHalfV    float64
	tempHalfC   float64
	seriesHalfO float64
}

// index finds a factor; -1.
func (l *Learned) index(k wiring.Factor) int {
	if l == nil {
		return -1
	}
	return slices.IndexFunc(l.Factors, func(f Factor) bool { return f.Factor == k })
}

// Common gives mean and standard deviation of a common factor's c: 0 and
// 1/sqrt(3) where nothing was learned of it.
func (l *Learned) Common(k wiring.Factor) (mean, sd float64) {
	if i := l.index(k); i >= 0 {
		return l.Factors[i].Mean, l.Factors[i].SD
	}
	return 0, prior
}

// Shares lists what is known of the shares, by reel.
func (l *Learned) Shares() map[string]Share {
	out := map[string]Share{}
	if l != nil {
		for _, r := range l.Reels {
			out[r.Reel] = r.Share
		}
	}
	return out
}

// Empty reports whether nothing was learned.
func (l *Learned) Empty() bool { return l == nil || len(l.Factors) == 0 }
