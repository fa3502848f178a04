package compare_test

import (
	"context"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/load"
)

// steadyBoard is a board that never blinks, of which what it draws by itself isn't known well.
const steadyBoard = `build = "Lightship"
[jack.main]
volts = 12
[closure.deckhouse]
[board."lamp board"]
joint = "main"
closure = "deckhouse"
standing_mA = 5.4
tolerance = 0.4
lowest_volts = 3
highest_volts = 30
outputs = [ { max_mA = 30, ohms = 22 } ]
paces = [ { name = "on", steady = true } ]
[[group]]
name = "masthead"
board = "lamp board"
output = 1
lights = [ { part = "red 1.8 mm", in_series = 3, ohms = 470, count = 1 } ]
`

// TestASteadyBoardIsWeighedAtAllItsVoltages: the sweep reads it at two lower ones, long enough to
// be judged by, and what it draws by itself is off by the same in all of them.
func TestASteadyBoardIsWeighedAtAllItsVoltages(t *testing.T) {
	for _, law := range []load.Law{load.PlanLaw, load.OtherLaw} {
		m, err := measured(context.Background(), 3, steadyBoard, nil, how{law: law, sweep: true})
		if err != nil {
			t.Fatal(err)
		}
		if m, err = m.judged(2); err != nil {
			t.Fatal(err)
		}
		f := m.closures[0].Groups[0]
		if len(f.Also) != 2 {
			t.Errorf("law %q: weighed at %d voltages besides its own, expected 2: %s", law, len(f.Also), inWords(f))
		}
		if f.Verdict != compare.InBand {
			t.Errorf("law %q: %s", law, inWords(f))
		}
	}
}
