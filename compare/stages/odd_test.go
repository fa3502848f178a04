package stages_test

import (
	"math"
	"strings"
	"testing"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/stages"
)

// An invented build of a few lights with a board of its own.
func buoy(board string) string {
	return `build = "Bell buoy"
[jack.main]
volts = 12.0
plug = "5.5 x 2.1 mm, centre plus"
[closure.float]
[board.bell]
` + board + `
[[group]]
name = "lamp room"
closure = "float"
lights = [ { part = "strip warm white 12 V", segments = 4 } ]
[[group]]
name = "left"
closure = "float"
board = "bell"
output = 1
lights = [ { part = "red 1.8 mm", ohms = 470 } ]
[[group]]
name = "right"
closure = "float"
board = "bell"
output = 2
lights = [ { part = "green 1.8 mm", ohms = 390 } ]
`
}

const outputs = "joint = \"main\"\nclosure = \"float\"\nstanding_mA = 3\noutputs = [ { max_mA = 25, ohms = 47 }, { " +
	"max_mA = 25, ohms = 47 } ]\n"

func TestBoardsOfAllKindsAreTakenApart(t *testing.T) {
	for _, x := range []struct {
		name, board string
		blinks      int  // lanes
		known       bool // base and steps one by one, for any seed
	}{
		{"in turn with a dark moment", `outputs_run = "alternate"` + "\n" +
			`paces = [ { name = "blink", period_s = 1.6, duty = 0.4 } ]`, 2, true},
		{"in turn without one", `outputs_run = "alternate"` + "\n" +
			`paces = [ { name = "blink", period_s = 1.6, duty = 0.5 } ]`, 2, false},
		{"each by itself", `outputs_run = "free"` + "\n" +
			`paces = [ { name = "blink", period_s = 1.1, duty = 0.3 } ]`, 2, false},
		{"together", `outputs_run = "together"` + "\n" + `paces = [ { name = "blink", period_s = 1.3, duty = 0.3 } ]`,
			1, true},
		{"flashes", `outputs_run = "together"` + "\n" +
			`paces = [ { name = "group", period_s = 4.0, flashes = [0.4, 0.5, 0.4, 2.7] } ]`, 1, true},
		{"steady", `paces = [ { name = "on", steady = true } ]`, 0, true},
	} {
		src := buoy(outputs + x.board)
		p := planOf(t, []byte(src))
		c := comparer(t, p)
		for seed := uint64(1); seed < 4; seed++ {
			before := reading(t, p, nil, seed, seed, "closed", home(), load.Options{})
			a, err := c.Apart(before, nil)
			if err != nil {
				t.Fatal(x.name, err)
			}
			n := 0
			for _, k := range a.Beats {
				for _, b := range k.Outputs {
					n++
					if b.State != blink.Running && x.known {
						t.Errorf("%s, seed %d: %s is %s: %s (%.2f of %.2f mA)", x.name, seed, b.Name, b.State, b.Why,
							1e3*b.StepA, 1e3*b.BuiltA)
					}
				}
			}
			if n != x.blinks || x.known && !a.Known || a.Poor {
				t.Errorf("%s, seed %d: %d blinkers, known %v, poor %v", x.name, seed, n, a.Known, a.Poor)
			}
			worst := 0.0
			for _, s := range before.Trace {
				worst = math.Max(worst, math.Abs(s.Amps-a.At(s.AtS)))
			}
			if worst > 2e-3 {
				t.Errorf("%s, seed %d: the fit misses a reading by %.2f mA", x.name, seed, 1e3*worst)
			}
			same := compared(t, p, before, reading(t, p, nil, seed, seed+9, "delivered", home(), load.Options{}))
			if same.Verdict != stages.Unchanged {
				t.Errorf("%s, seed %d: healthy: %s %s %s", x.name, seed, same.Verdict, same.Text, same.Why)
			}
			lost := compared(t, p, before, reading(t, p, []fault.Fault{faultOf(t, p, "lamp room=dark segment", seed)},
				seed, seed+9, "delivered", home(), load.Options{}))
			if lost.Verdict != stages.Changed || !fitsGroup(lost, "lamp room") {
				t.Errorf("%s, seed %d: a dark segment: %s %s", x.name, seed, lost.Verdict, lost.Text)
			}
		}
	}
}

func TestTwoBoardsTooAlikeAreNotToldApart(t *testing.T) {
	src := buoy(outputs+`outputs_run = "together"`+"\n"+`paces = [ { name = "blink", period_s = 1.6, duty = 0.4 } ]`) +
		`
[board.gong]
joint = "main"
closure = "float"
standing_mA = 2
outputs = [ { max_mA = 25, ohms = 47 } ]
paces = [ { name = "blink", period_s = 1.6, duty = 0.4 } ]
[[group]]
name = "gong lamp"
closure = "float"
board = "gong"
output = 1
lights = [ { part = "red 1.8 mm", ohms = 470 } ]
`
	p := planOf(t, []byte(src))
	c := comparer(t, p)
	x := reading(t, p, nil, 1, 1, "closed", home(), load.Options{})
	x.Trace = x.Trace[:80] // 9 s
	a, err := c.Apart(x, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range a.Beats {
		if k.Alike == "" {
			continue
		}
		for _, b := range k.Outputs {
			if b.State != blink.Unsettled || !strings.Contains(b.Why, "too alike") {
				t.Errorf("%s: %s, %s", b.Name, b.State, b.Why)
			}
		}
		return
	}
	t.Errorf("periods %v and %v s over 9 s are told apart", a.Beats[0].PeriodS, a.Beats[1].PeriodS)
}
