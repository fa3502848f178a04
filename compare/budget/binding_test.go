package budget

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/plan"
)

// What may burn is marked as that, and goes by a name that says its kind and
// what it is about; what only stays dark or blows a fuse isn't.
func TestNamesAndBurns(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(p *plan.Plan)
		want  string
		burns bool
	}{
		{"LED", func(p *plan.Plan) { p.Groups[1].Lights[0].Ohms.Nominal = 390 }, "LED current: anchor", true},
		{"resistor", func(p *plan.Plan) { p.Groups[1].Lights[0].OhmsWatts = 0.0625 }, "resistor heat: anchor", true},
		{"none", func(p *plan.Plan) { p.Groups[1].Lights[0].Ohms = plan.Value{} }, "no resistor: anchor", true},
		{"5 V part", func(p *plan.Plan) { p.Groups[1].Lights[0].RatedVolts = 5 }, "voltage rating: anchor", true},
		{"24 V part", func(p *plan.Plan) { p.Groups[1].Lights[0].RatedVolts = 24 }, "voltage rating: anchor, too low",
			false},
		{"wire melts", func(p *plan.Plan) { p.Joints[0].Wire.FuseAmps = 0.08 }, "wire: joint keel", true},
		{"wire over its working limit", func(p *plan.Plan) {
			p.Joints[0].Wire.WorkAmps,
				p.Joints[0].Wire.FuseAmps = 0.05, 0.15
		}, "wire: joint keel", true},
		{"board over its rating", func(p *plan.Plan) { p.Boards[0].HighVolts = 12 }, "board supply: beacon", true},
		{"board starved", func(p *plan.Plan) { p.Boards[0].LowVolts = 11.6 }, "board supply: beacon, too low", false},
		{"output", func(p *plan.Plan) { p.Boards[0].Outputs[0].MaxAmps = 0.001 }, "board output: beacon, output 1",
			true},
		{"fuse blows", func(p *plan.Plan) { p.Joints[0].Holds[0].RatedAmps = 0.063 }, "fuse: joint keel", false},
		{"diode", func(p *plan.Plan) {
			p.Joints[0].Holds = append(p.Joints[0].Holds, plan.Hold{Kind: plan.HoldDiode, Text: "silicon diode",
				DropVolts: plan.Value{Nominal: 0.7}, RatedAmps: 0.01})
		}, "in the feed: joint keel, diode", true},
		{"adapter", func(p *plan.Plan) { p.Jacks[0].AdapterAmps = 0.05 }, "adapter: jack main", false},
		{"stays dark", func(p *plan.Plan) {
			p.Groups[0].Lights[0] = own(4, 5, led("white", 2.9, 0.1, 0), 100, 0.05,
				0)
		}, "far end: cabin", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := tidy()
			c.spoil(p)
			b, err := Of(p, At{Trials: 10}, 1)
			if err != nil {
				t.Fatal(err)
			}
			k, ok := b.CheckNamed(c.want)
			if !ok || !k.Binds() || k.Burns != c.burns {
				t.Fatalf("no wrong check %q that burns: %v; there are %q", c.want, c.burns, names(b.Checks))
			}
			if alone, err := Binding(p, At{}); err != nil || !reflect.DeepEqual(alone, b.Binding("", nil)) {
				t.Errorf("without trials %+v (%v), with them %+v", alone, err, b.Binding("", nil))
			}
			if k.Burns && (k.Cure == "" || k.Fact == "" || !strings.HasPrefix(k.Text, k.Fact) ||
				!strings.HasSuffix(k.Text, k.Cure)) {
				t.Errorf("fact %q, cure %q of %q", k.Fact, k.Cure, k.Text)
			}
			if len(b.Binding("", nil)) == 0 || len(b.Binding("", func(Check) bool { return true })) != 0 {
				t.Error("what is wrong binds until it's accepted")
			}
		})
	}
}

func names(cs []Check) []string {
	var out []string
	for _, c := range cs {
		out = append(out, c.Name)
	}
	return out
}

