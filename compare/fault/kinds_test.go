package fault_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// kindsInSource are the constants of type Kind as the source has them.
func kindsInSource(t *testing.T) []fault.Kind {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "kinds.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []fault.Kind
	for _, d := range file.Decls {
		g, ok := d.(*ast.GenDecl)
		if !ok || g.Tok != token.CONST {
			continue
		}
		for _, s := range g.Specs {
			v := s.(*ast.ValueSpec)
			if id, ok := v.Type.(*ast.Ident); !ok || id.Name != "Kind" {
				continue
			}
			name, err := strconv.Unquote(v.Values[0].(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, fault.Kind(name))
		}
	}
	if len(out) < 30 {
		t.Fatalf("only %d kinds found", len(out))
	}
	return out
}

// A kind without its row, its place, its effect or its short name is no kind; one
// that acts in a circuit has a weight somewhere.
func TestEveryKindIsWhole(t *testing.T) {
	pr := fault.DefaultPriors()
	for _, k := range kindsInSource(t) {
		a := fault.AboutKind(k)
		if a.At == "" || a.Effect == "" || a.Short == "" {
			t.Errorf("%s: %+v", k, a)
			continue
		}
		weight := 0.0
		if a.Prior != nil {
			weight += a.Prior(pr)
		}
		if a.Return != nil {
			weight += a.Return(pr.Return)
		}
		if (a.Effect == fault.ByCircuit || a.Effect == fault.ByPlan || a.Seeded) && !(weight > 0) {
			t.Errorf("%s has no weight, neither at the bench nor at a return", k)
		}
		if a.Effect == fault.ByCircuit && a.Prior == nil && a.Return == nil {
			t.Errorf("%s is never weighed", k)
		}
	}
}

// What acts by the circuit changes the draw of a model that can have it.
func TestEveryKindOfCircuitActs(t *testing.T) {
	p := everything(t)
	for _, k := range kindsInSource(t) {
		if fault.AboutKind(k).Effect != fault.ByCircuit {
			continue
		}
		f, ok := oneOf(t, p, k)
		if !ok {
			t.Errorf("%s: nothing in the plan can have it", k)
			continue
		}
		w, err := wiring.Build(p, p.Jacks[0].Name, wiring.Options{})
		if err != nil {
			t.Fatal(err)
		}
		draw := func() float64 {
			w.SetAll(true)
			w.LightAll(true)
			if err := w.Solve(circuit.Source{EmfV: p.Jacks[0].Volts}); err != nil {
				t.Fatalf("%s: %v", k, err)
			}
			return w.JackAmps(w.Point)
		}
		healthy := draw()
		if err := fault.Apply(w, f); err != nil {
			t.Errorf("%s: %v", k, err)
			continue
		}
		if now := draw(); math.Abs(now-healthy) < 1e-6*healthy {
			t.Errorf("%s changes nothing of %.3f mA", k, healthy*1e3)
		}
	}
}

// oneOf is a fault of a kind, somewhere.
func oneOf(t *testing.T, p *plan.Plan, k fault.Kind) (fault.Fault, bool) {
	t.Helper()
	switch k {
	case fault.BranchJoint, fault.OpenWire: // a bench isn't seeded with these
		return fault.Fault{Kind: k, Group: p.Groups[0].Name, Ohms: 500}, true
	}
	if slices.Contains(fault.UpstreamKinds(), k) {
		for _, at := range []string{"keel", "mast"} {
			if f, err := fault.Upstream(p, k, at, 0); err == nil {
				return f, true
			}
		}
		return fault.Fault{}, false
	}
	for _, g := range p.Groups {
		if f, err := fault.Parse(p, g.Name+"="+string(k), rand.New(rand.NewPCG(1, 1))); err == nil {
			return f, true
		}
	}
	return fault.Fault{}, false
}

// everything is an invented boat that can have every kind of fault.
func everything(t *testing.T) *plan.Plan {
	t.Helper()
	p, problems := plan.Parse("plan.toml", []byte(`
build = "Gig"
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
closure = "hull"
[return.mast]
to = "main"
closure = "hull"
[board.beacon]
part = "two-output blinker"
joint = "keel"
closure = "hull"
paces = [ { name = "slow", period_s = 2.0, duty = 0.3 } ]
[[group]]
name = "lamps"
closure = "hull"
joint = "keel"
lights = [ { part = "amber 3 mm", in_series = 2, count = 3, ohms = 470 } ]
[[group]]
name = "windows"
closure = "hull"
joint = "keel"
return = "mast"
lights = [ { part = "strip warm white 12 V", segments = 3, count = 2 } ]
[[group]]
name = "deck"
closure = "hull"
joint = "keel"
return = "mast"
lights = [ { part = "smd warm white 12 V", count = 3 } ]
[[group]]
name = "flash"
closure = "hull"
board = "beacon"
output = 1
lights = [ { part = "amber 3 mm", ohms = 680 } ]
`))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return p
}

// A line that lists kinds of fault with a chance each never lists two under one name.
func TestNoTwoKindsShareAName(t *testing.T) {
	names := map[string]fault.Kind{}
	for _, k := range fault.AllKinds() {
		a := fault.AboutKind(k)
		if a.Prior == nil && a.Return == nil {
			continue
		}
		if was, ok := names[a.Short]; ok {
			t.Errorf("%q is %q and %q", a.Short, was, k)
		}
		names[a.Short] = k
	}
}
