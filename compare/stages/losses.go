package stages

import (
	"fmt"
	"math"
	"strings"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// candidate is one thing that can have happened, and what it changes of a part.
type candidate struct {
	group  string
	what   string
	deltaA float64
	branch bool // the loss of one branch
	whole  bool // of all of it
}

// mostDark is how many branches of one kind are tried as dark at once.
const mostDark = 4

// candidates lists what a fault in each group of a part would change: one and
// more branches dark, the group dark, one LED bridged.
func (m *model) candidates(c conditions, part int) ([]candidate, error) {
	w, err := m.at(c)
	if err != nil {
		return nil, err
	}
	if part > 0 {
		m.outputs[part-1].light(w, true)
	}
	defer func() { _, _ = m.at(c) }()
	t := trier{w: w, volts: c.volts}
	if t.healthy, err = draw(w, c.volts); err != nil {
		return nil, err
	}
	for _, i := range m.behind(w, part) {
		t.group(m.p.Groups[i], i)
	}
	return t.out, t.err
}

// trier tries faults one at a time.
type trier struct {
	w       *wiring.Wired
	volts   float64
	healthy float64
	out     []candidate
	err     error
}

// try applies a fault, takes the draw, and takes the fault back.
func (t *trier) try(c candidate, do func(on bool)) {
	do(true)
	a, err := draw(t.w, t.volts)
	do(false)
	if err != nil {
		if t.err == nil {
			t.err = fmt.Errorf("%s with %s: %w", c.group, c.what, err)
		}
		return
	}
	c.deltaA = a - t.healthy
	t.out = append(t.out, c)
}

func (t *trier) group(g plan.Group, at int) {
	branches := t.w.Groups[at].Branches
	for k, l := range g.Lights {
		if l.Kind == plan.Envelope || g.AsFound {
			continue
		}
		var mine []int
		for i, b := range branches {
			if b.Light == k {
				mine = append(mine, i)
			}
		}
		// The far end of a strip gets the least: the last ones go first.
		for n := 1; n <= min(mostDark, len(mine)) && n < len(branches); n++ {
			t.try(candidate{group: g.Name, what: dark(l, n), branch: n == 1}, func(on bool) {
				for _, i := range mine[len(mine)-n:] {
					t.w.Open(at, i, on)
				}
			})
		}
		if len(mine) > 0 && len(l.Series) > 0 {
			t.try(candidate{group: g.Name, what: "one LED bridged in " + piece(l)}, func(on bool) {
				s := circuit.OK
				if on {
					s = circuit.Shorted
				}
				t.w.SetLED(at, mine[0], 0, s)
			})
		}
	}
	t.try(candidate{group: g.Name, what: "all of it dark", branch: len(branches) == 1, whole: true}, func(on bool) {
		ohms := 0.0
		if on {
			ohms = math.Inf(1)
		}
		t.w.GroupSeries(at, ohms)
	})
}

// piece names one branch of a light.
func piece(l plan.Light) string {
	switch {
	case l.Kind == plan.Strip:
		return "a segment of " + l.Part
	case len(l.Series) > 1:
		return fmt.Sprintf("a row of %d %s", len(l.Series), name(l))
	}
	return name(l)
}

// name of a light's part; LEDs of several kinds in one row are in brackets.
func name(l plan.Light) string {
	if strings.Contains(l.Part, " + ") {
		return "(" + l.Part + ")"
	}
	return l.Part
}

// dark says that n branches of a light are.
func dark(l plan.Light, n int) string {
	one, more := "", "pieces of "
	switch {
	case l.Kind == plan.Strip:
		one, more = "segment of ", "segments of "
	case len(l.Series) > 1:
		one = fmt.Sprintf("row of %d ", len(l.Series))
		more = fmt.Sprintf("rows of %d ", len(l.Series))
	}
	if n > 1 {
		one = more
	}
	return fmt.Sprintf("%s %s%s dark", []string{"", "one", "two", "three", "four"}[n], one, name(l))
}

// leastOf is the least loss of one branch among candidates; 0: none is known.
func leastOf(cs []candidate) float64 {
	least := 0.0
	for _, c := range cs {
		if loss := -c.deltaA; c.branch && loss > 0 && (least == 0 || loss < least) {
			least = loss
		}
	}
	return least
}
