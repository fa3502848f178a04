package fault

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/plan"
)

// finder makes the suspects of one group.
type finder struct {
	p   *plan.Plan
	src []byte
	o   plan.Options
	gi  int
	pr  PlanPriors
}

func (f finder) path(li int, key string) string {
	return fmt.Sprintf(`group."%s".lights[%d].%s`, f.p.Groups[f.gi].Name, li, key)
}

// altered is the plan with a change to one light of a copy.
func (f finder) altered(li int, alter func(*plan.Light)) *plan.Plan {
	q := *f.p
	q.Groups = slices.Clone(f.p.Groups)
	g := &q.Groups[f.gi]
	g.Lights = slices.Clone(g.Lights)
	g.Lights[li].Series = slices.Clone(g.Lights[li].Series)
	alter(&g.Lights[li])
	return &q
}

// draws is all of a light that decides what it draws, as a key.
func draws(l plan.Light) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d %d %g", l.Count, l.Segments, l.Ohms.Nominal)
	for _, x := range l.Series {
		fmt.Fprint(&b, x.Points)
	}
	return b.String()
}

// countWeights is how likely a count that is off is off by one, two or three,
// either way each: common practice, no source.
var countWeights = []float64{.4, .08, .02}

// counts lists the counts of a light that may be off.
func (f finder) counts(li int) []Suspect {
	l := f.p.Groups[f.gi].Lights[li]
	type step struct {
		key    string
		now    int
		what   string
		by     int
		weight float64
		alter  func(*plan.Light, int)
	}
	var steps []step
	add := func(key, what string, now, most int, weight float64, alter func(*plan.Light, int)) {
		for k := 1; k <= min(most, len(countWeights)); k++ {
			for _, by := range []int{-k, k} {
				if now+by < 1 {
					continue
				}
				steps = append(steps, step{key, now, what, by, weight * countWeights[k-1], alter})
			}
		}
	}
	// Long rows are miscounted by more than one.
	most := func(n int) int {
		switch {
		case n >= 10:
			return 3
		case n >= 4:
			return 2
		}
		return 1
	}
	count := func(l *plan.Light, n int) { l.Count = n }
	switch {
	case l.Kind == plan.Strip:
		add("segments", "segment", l.Segments, most(l.Segments), 1, func(l *plan.Light, n int) { l.Segments = n })
		if l.Count > 1 {
			add("count", "strip", l.Count, 1, .3, count)
		}
	case l.Kind == plan.LEDs && len(l.Series) > 1:
		add("count", rowOf(len(l.Series)), l.Count, most(l.Count), 1, count)
		if same(l.Series) {
			add("in_series", "LED in series", len(l.Series), 1, .3, func(l *plan.Light, n int) {
				for len(l.Series) < n {
					l.Series = append(l.Series, l.Series[0])
				}
				l.Series = l.Series[:n]
			})
		}
	default:
		add("count", "piece", l.Count, most(l.Count), 1, count)
	}
	var out []Suspect
	for _, s := range steps {
		n := s.now + s.by
		out = append(out,
			Suspect{Kind: CountOff, Group: f.p.Groups[f.gi].Name, Light: li, Path: f.path(li, s.key), Value: n,
				Was: counted(s.now, s.what, l), Is: fmt.Sprint(n), Prior: f.pr.CountOff * s.weight,
				What: countedAs(s.what), Planned: s.now, Counted: n,
				Plan: f.altered(li, func(l *plan.Light) { s.alter(l, n) })})
	}
	return out
}

func same(s []plan.LED) bool {
	for _, x := range s {
		if x.Part != s[0].Part {
			return false
		}
	}
	return true
}

// counted says a count in words, with the part.
func counted(n int, what string, l plan.Light) string {
	tail := ""
	if what == "LED in series" {
		what, tail = "LED", " in series"
	}
	if n != 1 {
		what = many(what)
	}
	if strings.HasPrefix(what, "row") {
		return fmt.Sprintf("%d %s %s", n, what, l.Part)
	}
	return fmt.Sprintf("%d %s of %s%s", n, what, l.Part, tail)
}

