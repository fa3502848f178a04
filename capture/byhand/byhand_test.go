package byhand

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		text, bare string
		value, res float64
	}{
		{"38.2", "mA", 0.0382, 1e-4},
		{"38,2 mA", "A", 0.0382, 1e-4},
		{" 0.04 A ", "mA", 0.04, 1e-2},
		{"-0.3", "mA", -0.0003, 1e-4},
		{"412 uA", "mA", 412e-6, 1e-6},
		{"412µA", "mA", 412e-6, 1e-6},
		{"38ma", "A", 0.038, 1e-3},
		{".5", "A", 0.5, 0.1},
		{"+12", "mA", 0.012, 1e-3},
	} {
		got, err := Parse(c.text, instruments.Current, c.bare)
		if err != nil || math.Abs(got.Value-c.value) > 1e-12 || math.Abs(got.Resolution-c.res) > 1e-12 ||
			got.Overload {
			t.Errorf("%q: %+v, %v; want %v ± %v", c.text, got, err, c.value, c.res)
		}
	}
	for _, ol := range []string{"OL", "ol", "0L", "O.L", ".OL", "0.L"} {
		if got, err := Parse(ol, instruments.Current, "mA"); err != nil || !got.Overload {
			t.Errorf("%q: %+v, %v", ol, got, err)
		}
	}
	for _, bad := range []string{"", "mA", "1.234,5", "1.2.3", "38 V", "38 MA", "38 kA", "--3", "1e3", "NaN", "Inf",
		"0x10", "38.2 mA now", "1 000", "9999999999999"} {
		if got, err := Parse(bad, instruments.Current, "mA"); !errors.Is(err, ErrNumber) {
			t.Errorf("%q: taken as %+v, %v", bad, got, err)
		}
	}
	if got, err := Parse("12.1 V", instruments.Voltage, "V"); err != nil || got.Value != 12.1 {
		t.Errorf("%+v, %v", got, err)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"38.2", "38,2 mA", "0.04 A", "OL", "µ", "-", ".", "1,", "\xff", "12 uA"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := Parse(s, instruments.Current, "mA")
		if err != nil {
			if !errors.Is(err, ErrNumber) || got != (Typed{}) {
				t.Errorf("%q: %+v, %v", s, got, err)
			}
			return
		}
		if math.IsNaN(got.Value) || math.IsInf(got.Value, 0) || math.Abs(got.Value) > 1e12 {
			t.Errorf("%q: value %v", s, got.Value)
		}
		if !got.Overload && !strings.ContainsAny(s, "0123456789") {
			t.Errorf("%q: a number without a digit: %v", s, got.Value)
		}
		if !got.Overload && got.Resolution <= 0 {
			t.Errorf("%q: resolution %v", s, got.Resolution)
		}
	})
}

type typist struct {
	answers []capture.Answer
	asked   []capture.Question
	err     error
	hook    func(capture.Question)
}

func (f *typist) Show(capture.Event) {}
func (f *typist) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	f.asked = append(f.asked, q)
	if f.hook != nil {
		f.hook(q)
	}
	if f.err != nil {
		return capture.Answer{}, f.err
	}
	if len(f.answers) == 0 {
		if q.Kind == capture.AskAgain {
			return capture.Answer{Choice: "next"}, ctx.Err() // redo, the first, would go round without end
		}
		return capture.Answer{Choice: q.Choices[0]}, ctx.Err()
	}
	a := f.answers[0]
	f.answers = f.answers[1:]
	return a, nil
}

func sim() *clock.Simulated { return clock.NewSimulated(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)) }

func TestMeterAsks(t *testing.T) {
	f := &typist{answers: []capture.Answer{{Text: "about forty"}, {Text: "38,2 mA"}}}
	m := &Meter{Face: f, Clock: sim(), Accuracy: instruments.Accuracy{OfReading: 0.01, Floor: 0.0003}}
	r, err := m.Read(context.Background(), instruments.Current)
	if err != nil {
		t.Fatal(err)
	}
	v, ok := r.Float()
	if !ok || math.Abs(v-0.0382) > 1e-12 || r.Raw != "38,2 mA" || r.Unit != "A" {
		t.Errorf("%+v", r)
	}
	// 1 % of 38.2 mA + 0.3 mA + the last place of 0.1 mA
	if math.Abs(r.HalfWidth-0.000782) > 1e-9 {
		t.Errorf("half-width %v", r.HalfWidth)
	}
	if len(f.asked) != 2 || !strings.Contains(f.asked[1].Text, "type what the display shows") &&
		!strings.Contains(f.asked[1].Text, "no unit") {
		t.Errorf("asked %+v", f.asked)
	}
	f.answers = []capture.Answer{{Text: "OL"}}
	if r, err = m.Read(context.Background(), instruments.Current); err != nil || r.Status != instruments.Overload ||
		r.Value != nil {
		t.Errorf("%+v, %v", r, err)
	}
	f.answers = []capture.Answer{{Text: "x"}, {Text: "y"}, {Text: "z"}}
	if _, err = m.Read(context.Background(), instruments.Current); !errors.Is(err, instruments.ErrGarbled) {
		t.Errorf("error %v", err)
	}
	f.answers = []capture.Answer{{Choice: "stop"}}
	if _, err = m.Read(context.Background(), instruments.Current); !errors.Is(err, capture.ErrStopped) {
		t.Errorf("error %v", err)
	}
}

func TestSupplyByHandSaysThatItCantSwitchOff(t *testing.T) {
	f := &typist{}
	s := &Supply{Face: f}
	ctx := context.Background()
	if err := s.Set(ctx, 12, 0.045); err != nil || !strings.Contains(f.asked[0].Text, "12.0 V, limit 45 mA") {
		t.Errorf("%v, %+v", err, f.asked)
	}
	if err := s.On(ctx); err != nil {
		t.Fatal(err)
	}
	if err := s.Off(ctx); err != nil || !strings.Contains(f.asked[2].Text, "can't do it for you") {
		t.Errorf("%v, %+v", err, f.asked)
	}
	if err := s.Off(ctx); err != nil || len(f.asked) != 3 {
		t.Errorf("asked again for an off that was confirmed: %v, %d", err, len(f.asked))
	}
	if err := s.On(ctx); err != nil {
		t.Fatal(err)
	}
	f.err = errors.New("the terminal is closed")
	if err := s.Off(ctx); !errors.Is(err, ErrNotConfirmed) {
		t.Errorf("error %v", err)
	}
	if _, err := s.Read(ctx, instruments.Voltage); err == nil {
		t.Error("a supply set by hand can't be read")
	}
}
