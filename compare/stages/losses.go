package stages

import (
	"fmt"
	"math"

	"sealworthy/compare/fault"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
)

// candidate is one thing that can have come since the stage before, and what it changes of a
// part.
type candidate struct {
	faults []fault.Fault // one, or as many branches of one light
	what   string
	deltaA float64
	branch bool // the loss of one branch
	weight float64
}

// mostDark is how many branches of one kind are tried as dark at once.
const mostDark = 4

// candidates lists what a fault in each group of a part would change: one and more branches
// dark, an LED bridged, nothing reaching it.
func (m *model) candidates(s scene.Scene, part int) ([]candidate, error) {
	w, err := m.at(s)
	if err != nil {
		return nil, err
	}
	if part > 0 {
		m.outputs[part-1].light(w, true)
		defer m.outputs[part-1].light(w, false)
	}
	healthy, err := draw(w, s)
	if err != nil {
		return nil, err
	}
	var out []candidate
	for _, i := range m.behind(w, part) {
		for _, c := range m.cameTo(i) {
			a, err := m.with(w, s, c.faults)
			if err != nil {
				return nil, fmt.Errorf("%s with %s: %w", m.p.Groups[i].Name, c.what, err)
			}
			c.deltaA = a - healthy
			out = append(out, c)
		}
	}
	return out, nil
}

// with is the draw with some faults.
func (m *model) with(w *wiring.Wired, s scene.Scene, faults []fault.Fault) (float64, error) {
	defer w.Reset()
	for _, f := range faults {
		if err := fault.Apply(w, f); err != nil {
			return 0, err
		}
	}
	return draw(w, s)
}

// cameTo lists what can have come to a group, with the weights of a model that came back:
// once it's closed nobody gives it a wrong resistor.
func (m *model) cameTo(group int) []candidate {
	g := m.p.Groups[group]
	dark, bridged, branches := make([][]fault.Fault, len(g.Lights)), make([][]fault.Fault, len(g.Lights)), 0
	for _, f := range fault.Possible(m.p, g) {
		switch f.Kind {
		case fault.OpenBranch, fault.DarkSegment:
			dark[f.Light] = append(dark[f.Light], f)
			branches++
		case fault.ShortedLED:
			bridged[f.Light] = append(bridged[f.Light], f)
		}
	}
	var out []candidate
	for k, l := range g.Lights {
		fs := dark[k]
		share := float64(len(fs)) / float64(branches)
		// The far end of a strip gets the least: the last ones go first.
		for n := 1; n <= min(mostDark, len(fs)) && n < branches; n++ {
			out = append(out, candidate{faults: fs[len(fs)-n:], what: words.Branches(l, n) + " dark", branch: n == 1,
				weight: m.pr.Of(fault.OpenBranch) * share * math.Pow(m.pr.SecondBranch, float64(n-1))})
		}
		if len(bridged[k]) > 0 {
			out = append(out, candidate{faults: bridged[k][:1], what: "one LED bridged in " + words.Branches(l, 1),
				weight: m.pr.Of(fault.ShortedLED) * share})
		}
	}
	return append(out, candidate{faults: []fault.Fault{{Kind: fault.OpenWire, Group: g.Name}}, what: "all of it dark",
		branch: branches == 1, weight: m.pr.Of(fault.OpenWire)})
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
