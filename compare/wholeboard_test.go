package compare

import "testing"

// What a board draws on average is with all of its outputs: where one alone is clipped on, that
// doesn't stand beside what was read, nor does it pass by it.
func TestAverageOfABoardIsOfAllItsOutputs(t *testing.T) {
	y := newYard(t, `
build = "Buoy"
[jack.main]
volts = 12.0
[closure.hull]
[board.flasher]
part = "two-output blinker"
joint = "main"
closure = "hull"
[[group]]
name = "port"
board = "flasher"
output = 1
lights = [ { part = "red 3 mm", ohms = 680 } ]
[[group]]
name = "starboard"
board = "flasher"
output = 2
lights = [ { part = "red 3 mm", ohms = 680 } ]
`)
	b, _ := y.plan.Board("flasher")
	for _, outputs := range [][]int{nil, {1}} {
		r := y.measure("port", Fitted, 0.011)
		r.Step.Board, r.Step.Feed, r.Step.Outputs, r.Step.Pace = "flasher", "flasher", outputs, b.Paces[0].Name
		s, f := stepOf(t, y, *r), Finding{Group: "port", Board: "flasher", Output: 1}
		s.wholeBoard(&f, b, b.Paces[0])
		if f.MeasuredA == 0 || (f.ExpectedA > 0) != (outputs == nil) || outputs != nil && f.meanFits {
			t.Errorf("outputs %v: measured %g A, expected %g A, fits %v", outputs, f.MeasuredA, f.ExpectedA, f.meanFits)
		}
	}
}
