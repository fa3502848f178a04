package sketch

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

func brackwater(t *testing.T) []byte {
	t.Helper()
	src, err := os.ReadFile("../../testdata/brackwater/plan.toml")
	if err != nil {
		t.Fatal(err)
	}
	return src
}

type fataler interface {
	Helper()
	Fatalf(string, ...any)
}

func read(t fataler, src []byte) (*plan.Plan, plan.Said) {
	t.Helper()
	p, problems := plan.Parse("plan.toml", src)
	if len(problems) > 0 {
		t.Fatalf("%v\n%s", problems[0], src)
	}
	said, err := plan.ReadSaid(src)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return p, said
}

// atOneEnd is what a place would draw with all that hangs on it at one end of its band.
func atOneEnd(n Node) (low, high float64) {
	for _, x := range n.Nodes {
		low, high = low+x.LowA, high+x.HighA
	}
	return low, high
}

// flat lists the nodes of a tree.
func flat(ns []Node) (out []Node) {
	for _, n := range ns {
		out = append(append(out, n), flat(n.Nodes)...)
	}
	return out
}

// The tree has every place once, under what feeds it; its current is that of all below
// it and its own, its volts are those above less the drop, and what goes dark is what
// hangs below: three things that the tree isn't made from.
func TestTreeOfBrackwater(t *testing.T) {
	p, said := read(t, brackwater(t))
	b, err := budget.Of(p, budget.At{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	tree := Tree(p, b)
	var got []Place
	for _, n := range flat(tree) {
		got = append(got, n.Place)
	}
	for _, at := range Places(p, said) {
		if n := count(got, at); at.Kind != "closure" && n != 1 {
			t.Errorf("%s stands there %d times", at.Path(), n)
		}
	}
	for _, n := range flat(tree) {
		if !(n.LowA <= n.Amps && n.Amps <= n.HighA && n.LowDropV <= n.DropV && n.DropV <= n.HighDropV) {
			t.Errorf("%s: %g A, from %g to %g; %g V lost, from %g to %g", n.Path(), n.Amps, n.LowA, n.HighA,
				n.DropV, n.LowDropV, n.HighDropV)
		}
		for _, j := range b.Jacks {
			if n.Kind == "jack" && n.Name == j.Jack && (n.LowA != j.AllLit.LowA || n.HighA != j.AllLit.HighA) {
				t.Errorf("jack %s: %g to %g A in the tree, %g to %g in the budget", n.Name, n.LowA, n.HighA,
					j.AllLit.LowA, j.AllLit.HighA)
			}
		}
		if low, high := atOneEnd(n); n.Kind == "joint" && len(n.Nodes) > 3 && n.HighA-n.LowA > 0.95*(high-low) {
			t.Errorf("%s: %g to %g A, as wide as if all that it feeds were at one end", n.Path(), n.LowA, n.HighA)
		}
		if n.Kind != "joint" && n.Kind != "jack" ||
			slices.ContainsFunc(n.Holds, func(h string) bool {
				return strings.Contains(h, "converter") ||
					strings.Contains(h, "step")
			}) {
			continue
		}
		sum := 0.0
		for _, x := range n.Nodes {
			sum += x.Amps
			if x.Kind == "joint" && !behindConverter(x) && math.Abs(n.Volts-x.DropV-x.Volts) > 0.02 {
				t.Errorf("%s: %g V, and %g V behind a drop of %g V at %s", n.Path(), n.Volts, x.Volts, x.DropV,
					x.Path())
			}
		}
		if len(n.Nodes) > 0 && !slices.ContainsFunc(flat(n.Nodes), behindConverter) &&
			math.Abs(sum-n.Amps) > 0.01*n.Amps {
			t.Errorf("%s: %g A, and %g A all told below it", n.Path(), n.Amps, sum)
		}
		if n.Kind != "joint" {
			continue
		}
		var below []string
		for _, x := range flat(n.Nodes) {
			if x.Kind == "group" && slices.Contains(faultsAt(t, p, n.Name), x.Name) {
				below = append(below, x.Name)
			}
		}
		if slices.Sort(below); !slices.Equal(below, slices.Sorted(slices.Values(n.Dark))) {
			t.Errorf("%s: %q goes dark, and %q hangs on it", n.Path(), n.Dark, below)
		}
	}
}

// faultsAt are the groups that an open joint darkens, by the list of faults.
func faultsAt(t *testing.T, p *plan.Plan, joint string) (out []string) {
	t.Helper()
	for _, g := range p.Groups {
		if slices.Contains(fault.Path(p, g), joint) && !g.Sealed {
			out = append(out, g.Name)
		}
	}
	return out
}

func behindConverter(n Node) bool {
	return slices.ContainsFunc(n.Holds, func(h string) bool {
		return strings.Contains(h, "step") ||
			strings.Contains(h, "linear")
	})
}

func count(of []Place, at Place) (n int) {
	for _, x := range of {
		if x == at {
			n++
		}
	}
	return n
}

func TestTreeWithoutBudget(t *testing.T) {
	p, _ := read(t, brackwater(t))
	for _, n := range flat(Tree(p, nil)) {
		if n.Known {
			t.Errorf("%s has figures", n.Path())
		}
	}
}

// A field that is left as it is changes nothing, whatever the place.
func TestFormLeftAsItIs(t *testing.T) {
	src := brackwater(t)
	p, said := read(t, src)
	for _, at := range Places(p, said) {
		fields, err := Fields(p, said, at)
		if err != nil {
			t.Fatal(err)
		}
		filled := map[string]string{}
		for _, f := range fields {
			filled[f.Path] = f.Value
			if f.Input == Choice && f.Value != "" &&
				!slices.ContainsFunc(f.Choices, func(o Option) bool { return o.Value == f.Value }) {
				t.Errorf("%s: %q is none of its choices", f.Path, f.Value)
			}
		}
		if c, _ := Changes(fields, plan.BuiltIn(), at, filled); c != nil {
			t.Errorf("%s: %v", at.Path(), c)
		}
	}
	if _, err := Fields(p, said, Place{"group", "nobody"}); err == nil {
		t.Error("fields of nothing")
	}
}

// quoted is a text as a basic string of TOML, which has all escapes of JSON's.
func quoted(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		return `""`
	}
	return string(b)
}

func TestChangesKeepWhatAMakerTypes(t *testing.T) {
	src := []byte(
		strings.Join([]string{`build = "Gig"`, "[jack.main]", "volts = 12", "[closure.hull]", "[closure.deck]",
			"[[group]]", `name = "bow"`, `closure = "hull"`,
			`lights = [ { part = "red 1.8 mm", ohms = 470 } ]   # two`, ""}, "\n"))
	for _, c := range []struct{ path, typed, line string }{
		{"group.bow.lights[0].ohms", "1k", `lights = [ { part = "red 1.8 mm", ohms = 1000 } ]   # two`},
		{"group.bow.lights[0].ohms", "560", `lights = [ { part = "red 1.8 mm", ohms = 560 } ]   # two`},
		{"group.bow.lights[0].count", "2", `lights = [ { part = "red 1.8 mm", ohms = 470, count = 2 } ]   # two`},
		{"group.bow.lights[0].part", "amber 1.8 mm", `lights = [ { part = "amber 1.8 mm", ohms = 470 } ]   # two`},
		{"group.bow.lights[0].part", "strip amber 12 V",
			`lights = [ { part = "strip amber 12 V", segments = 1 } ]   # two`},
		{"group.bow.lights[0].part", "as found", `lights = "as found"   # two`},
		{"group.bow.wire.length_mm", "18 cm", `wire = { length_mm = 180 }`},
		{"group.bow.wire.pin", "3", `wire = { pin = 3 }`},
		{"group.bow.closure", "deck", `closure = "deck"`},
		{"group.bow.see", " two  red ones ", `see = "two red ones"`},
		{"closure.hull.must_hold", "ballast, light pipe", `must_hold = ["ballast", "light pipe"]`},
		{"jack.main.adapter_amps", "1500 mA", "adapter_amps = 1.5"},
	} {
		p, said := read(t, src)
		kind, rest, _ := strings.Cut(c.path, ".")
		name, _, _ := strings.Cut(rest, ".")
		fields, err := Fields(p, said, Place{kind, name})
		if err != nil {
			t.Fatal(err)
		}
		changes, _ := Changes(fields, plan.BuiltIn(), Place{kind, name}, map[string]string{c.path: c.typed})
		out, err := plan.EditAll(src, changes, plan.Options{})
		if err != nil || !strings.Contains(string(out), "\n"+c.line+"\n") {
			t.Errorf("%s: %q: %v\n%s", c.path, c.typed, err, out)
		}
	}
}

func TestUnreadNumbers(t *testing.T) {
	p, said := read(t, brackwater(t))
	at := Place{"group", "cabin windows"}
	fields, err := Fields(p, said, at)
	if err != nil {
		t.Fatal(err)
	}
	got := Unread(fields,
		map[string]string{`group."cabin windows".lights[0].segments`: "six",
			`group."cabin windows".wire.length_mm`:  "18 cm",
			`group."cabin windows".lights[0].count`: "1.5", `group."cabin windows".see`: "six"})
	if len(got) != 2 || got[0] != `segments: "six" isn't understood: a whole number, as 6` {
		t.Errorf("%q", got)
	}
}

func TestAddedAsItWasSaid(t *testing.T) {
	p, said := read(t, brackwater(t))
	for _, c := range []struct{ part, count, closure, holds string }{
		{"strip amber 12 V", "5", "hull",
			`closure = "hull", joint = "keel", lights = [{ part = "strip amber 12 V", segments = 5 }]`},
		{"smd red 12 V", "3", "deckhouse",
			`closure = "deckhouse", joint = "keel", lights = [{ part = "smd red 12 V", count = 3 }]`},
		{"red 1.8 mm", "1", "hull",
			`closure = "hull", joint = "keel", lights = [{ part = "red 1.8 mm", ohms = 680 }]`},
	} {
		x, err := Added(p, said, plan.BuiltIn(), New{Place: Place{"group", "yawl"}, On: "joint keel", Part: c.part,
			Count: c.count, Closure: c.closure})
		if got := plan.Put("x", x.Value).String(); err != nil || !strings.Contains(got, c.holds) {
			t.Errorf("%v: %s", err, got)
		}
	}
	if _, err := Added(p, said, plan.BuiltIn(), New{Place: Place{"group", "yawl"}, On: "joint keel",
		Part: "smd red 12 V", Count: "some"}); err == nil {
		t.Error("some were taken")
	}
}

func TestCardsFitFirst(t *testing.T) {
	cards := Cards(plan.BuiltIn(), 12, plan.PartStrip)
	if !cards[0].Fits || cards[len(cards)-1].Fits || cards[0].Colour == "" {
		t.Errorf("%+v", cards[0])
	}
	for _, c := range Cards(plan.BuiltIn(), 0) {
		t.Errorf("%s is of no kind that was asked for", c.Name)
	}
	p, _ := read(t, brackwater(t))
	if s := fmt.Sprint(Feeds(p)[0]); s != "{joint main jack main}" {
		t.Error(s)
	}
}
