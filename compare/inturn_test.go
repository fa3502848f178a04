package compare_test

import (
	"context"
	"strings"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/fault"
)

// twoReds is a board with two like LEDs in turn, lit for a duty each. Invented.
func twoReds(duty string) string {
	return `
build = "Two reds"
[jack.main]
volts = 12.0
volts_range = [11.9, 12.1]
[closure.deckhouse]
[board.beacon]
joint = "main"
closure = "deckhouse"
standing_mA = 3.2
tolerance = 0.1
lowest_volts = 7
highest_volts = 15
outputs = [ { max_mA = 25, ohms = 10 }, { max_mA = 25, ohms = 10 } ]
outputs_run = "alternate"
paces = [ { name = "blink", period_s = 1.6, duty = ` + duty + ` } ]
[[group]]
name = "port beacon"
board = "beacon"
output = 1
lights = [ { part = "red 1.8 mm", ohms = 680, ohms_tolerance = 0.01 } ]
[[group]]
name = "starboard beacon"
board = "beacon"
output = 2
lights = [ { part = "red 1.8 mm", ohms = 680, ohms_tolerance = 0.01 } ]
`
}

func rowsOf(t *testing.T, src string, seed uint64, f *fault.Fault, says int) []compare.Finding {
	t.Helper()
	m, err := measured(context.Background(), seed, src, f, how{})
	if err != nil {
		t.Fatal(err)
	}
	if m, err = m.judged(says); err != nil {
		t.Fatal(err)
	}
	return m.closures[0].Groups
}

// Of two like outputs one is overloaded: that is said, and that a look tells which.
func TestOneOfTwoLikeOutputsOverloaded(t *testing.T) {
	for _, duty := range []string{"0.3", "0.4", "0.5"} {
		for seed := range uint64(4) {
			f := fault.Fault{Kind: fault.Overloaded, Group: []string{"port beacon", "starboard beacon"}[seed%2]}
			for _, x := range rowsOf(t, twoReds(duty), seed+1, &f, 2) {
				if x.Verdict != compare.StuckLit || len(x.Causes) == 0 || x.Causes[0].Name != string(fault.Overloaded) || !strings.Contains(x.Causes[0].Text, "look which") {
					t.Errorf("duty %s, seed %d: %s", duty, seed+1, inWords(x))
				}
			}
		}
	}
}

// Two like outputs that are right pass, whichever of them has which level.
func TestLikeOutputsPassEitherWay(t *testing.T) {
	for _, duty := range []string{"0.3", "0.4"} {
		for seed := range uint64(4) {
			for _, x := range rowsOf(t, twoReds(duty), seed+1, nil, 2) {
				if x.Verdict != compare.InBand {
					t.Errorf("duty %s, seed %d: %s", duty, seed+1, inWords(x))
				}
			}
		}
	}
}

// Where outputs can't be parted, the figures are of the whole board, both of them,
// and a look passes it only where they go together.
func TestFiguresOfTheWholeBoard(t *testing.T) {
	whole := 0
	for seed := range uint64(4) {
		for _, x := range rowsOf(t, twoReds("0.5"), seed+1, nil, 3) {
			if x.Verdict != compare.InBand || x.MeasuredA < x.Band.LowA || x.MeasuredA > x.Band.HighA || (x.ExpectedA > 0.015) != (x.FiguresOf == compare.OfBoard) {
				t.Errorf("seed %d: figures of %q: %s", seed+1, x.FiguresOf, inWords(x))
			}
			if x.FiguresOf == compare.OfBoard {
				whole++
			}
		}
	}
	if whole == 0 {
		t.Error("the outputs could be parted each time: nothing was tested")
	}
}
