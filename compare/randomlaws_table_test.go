package compare_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// count is how often of how many.
type count struct{ n, of int }

// atMost is the upper 95 % bound of a rate (Clopper and Pearson): a zero is
// printed as this.
func (c count) atMost() float64 {
	if c.n >= c.of {
		return 1
	}
	return distuv.Beta{Alpha: float64(c.n + 1), Beta: float64(c.of - c.n)}.Quantile(0.95)
}

// atLeast is the lower 95 % bound.
func (c count) atLeast() float64 {
	if c.n <= 0 {
		return 0
	}
	return distuv.Beta{Alpha: float64(c.n), Beta: float64(c.of - c.n + 1)}.Quantile(0.05)
}

func (c count) String() string {
	if c.of == 0 {
		return "-"
	}
	return fmt.Sprintf("%d/%d %.1f..%.1f%%", c.n, c.of, 100*c.atLeast(), 100*c.atMost())
}

// aim is the rate that a row should have. A row that is held fails the test where
// more than that can't be chance: one time in a thousand, all of them together.
type aim struct {
	row    string
	rate   float64
	least  bool // the rate is the least, not the most
	held   bool
	spread bool // held with spreads twice as wide as stated, too
}

var aims = []aim{
	{row: rowWrong, rate: 0.005},
	{row: passedRow(0), rate: 1},
	{row: passedRow(1), rate: 0.05, held: true, spread: true},
	{row: passedRow(2), rate: 0.05, held: true, spread: true},
	{row: passedRow(3), rate: 0.05, held: true, spread: true},
	{row: passedRow(4), rate: 0.0035, held: true, spread: true},
	{row: passedRow(5), rate: 1e-5, held: true, spread: true},
	{row: rowTiny, rate: 0.01},
	{row: rowSure, rate: 0.98, least: true},
	{row: rowCause, rate: 0.98, least: true},
	{row: rowBand, rate: 0.94, least: true},
	{row: rowUntold, rate: 0.08},
	{row: whyTolerance, rate: 1},
	{row: whyBoard, rate: 1},
	{row: whyLimit, rate: 1},
	{row: whyUnread, rate: 1},
	{row: rowInTurn, rate: 0.1},
	{row: rowLooked, rate: 0.02},
	{row: afterLook(whyTolerance), rate: 1},
	{row: afterLook(whyBoard), rate: 1},
	{row: afterLook(whyLimit), rate: 1},
	{row: rowUnknown, rate: 1},
}

// falseFailure is how often a right program may fail a whole run.
const falseFailure = 1e-3

// most is the largest count of misses that may be chance at the rate, and how
// often twice the rate would be seen.
func (a aim) most(of int, tests float64) (misses int, power float64) {
	rate := a.rate
	if a.least {
		rate = 1 - a.rate
	}
	b := distuv.Binomial{N: float64(of), P: rate}
	for misses < of && b.CDF(float64(misses)) < 1-falseFailure/tests {
		misses++
	}
	return misses, 1 - distuv.Binomial{N: float64(of), P: math.Min(1, 2*rate)}.CDF(float64(misses))
}

func printLaws(t *testing.T, all []*lawTally) {
	var s strings.Builder
	fmt.Fprintf(&s, "\nn/N with 95 %% bounds%-18s", "")
	for i := range all {
		fmt.Fprintf(&s, "%24s", ways[i].name)
	}
	fmt.Fprintf(&s, "%10s\n%-38s", "to reach", "builds")
	for _, c := range all {
		fmt.Fprintf(&s, "%24d", c.builds)
	}
	for _, a := range aims {
		fmt.Fprintf(&s, "\n%-38s", a.row)
		for _, c := range all {
			fmt.Fprintf(&s, "%24s", c.rows[a.row])
		}
		switch {
		case a.rate == 1:
		case a.least:
			fmt.Fprintf(&s, "   ≥ %.3g %%", 100*a.rate)
		default:
			fmt.Fprintf(&s, "   ≤ %.3g %%", 100*a.rate)
		}
	}
	fmt.Fprintf(&s, "\n%-38s", "  one reading each would leave")
	for _, c := range all {
		fmt.Fprintf(&s, "%24.1f", c.hides)
	}
	t.Log(s.String())
	for i, c := range all {
		c.calibration(t, ways[i].name)
		for _, x := range c.odd {
			t.Logf("%s: %s", ways[i].name, x)
		}
	}
}

// calibration prints the sum of what was said against the count, by bins, with
// the interval of their difference from builds resampled whole: 99 % over all
// bins of 200 or more together.
func (c *lawTally) calibration(t *testing.T, name string) {
	bins := len(sayings) - 1
	bin := func(p float64) int { return sort.SearchFloat64s(sayings[1:], math.Nextafter(p, 2)) }
	type sum struct{ said, healthy, n float64 }
	byBuild := make([][]sum, c.builds)
	total := make([]sum, bins)
	for i := range byBuild {
		byBuild[i] = make([]sum, bins)
	}
	for _, x := range c.said {
		for _, to := range []*sum{&byBuild[x.build][bin(x.p)], &total[bin(x.p)]} {
			to.said += x.p
			to.n++
			if x.healthy {
				to.healthy++
			}
		}
	}
	large := 0.0
	for _, x := range total {
		if x.n >= 200 {
			large++
		}
	}
	const times = 4000
	r := rand.New(rand.NewPCG(1, 0xb007))
	off := make([][]float64, bins)
	for range times {
		again := make([]float64, bins)
		for range c.builds {
			for k, x := range byBuild[r.IntN(c.builds)] {
				again[k] += x.healthy - x.said
			}
		}
		for k := range off {
			off[k] = append(off[k], again[k])
		}
	}
	var s strings.Builder
	fmt.Fprintf(&s, "%s: healthy, said and counted", name)
	for k, x := range total {
		if x.n == 0 {
			continue
		}
		sort.Float64s(off[k])
		tail := 0.005 / math.Max(1, large)
		low, high := off[k][int(tail*times)], off[k][times-1-int(tail*times)]
		mark := ""
		if x.n >= 200 && (low > 0 || high < 0) {
			mark = "  off"
		}
		fmt.Fprintf(&s, "\n  %.3g to %.3g: said %.1f, counted %.0f of %.0f; counted less said %.1f to %.1f%s",
			sayings[k], math.Min(1, sayings[k+1]), x.said, x.healthy, x.n, low, high, mark)
	}
	t.Log(s.String())
}

// check holds the rows that are held.
func (c *lawTally) check(t *testing.T, way int) {
	wide := ways[way].how.wider > 0
	tests := 0.0
	for _, a := range aims {
		if a.held {
			tests += float64(len(ways))
		}
	}
	for _, a := range aims {
		if !a.held || wide && !a.spread {
			continue
		}
		x := c.rows[a.row]
		misses := x.n
		if a.least {
			misses = x.of - x.n
		}
		most, power := a.most(x.of, tests)
		if os.Getenv("SEALWORTHY_LONG") != "" {
			t.Logf("%s, %s: %d of %d, at most %d by chance; twice the rate is seen %.0f times in 100", ways[way].name,
				a.row, misses, x.of, most, 100*power)
		}
		if misses > most {
			t.Errorf("%s, %s: %d of %d, more than %d can't be chance at %.2g", ways[way].name, a.row, misses, x.of,
				most, a.rate)
		}
	}
}
