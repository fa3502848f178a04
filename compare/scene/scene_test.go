package scene

import (
	"math"
	"testing"
)

// 0 is a value wherever something may be not given.
func TestNotGivenIsNotZero(t *testing.T) {
	var none Scene
	zero := Scene{SetVolts: Is(0), Room: Measured(Is(0)), Volts: Is(0), LimitA: Is(0)}
	if r := zero.RoomOr(); r.C != 0 || r.HalfC != MeasuredHalfC {
		t.Errorf("a room of 0 degC is %+v", r)
	}
	if r := none.RoomOr(); r.C != 25 || r.HalfC != 5 {
		t.Errorf("a room that nobody measured is %+v", r)
	}
	if zero.SetHalfV() != 0 || none.SetHalfV() != DefaultSetVolts {
		t.Errorf("a supply that is exact: %g V, one that nobody knows: %g V", zero.SetHalfV(), none.SetHalfV())
	}
	if !(zero.LimitAt(12) > 0 && zero.LimitAt(12) < none.LimitAt(12)) {
		t.Errorf("a limit of 0 A is %g A", zero.LimitAt(12))
	}
	if s := (Scene{LimitA: Is(0.1), Limits: []Limit{{5, 0.2}}}); s.LimitAt(12) != 0.1 || s.LimitAt(5) != 0.2 {
		t.Errorf("limits of %g A at 12 V and %g A at 5 V", s.LimitAt(12), s.LimitAt(5))
	}
	if Given(0) != nil || *Given(0.5) != 0.5 || Measured(nil) != nil {
		t.Error("what a flag or a record doesn't give is nil")
	}
	if f := none.Filled(); f.Room.C != 25 || *f.SetVolts != DefaultSetVolts || none.Room != nil {
		t.Errorf("filled: %+v", f)
	}
}

// Scenes that differ in anything have different keys; what is given as it would be taken anyway is the same.
func TestKeysTellScenesApart(t *testing.T) {
	seen := map[string]int{}
	for i, s := range []Scene{{}, {Volts: Is(0)}, {Volts: Is(12)}, {SetVolts: Is(0)}, {BurdenOhm: 1}, {LeadsOhm: 1},
		{LeadsHalfOhm: 1}, {Room: Measured(Is(0))}, {On: []string{}}, {On: []string{"a b"}}, {On: []string{"a", "b"}},
		{Loose: true}, {Accuracy: &Accuracy{}}, {LimitA: Is(1)}, {Limits: []Limit{{5, 1}}}, {Limits: []Limit{{6, 1}}}, {JitterV: 1}, {Supply: "x"}, {Sitting: "x"},
		{Meter: "x"}} {
		if was, ok := seen[s.Key()]; ok {
			t.Errorf("scenes %d and %d have one key", was, i)
		}
		seen[s.Key()] = i
		if err := s.Check(); err != nil {
			t.Errorf("%d: %v", i, err)
		}
	}
	if (Scene{}).Key() != (Scene{}).Filled().Key() {
		t.Error("a scene and the same with its defaults filled in have two keys")
	}
	for _, s := range []Scene{{Volts: Is(-1)}, {SetVolts: Is(math.NaN())}, {LeadsOhm: math.Inf(1)},
		{Room: &Room{C: 200}},
		{LimitA: Is(math.NaN())}, {Accuracy: &Accuracy{OfReading: 2}}} {
		if s.Check() == nil {
			t.Errorf("%+v was taken", s)
		}
	}
}
