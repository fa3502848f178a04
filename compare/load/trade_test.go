package load_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
)

// Facts of the trade (common practice, no source), each on a small invented plan.

func parse(t *testing.T, src string) *plan.Plan {
	t.Helper()
	p, problems := plan.Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	return p
}

// flasher is a board whose output has a resistor of its own; lights hangs on it.
func flasher(t *testing.T, lights string) *plan.Plan {
	return parse(t, `build = "Flasher"
[jack.main]
volts = 12.0
[closure.hull]
[board.flasher]
part = "single blinker"
joint = "main"
closure = "hull"
standing_mA = 3
outputs = [ { max_mA = 40, ohms = 100 } ]
paces = [ { name = "blink", period_s = 1.0, duty = 0.5 } ]
[[group]]
name = "beacon"
closure = "hull"
board = "flasher"
output = 1
lights = [ `+lights+` ]
`)
}

// swings tells whether the draw goes up and down over some seconds.
func swings(t *testing.T, p *plan.Plan) bool {
	t.Helper()
	l, err := load.New(p, nil, 1, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	low, high := 1.0, 0.0
	for i := range 80 {
		a := l.Current(on(l, "flasher", time.Duration(i)*50*time.Millisecond))
		if i >= 40 { // an output that stays lit does so from its first flash
			low, high = min(low, a), max(high, a)
		}
	}
	if err := l.Err(); err != nil {
		t.Fatal(err)
	}
	return high-low > 0.005
}

// A second small LED hung directly on a flasher output keeps it lit; with
// 470 ohm in series on its plus side it flashes again.
func TestASecondLEDNeedsItsOwnResistor(t *testing.T) {
	one := `{ part = "red 3 mm", ohms = 470, ohms_tolerance = 0.01 }`
	for _, c := range []struct {
		name, lights string
		flashes      bool
	}{
		{"one LED", one, true},
		{"a second one directly", one + `, { part = "red 1.8 mm", ohms = 0 }`, false},
		{"a second one with 470 ohm", one + `, { part = "red 1.8 mm", ohms = 470 }`, true},
	} {
		if got := swings(t, flasher(t, c.lights)); got != c.flashes {
			t.Errorf("%s: flashes %v, want %v", c.name, got, c.flashes)
		}
	}
}

// Groups fed each on their own wire stay lit when another one's wire breaks.
func TestABrokenWireDarkensItsOwnGroupOnly(t *testing.T) {
	p := parse(t, `build = "Wires"
[jack.main]
volts = 12.0
[closure.hull]
[[group]]
name = "bow"
closure = "hull"
joint = "main"
lights = [ { part = "strip warm white 12 V", segments = 3 } ]
[[group]]
name = "stern"
closure = "hull"
joint = "main"
lights = [ { part = "smd warm white 12 V", count = 3 } ]
`)
	draw := func(faults ...fault.Fault) (bow, stern, both float64) {
		l, err := load.New(p, faults, 1, load.Options{})
		if err != nil {
			t.Fatal(err)
		}
		s := on(l, "bow", time.Second)
		bow = l.Current(s)
		stern = l.Current(on(l, "stern", time.Second))
		for i := range s.On {
			s.On[i] = true
		}
		return bow, stern, l.Current(s)
	}
	bow, stern, both := draw()
	cut := fault.Fault{Kind: fault.BadJoint, Group: "bow", Ohms: 1e9}
	b2, s2, both2 := draw(cut)
	if b2 > 1e-6 || s2 != stern || both2 > stern*1.001 || both2 < stern*0.999 {
		t.Errorf("bow %.3f, stern %.3f, both %.3f mA; with the bow's wire cut %.6f, %.3f, %.3f", bow*1e3, stern*1e3,
			both*1e3, b2*1e3, s2*1e3, both2*1e3)
	}
}

// Strips and pre-resistored SMDs need no further resistor: joined plus to plus
// and minus to minus they draw what they draw alone, and well below 30 mA each.
func TestStripsAndSMDsInParallelAdd(t *testing.T) {
	const builds = 60
	one := parse(t, lampsPlan(1))
	two := parse(t, lampsPlan(2))
	var ones, twos float64
	for seed := range uint64(builds) {
		a, err := load.New(one, nil, seed, load.Options{})
		if err != nil {
			t.Fatal(err)
		}
		smd, strip := a.Current(on(a, "smds", 0)), a.Current(on(a, "strip", 0))
		all := on(a, "smds", 0)
		for i := range all.On {
			all.On[i] = true
		}
		// Each on a wire of its own: the same pieces draw the same.
		if both := a.Current(all); math.Abs(both/(smd+strip)-1) > 1e-6 {
			t.Errorf("build %d: alone %.4f and %.4f mA, joined %.4f mA", seed, smd*1e3, strip*1e3, both*1e3)
		}
		if smd > 0.0155 || smd < 0.0045 { // 5 to 15 mA by the part book
			t.Errorf("build %d: one pre-resistored SMD draws %.2f mA", seed, smd*1e3)
		}
		b, err := load.New(two, nil, seed, load.Options{})
		if err != nil {
			t.Fatal(err)
		}
		ones, twos = ones+smd, twos+b.Current(on(b, "smds", 0))
	}
	// Of one group's pieces, each with 30 % of tolerance: a mean over 60 builds is
	// known to 2 %, and so is the ratio of two.
	if r := twos / ones; math.Abs(r-2) > 0.12 {
		t.Errorf("one %.2f mA, two in parallel %.2f mA", ones/builds*1e3, twos/builds*1e3)
	}
}

func lampsPlan(smds int) string {
	return fmt.Sprintf(`build = "Lamps"
[jack.main]
volts = 12.0
[closure.hull]
[[group]]
name = "smds"
closure = "hull"
joint = "main"
lights = [ { part = "smd warm white 12 V", count = %d } ]
[[group]]
name = "strip"
closure = "hull"
joint = "main"
lights = [ { part = "strip warm white 12 V", segments = 3 } ]
`, smds)
}

func TestBoardsStepTheirPaceByButton(t *testing.T) {
	p := brackwaterPlan(t)
	l, err := load.New(p, nil, 1, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	edges := func(presses int) int {
		s := on(l, "lamp driver", 0)
		s.Presses = map[string]int{"lamp driver": presses}
		n := 0
		for s.Since < 10*time.Second {
			next := l.NextChange(s)
			if next < 0 {
				break
			}
			s.Since = next
			n++
		}
		return n
	}
	slow, fast, steady, again := edges(0), edges(1), edges(2), edges(3)
	if slow < 7 || slow > 10 || fast < 22 || fast > 28 || steady != 0 || again != slow {
		t.Errorf("edges in 10 s: slow %d, fast %d, steady %d, slow again %d", slow, fast, steady, again)
	}
}