// many is the plural of what is counted.
func many(what string) string {
	switch what {
	case "LED in series":
		return "LEDs in series"
	}
	if rest, ok := strings.CutPrefix(what, "row"); ok {
		return "rows" + rest
	}
	return what + "s"
}

// rowOf names a branch of so many LEDs as a maker sees it: he sees LEDs, no branches.
func rowOf(leds int) string {
	if leds == 2 {
		return "pair"
	}
	if few := []string{"three", "four", "five", "six"}; leds >= 3 && leds < 3+len(few) {
		return "row of " + few[leds-3]
	}
	return fmt.Sprintf("row of %d", leds)
}

// countedAs is what is to be counted, by itself.
func countedAs(what string) string {
	if what == "pair" || strings.HasPrefix(what, "row") {
		if what == "pair" {
			return "pairs of LEDs"
		}
		return many(what) + " LEDs"
	}
	return many(what)
}

// Preferred values of one decade (IEC 60063).
var (
	rowE24 = []float64{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}
	rowE12 = []float64{10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82}
)

// ohms lists resistors that may have been taken for the planned one: the
// neighbours in the E12 and E24 rows, and values whose first two rings are told
// from it by brown, red or orange alone, which are mistaken under warm light
// (common practice, no source). Ten times and a tenth are a fault of their own.
func (f finder) ohms(li int) []Suspect {
	l := f.p.Groups[f.gi].Lights[li]
	if l.Kind != plan.LEDs || !(l.Ohms.Nominal > 0) {
		return nil
	}
	values := mixedUp(l.Ohms.Nominal)
	var out []Suspect
	for _, v := range values {
		out = append(out,
			Suspect{Kind: OtherOhms, Group: f.p.Groups[f.gi].Name, Light: li, Path: f.path(li, "ohms"),
				Value: whole(v),
				Was:   fmt.Sprintf("%g ohm", l.Ohms.Nominal), Is: fmt.Sprintf("%g ohm", v),
				Prior: f.pr.OtherOhms / float64(len(values)),
				Plan: f.altered(li, func(l *plan.Light) {
					l.Ohms.HalfWidth *= v / l.Ohms.Nominal
					l.Ohms.Nominal = v
				})})
	}
	return out
}

// whole writes a whole number without a point, as a maker does.
func whole(v float64) any {
	if v == math.Trunc(v) && v < 1e9 {
		return int(v)
	}
	return v
}

func mixedUp(ohms float64) []float64 {
	decade := math.Pow10(int(math.Floor(math.Log10(ohms)*(1+1e-12) + 1e-12)))
	at := func(two float64) float64 {
		if decade < 10 {
			return two / math.Round(10/decade)
		}
		return two * math.Round(decade/10)
	}
	var out []float64
	keep := func(v float64) {
		if math.Abs(v/ohms-1) > 1e-6 && !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	for _, row := range [][]float64{rowE12, rowE24} {
		var below, above float64
		for _, d := range []float64{.1, 1, 10} {
			for _, m := range row {
				v := at(m) * d
				if d == .1 {
					v = at(m) / 10
				}
				if v < ohms*(1-1e-6) {
					below = v
				}
				if v > ohms*(1+1e-6) && above == 0 {
					above = v
				}
			}
		}
		keep(below)
		keep(above)
	}
	two := math.Round(ohms / decade * 10)
	for _, ring := range []float64{10, 1} {
		digit := math.Mod(math.Floor(two/ring), 10)
		for _, other := range []float64{1, 2, 3} {
			if v := two + (other-digit)*ring; digit >= 1 && digit <= 3 && slices.Contains(rowE24, v) {
				keep(at(v))
			}
		}
	}
	return out
}
