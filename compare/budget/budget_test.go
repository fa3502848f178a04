package budget

import (
	"os"
	"testing"
)

func TestLook(t *testing.T) {
	p := lightship()
	b := of(t, p, At{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1, Meter: &Accuracy{OfReading: 0.005, FloorA: 3e-5, ResolutionA: 1e-5}})
	if err := b.Text(os.Stdout, 80); err != nil {
		t.Fatal(err)
	}
}