// Several lights, several holds, joint, return, board and group of one name:
// each check still has a name of its own, which stays when another is mended.
func TestNamesAreUnique(t *testing.T) {
	p := tidy()
	l := p.Groups[1].Lights[0]
	l.Ohms.Nominal = 100
	other := l
	other.Part = "amber"
	p.Groups[1].Lights = []plan.Light{l, l, other}
	p.Joints[0].Name, p.Groups[0].Joint, p.Groups[1].Joint, p.Boards[0].Joint = "beacon", "beacon", "beacon", "beacon"
	p.Joints[0].Wire.WorkAmps, p.Joints[0].Wire.FuseAmps = 0.01, 0.02
	p.Boards[0].Wire.WorkAmps, p.Boards[0].Wire.FuseAmps = 0.001, 0.002
	p.Returns = append(p.Returns, plan.Return{Name: "beacon", To: "main",
		Wire: plan.Wire{WorkAmps: 0.001, FuseAmps: 0.002}})
	p.Groups[1].Return = "beacon"
	fuse := plan.Hold{Kind: plan.HoldFuse, RatedAmps: 0.01}
	p.Joints[0].Holds = []plan.Hold{fuse, fuse}
	all := names(checksOf(t, p))
	for i, n := range all {
		if slices.Contains(all[:i], n) {
			t.Errorf("twice: %s", n)
		}
	}
	for _, want := range []string{"LED current: anchor, light 1", "LED current: anchor, light 2",
		"LED current: anchor, amber",
		"wire: joint beacon", "wire: return beacon", "wire: beacon", "fuse: joint beacon, fuse 1",
		"fuse: joint beacon, fuse 2"} {
		if !slices.Contains(all, want) {
			t.Errorf("no %q in %q", want, all)
		}
	}
	p.Groups[1].Lights[0].Ohms.Nominal = 1200
	if all := names(checksOf(t, p)); !slices.Contains(all, "LED current: anchor, light 2") {
		t.Errorf("another name once the first is mended: %q", all)
	}
}

// A check concerns what hides it, what is fed through it, and what these close
// inside of; one about the whole jack concerns all.
func TestConcerns(t *testing.T) {
	p := tidy()
	p.Closures = []plan.Closure{{Name: "hull"}, {Name: "house"}, {Name: "lantern", Inside: "house"}, {Name: "hold"}}
	p.Joints = append(p.Joints, plan.Joint{Name: "mast", From: "keel",
		Wire: plan.Wire{WorkAmps: 0.001, FuseAmps: 0.002}, Closure: "hull"})
	p.Groups[0].Closure, p.Groups[1].Closure = "hull", "lantern"
	p.Groups[1].Joint, p.Groups[1].Lights[0].Ohms.Nominal = "mast", 100
	p.Jacks[0].AdapterAmps, p.Joints[0].Holds[0].RatedAmps = 0.01, 0.5
	p.Boards[0].Closure, p.Boards[0].HighVolts = "hold", 12
	for i := range p.Groups {
		if p.Groups[i].Board != "" {
			p.Groups[i].Closure = "hold"
		}
	}
	b, err := Of(p, At{Trials: 10}, 1)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"LED current: anchor": "house lantern", "wire: joint mast": "hull house lantern",
		"adapter: jack main": "hull house lantern hold", "board supply: beacon": "hold",
	} {
		c, ok := b.CheckNamed(name)
		if got := strings.Join(c.Closures, " "); !ok || got != want {
			t.Errorf("%s concerns %q, want %q", name, got, want)
		}
		for _, cl := range p.Closures {
			if c.Concerns(cl.Name) != slices.Contains(strings.Fields(want), cl.Name) {
				t.Errorf("%s and %s", name, cl.Name)
			}
		}
	}
	if n := len(b.Binding("hold", nil)); n != 2 {
		t.Errorf("%d checks bind the hold, want board and adapter: %q", n, names(b.Binding("hold", nil)))
	}
}

// What was accepted at a value isn't once it has got worse.
func TestCovers(t *testing.T) {
	for _, c := range []struct {
		check    Check
		accepted float64
		want     bool
	}{
		{Check{Value: 0.101, Limit: 0.020}, 0.100, true},
		{Check{Value: 0.5, Limit: 0.020}, 0.1, false},
		{Check{Value: 8, Limit: 10}, 8.1, true},
		{Check{Value: 5, Limit: 10}, 8, false},
		{Check{}, 0, true},
	} {
		if got := c.check.Covers(c.accepted); got != c.want {
			t.Errorf("%+v accepted at %g: %v", c.check, c.accepted, got)
		}
	}
}
