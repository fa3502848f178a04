package stages_test

import (
	"math"
	"testing"

	"sealworthy/compare/load"
	"sealworthy/compare/scene"
)

// A room of 0 degC is a room: what was read there is set against the next
// reading as what was read at a hair above it.
func TestARoomOfZeroDegreesIsCold(t *testing.T) {
	p := brackwaterPlan(t)
	before := reading(t, p, nil, 3, 1, "closed", home(), load.Options{})
	now := reading(t, p, nil, 3, 2, "delivered", home(), load.Options{})
	at := func(c float64) float64 {
		before.Room = scene.Measured(&c)
		return compared(t, p, before, now).Parts[0].ExpectedA
	}
	cold, hair, warm := at(0), at(1e-6), at(25)
	if math.Abs(cold-hair) > 1e-7 {
		t.Errorf("the whole should draw %.3f mA after a stage at 0 degC, %.3f mA a hair above, %.3f mA after 25 degC",
			cold*1e3, hair*1e3, warm*1e3)
	}
	if math.Abs(warm-hair) < 1e-5 {
		t.Errorf("25 degC more are worth %.4f mA: this test can't tell them apart", (warm-hair)*1e3)
	}
}
