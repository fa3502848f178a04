package reel

import (
	"fmt"
	"math"
	"strings"
)

// Text is what was learned, a line for each reel and one for its share, as a
// maker reads it. The band holds 95 of 100.
func (l *Learned) Text() []string {
	if l == nil {
		return nil
	}
	var out []string
	for _, r := range l.Reels {
		out = append(out, r.Text())
		if r.Beyond {
			out = append(out, "  that is more than its tolerance allows: is it another part than planned, or are all of its groups wrong alike? Look at one of them lit")
		}
		if t := r.Share.Text(); t != "" {
			out = append(out, "  "+t)
		}
	}
	for _, x := range l.LeftOut {
		out = append(out, fmt.Sprintf("not learned from %s: %s", x.Group, x.Why))
	}
	return out
}

// Text says what a reel draws: "strip warm 60/m: this reel draws 4 % less than
// its data sheet (±1 %), learned from: cabin windows, bridge, saloon".
func (r Reel) Text() string {
	band := percent(1.96 * r.U)
	draws := "draws what its data sheet says"
	if math.Abs(r.Rel) >= r.U/2 && percentOf(r.Rel, r.U) != "0" {
		than := "more"
		if r.Rel < 0 {
			than = "less"
		}
		draws = fmt.Sprintf("draws %s %% %s than its data sheet", percentOf(r.Rel, r.U), than)
	}
	return fmt.Sprintf("%s: this reel %s (±%s %%), learned from: %s", r.Reel, draws, band, strings.Join(r.Groups, ", "))
}

// Text says how much of their deviation the pieces share; "" where that is
// certain.
func (s Share) Text() string {
	if s.Certain {
		return ""
	}
	if !s.Estimated {
		return fmt.Sprintf("how much its pieces differ is taken from the plan until %d groups are measured; %d so far", leastGroups, s.Groups)
	}
	low, high := math.Max(0, s.Best-1.96*s.U), math.Min(1, s.Best+1.96*s.U)
	how := "as much as planned"
	switch {
	case low > s.Planned:
		how = "less than planned"
	case high < s.Planned:
		how = "more than planned"
	}
	return fmt.Sprintf("its pieces differ %s: they share %.0f %% of their spread (%.0f to %.0f %%; planned %.0f %%), from %d groups",
		how, 100*s.Best, 100*low, 100*high, 100*s.Planned, s.Groups)
}

// percent writes an uncertainty in per cent: two digits below ten, none after.
func percent(x float64) string {
	x *= 100
	switch {
	case x < 0.995:
		return fmt.Sprintf("%.2g", x)
	case x < 9.95:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.0f", x)
}

// percentOf writes a size in per cent with the digits that its uncertainty leaves.
func percentOf(x, u float64) string {
	x, u = math.Abs(100*x), 1.96*100*u
	switch {
	case u < 0.995:
		return fmt.Sprintf("%.1f", x)
	default:
		return fmt.Sprintf("%.0f", x)
	}
}
