package driver

import (
	"errors"
	"math"
	"testing"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
)

func TestHalfWidthOfAFreeRange(t *testing.T) {
	ranges := []instruments.Range{
		{Name: "small", Max: 0.02, Accuracy: instruments.Accuracy{OfReading: 0.002, Floor: 5e-6}},
		{Name: "large", Max: 0.2, Accuracy: instruments.Accuracy{OfReading: 0.002, Floor: 50e-6}},
	}
	for _, x := range []struct {
		value, want float64
		name        string
	}{
		{0.01, 25e-6, "small"},  // 0.2 % + 5 uA, by hand
		{-0.01, 25e-6, "small"}, // the sign doesn't matter
		{0.019, 88e-6, "small"}, // near the top it may be on the large one already
		{0.1, 250e-6, "large"},  //
		{0.21, 470e-6, "large"}, // over the end of the last range
	} {
		hw, name := halfWidth(ranges, x.value)
		if math.Abs(hw-x.want) > 1e-12 || name != x.name {
			t.Errorf("%v: ± %v on %s, want %v on %s", x.value, hw, name, x.want, x.name)
		}
	}
	if hw, name := halfWidth(nil, 1); hw != 0 || name != "" {
		t.Error("no ranges, no half-width")
	}
}

func TestYesOrNo(t *testing.T) {
	bit, is := 1, 7
	finite := func(v float64) Answer { return Answer{Number: Number{Value: v, Mark: Finite}} }
	for name, x := range map[string]struct {
		pt   profile.Point
		a    Answer
		want string
	}{
		"one":          {profile.Point{Scale: 1}, finite(1), "yes"},
		"zero":         {profile.Point{Scale: 1}, finite(0), "no"},
		"two":          {profile.Point{Scale: 1}, finite(2), "error"},
		"half":         {profile.Point{Scale: 1}, finite(0.5), "error"},
		"bit set":      {profile.Point{Scale: 1, Bit: &bit}, finite(6), "yes"},
		"bit clear":    {profile.Point{Scale: 1, Bit: &bit}, finite(5), "no"},
		"number meant": {profile.Point{Scale: 1, Is: &is}, finite(7), "yes"},
		"another":      {profile.Point{Scale: 1, Is: &is}, finite(1), "no"},
		"overload":     {profile.Point{Scale: 1}, Answer{Number: Number{Mark: Over}}, "error"},
		"nothing":      {profile.Point{Scale: 1}, Answer{}, "error"},
	} {
		got, err := yes(&x.pt, x.a)
		said := map[bool]string{true: "yes", false: "no"}[got]
		if err != nil {
			said = "error"
			if !errors.Is(err, instruments.ErrGarbled) {
				t.Errorf("%s: %v", name, err)
			}
		}
		if said != x.want {
			t.Errorf("%s: %s, want %s", name, said, x.want)
		}
	}
}

// doubting counts how often the line was put out of step.
type doubting struct {
	Protocol
	doubts int
}

func (d *doubting) Doubt() { d.doubts++ }

func TestImplausibleNumbersAreGarbled(t *testing.T) {
	p, err := profile.Load("scpi meter", "") // 1 uA is its finest step, 2.2 A its largest range
	if err != nil {
		t.Fatal(err)
	}
	for value, ok := range map[float64]bool{0: true, 1e-6: true, -1e-9: true, 1e-11: false, -2.99e-22: false,
		2.3: true, 2.5: false, -2.5: false} {
		d := &doubting{}
		b := newBase(p, d, nil)
		r, err := b.reading(instruments.Current, Answer{Number: Number{Value: value, Mark: Finite}}, nil)
		if (err == nil) != ok || (d.doubts == 0) != ok || err != nil && !errors.Is(err, instruments.ErrGarbled) {
			t.Errorf("%v: %+v, %v, %d doubts", value, r, err, d.doubts)
		}
	}
}
