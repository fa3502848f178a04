package compare

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"sealworthy/capture"
	"sealworthy/compare/belief"
)

// GroupYears is what a group drew, each time that it was measured by itself, over stages
// and years.
type GroupYears struct {
	Group  string       `json:"group"` // its name in the plan
	Pace   string       `json:"pace,omitempty"`
	Points []YearsPoint `json:"points"` // in the order of the record
}

// YearsPoint is one measurement of a group.
type YearsPoint struct {
	At        time.Time     `json:"at"`
	Stage     string        `json:"stage"`
	Order     capture.Order `json:"order"` // where it stands in the record
	Verdict   Verdict       `json:"verdict"`
	MeasuredA float64       `json:"measured_a"`
	MeasuredU float64       `json:"measured_u"` // standard uncertainty
	ExpectedA float64       `json:"expected_a"` // under the conditions of this measurement
	// Rel is the draw against the first one, what another voltage, room or meter changes
	// taken off; 1 for the first. RelU is its standard uncertainty; of the first its own.
	Rel  float64 `json:"rel"`
	RelU float64 `json:"rel_u"`
	// Changed: it differs from the first for sure, by the guard of the decision rule.
	Changed   bool `json:"changed"`
	Simulated bool `json:"simulated"` // a simulated bench read it
}

// Years gives what each group drew over stages and years, in the order of the plan. Only
// figures of the group alone are compared.
func (j *Judge) Years(h History) ([]GroupYears, error) {
	all := map[string]*GroupYears{}
	figures := map[string]string{}
	for _, r := range h.Steps {
		fs, err := j.Step(r)
		if err != nil {
			return nil, err
		}
		for _, f := range fs {
			k := f.Group + "\x00" + f.Pace
			if f.Readings == 0 || f.Unread || !(f.MeasuredA > 0) || f.Way == string(capture.Joined) ||
				math.IsInf(f.MeasuredU, 0) {
				continue
			}
			if of, ok := figures[k]; ok && of != f.FiguresOf {
				continue // of a group, then of a whole board: nothing to compare
			}
			figures[k] = f.FiguresOf
			if all[k] == nil {
				all[k] = &GroupYears{Group: f.Group, Pace: f.Pace}
			}
			all[k].add(f, r.EndedAt, j.Rule.K)
		}
	}
	out := []GroupYears{}
	for _, g := range j.Expected.Plan.Groups {
		for _, pace := range pacesOf(j.Expected.Plan, g) {
			if x := all[g.Name+"\x00"+pace]; x != nil {
				out = append(out, *x)
			}
		}
	}
	return out, nil
}

func (g *GroupYears) add(f Finding, at capture.Order, k float64) {
	p := YearsPoint{At: f.At, Stage: f.Stage, Order: at, Verdict: f.Verdict, MeasuredA: f.MeasuredA,
		MeasuredU: f.MeasuredU,
		ExpectedA: f.ExpectedA, Rel: 1, RelU: f.MeasuredU / f.MeasuredA, Simulated: f.Simulated}
	if len(g.Points) > 0 {
		first := g.Points[0]
		p.Rel = p.MeasuredA / first.MeasuredA
		if p.ExpectedA > 0 && first.ExpectedA > 0 {
			p.Rel *= first.ExpectedA / p.ExpectedA
		}
		p.RelU = p.Rel * math.Hypot(p.MeasuredU/p.MeasuredA, first.RelU)
		p.Changed = math.Abs(p.Rel-1) > k*p.RelU
	}
	g.Points = append(g.Points, p)
}

