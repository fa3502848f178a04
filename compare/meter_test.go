package compare

import (
	"slices"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// twoLamps is an invented build of two groups whose parts are known well.
const twoLamps = `build = "Skiff"
[jack.main]
volts = 5.0
source = "usb"
[closure.hull]
[part."stern lamp"]
like = "warm white 3 mm"
spread_volts = 0.06
source = "five pieces measured (invented)"
[[group]]
name = "stern light"
closure = "hull"
lights = [ { part = "stern lamp", ohms = 150, ohms_tolerance = 0.01 } ]
[[group]]
name = "cabin lamps"
closure = "hull"
lights = [ { part = "stern lamp", ohms = 220, ohms_tolerance = 0.01, count = 2 } ]
`

// aMeter is an invented meter of one range of current.
func aMeter(who string, ofReading, floorA, countA float64) instruments.Description {
	return instruments.Description{Identity: who,
		Ranges: []instruments.Range{{Name: "mA", Quantity: instruments.Current,
			Max: 0.5, Resolution: countA, Accuracy: instruments.Accuracy{OfReading: ofReading, Floor: floorA}}}}
}

// A worse meter can't settle what a better one could, and only that is named: a group
// that neither tells isn't. The limits are those of the rule of package budget (a loss is
// told from 3.29 standard uncertainties on).
func TestNotSeenWith(t *testing.T) {
	p, problems := plan.Parse("plan.toml", []byte(twoLamps))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	x := NewExpected(p)
	c := scene.Scene{}
	fine, worse := aMeter("fine", 0.0005, 2e-6, 1e-6), aMeter("worse", 0.02, 8e-3, 1e-3)
	got, err := x.NotSeenWith(c, fine, worse)
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{"stern light", "cabin lamps"}; !slices.Equal(got, want) {
		t.Errorf("from the fine to the worse one %v, want %v", got, want)
	}
	for _, pair := range [][2]instruments.Description{{fine, fine}, {worse, fine}, {worse, worse}} {
		if got, err := x.NotSeenWith(c, pair[0], pair[1]); err != nil || len(got) > 0 {
			t.Errorf("from %s to %s: %v, %v", pair[0].Identity, pair[1].Identity, got, err)
		}
	}
	// One of which nothing is stated is taken for a plain one: 5 counts of 0.1 mA don't hide a lamp of 10 mA.
	if got, err := x.NotSeenWith(c, fine, instruments.Description{}); err != nil || len(got) > 0 {
		t.Errorf("to a plain one: %v, %v", got, err)
	}
}
