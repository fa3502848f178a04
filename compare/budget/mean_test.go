package budget

import (
	"math"
	"testing"
)

// Without a blinker the mean is what flows all the time, at the ends of every tolerance,
// too: it's made of a current that is read, and isn't one of its own.
func TestWithoutBlinkersTheMeanIsWhatFlows(t *testing.T) {
	p := lightship()
	p.Boards = nil
	p.Groups = p.Groups[:len(p.Groups)-2]
	j := of(t, p, At{Trials: 200}).Jacks[0]
	for name, x := range map[string][2]float64{
		"lowest":  {j.MeanService.WorstLowA, j.DarkService.WorstLowA},
		"highest": {j.MeanService.WorstHighA, j.DarkService.WorstHighA},
		"nominal": {j.MeanService.NominalA, j.DarkService.NominalA},
	} {
		if math.Abs(x[0]-x[1]) > 1e-9*x[1] || x[1] == 0 {
			t.Errorf("%s: the mean is %g A, what flows %g", name, x[0], x[1])
		}
	}
}