// ReelYears is what a reel drew against the maker's part book, over builds.
type ReelYears struct {
	Reel   string      `json:"reel"`   // as the plans call it
	Parts  []string    `json:"parts"`  // of the plan that are of this reel
	Points []ReelPoint `json:"points"` // in the order of time
	// Rel is the mean of the points, each by its weight: by how much the reel draws more
	// than the book says (less: negative), a fraction; U its standard uncertainty.
	Rel float64 `json:"rel"`
	U   float64 `json:"u"` // of Rel
	// Off: it differs from the book for sure. Drifts: two builds differ for sure. Fails:
	// how many groups that have it didn't pass.
	Off    bool `json:"off"`
	Drifts bool `json:"drifts"`
	Fails  int  `json:"fails"`
}

// ReelPoint is a reel in one build.
type ReelPoint struct {
	Build  string    `json:"build"`
	At     time.Time `json:"at"`     // of the latest measurement of its groups
	Groups []string  `json:"groups"` // that have pieces of it
	Failed []string  `json:"failed"` // of the groups
	Rel    float64   `json:"rel"`    // as in ReelYears, of this build alone
	U      float64   `json:"u"`      // its standard uncertainty
	Beyond bool      `json:"beyond"` // further off than its tolerance lets it lie

	Simulated bool `json:"simulated"` // a simulated bench read some of it
}

// ReelPoints makes the points of one build from what its groups tell of their reels, and
// from its findings.
func ReelPoints(build string, reels []belief.Reel, fs []Finding) map[string]ReelPoint {
	out := map[string]ReelPoint{}
	for _, r := range reels {
		p := ReelPoint{Build: build, Groups: r.Groups, Failed: []string{}, Rel: r.Rel, U: r.U, Beyond: r.Beyond}
		for _, f := range fs {
			if !slices.Contains(r.Groups, f.Group) {
				continue
			}
			if f.At.After(p.At) {
				p.At = f.At
			}
			p.Simulated = p.Simulated || f.Simulated
			if fails(f.Verdict) && !slices.Contains(p.Failed, f.Group) {
				p.Failed = append(p.Failed, f.Group)
			}
		}
		if p.U > 0 && !math.IsInf(p.U, 0) {
			out[r.Reel] = p
		}
	}
	return out
}

// Says names what is wrong with the reel; nothing where it is as the book says.
func (y ReelYears) Says() (out []string) {
	if y.Off {
		out = append(out, "off")
	}
	if y.Drifts {
		out = append(out, "drifts")
	}
	switch {
	case y.Fails == 1:
		out = append(out, "1 group failed")
	case y.Fails > 1:
		out = append(out, fmt.Sprintf("%d groups failed", y.Fails))
	}
	return out
}

// Add takes another build's point.
func (y *ReelYears) Add(p ReelPoint, parts []string, k float64) {
	for _, x := range parts {
		if !slices.Contains(y.Parts, x) {
			y.Parts = append(y.Parts, x)
		}
	}
	y.Points = append(y.Points, p)
	slices.SortStableFunc(y.Points, func(a, b ReelPoint) int { return a.At.Compare(b.At) })
	weight, sum := 0.0, 0.0
	y.Fails, y.Drifts = 0, false
	between := oneOf(k, len(y.Points)*(len(y.Points)-1)/2)
	for i, a := range y.Points {
		weight, sum = weight+1/(a.U*a.U), sum+a.Rel/(a.U*a.U)
		y.Fails += len(a.Failed)
		for _, b := range y.Points[:i] {
			y.Drifts = y.Drifts || math.Abs(a.Rel-b.Rel) > between*math.Hypot(a.U, b.U)
		}
	}
	y.Rel, y.U = sum/weight, 1/math.Sqrt(weight)
	y.Off = math.Abs(y.Rel) > k*y.U
}

// oneOf is the guard of each of n comparisons that leaves all of them together as many false
// alarms as k leaves one: a part of 1/n each (Bonferroni's inequality). By k alone two of
// thirty builds differed "for sure" in one shop of five whose reel was as it ever was.
func oneOf(k float64, n int) float64 {
	if n < 2 {
		return k
	}
	return -distuv.UnitNormal.Quantile(distuv.UnitNormal.Survival(k) / float64(n))
}
