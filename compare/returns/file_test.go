package returns

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"sealworthy/compare/blink"
	"sealworthy/instruments"
)

func invented() *Signature {
	room := 21.5
	return &Signature{Build: "Cutter", PlanRevision: "abc", TakenAt: time.Date(2026, 12, 1, 10, 15, 0, 0, time.UTC),
		Simulated: true, Jack: "main",
		WarmS: 600, AmbientC: &room, Instruments: map[string]instruments.Description{"meter": {Identity: "invented"}},
		Groups: []GroupCurve{
			{Group: "port windows", Closure: "hull", Kept: KeptSweep, Lit: Curve{Volts: []float64{2, 7, 12},
				Amps: []float64{0, 0.01, 0.05}, U: []float64{1e-6, 1e-6, 2e-6}}},
			{Group: "beacon, red", Board: "beacon", Output: 1, Kept: KeptLevels,
				Lit:   Curve{Volts: []float64{8, 12}, Amps: []float64{0.01, 0.02}},
				Paces: []Level{{Pace: "slow", PeriodS: 2, Duty: 0.3, OnA: 0.02, OnU: 1e-5}}}},
		Boards: []BoardCurve{{Board: "beacon", Dark: Curve{Volts: []float64{8, 12}, Amps: []float64{0.002, 0.003}}}},
		Whole: []Whole{{Pace: "beacon: slow", Sweep: Curve{Volts: []float64{2, 7, 12},
			Amps: []float64{0.001, 0.02, 0.08}}, DwellS: 4, WindowS: 0.1, Volts: 11.9,
			Trace: []blink.Sample{{AtS: 0, Amps: 0.07}, {AtS: 0.13, Amps: 0.09}}}},
		Resistor: &Resistor{Volts: 11.95, Amps: 0.239, U: 4e-6},
		Twins:    []Twin{{A: "a", B: "b", Distance: 0.4}}, Notes: []string{"a note, with \"quotes\""}}
}

func TestASignatureComesBackAsItWasWritten(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "the [bow] *") // no pattern, a name
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Skip("no such folder here:", err)
	}
	want := invented()
	src, err := Encode(nil, want)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, FileName(want))
	for name, src := range map[string][]byte{path: src, filepath.Join(dir, "20251201T101500Z.lp"): nil,
		filepath.Join(dir, "a note.lp"): nil} {
		if err := os.WriteFile(name, src, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if filepath.Base(path) != "20261201T101500Z.lp" {
		t.Errorf("file %s", path)
	}
	got, from, err := Latest(dir)
	if err != nil || from != path {
		t.Fatal(from, err)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if _, _, err := Latest(filepath.Join(dir, "none")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no folder: %v", err)
	}
}

// A curve with a hole would pass for another one: damage anywhere is an error.
func TestADamagedSignatureIsRefused(t *testing.T) {
	b, err := Encode(nil, invented())
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(b); i += 37 {
		x := bytes.Clone(b)
		x[i] ^= 0x11
		if _, err := Decode(bytes.NewReader(x)); err == nil {
			t.Errorf("byte %d changed from %q to %q, and nothing is said", i, b[i], x[i])
		}
	}
	if _, err := Decode(bytes.NewReader(nil)); err == nil {
		t.Error("an empty file is no signature")
	}
}

func FuzzDecode(f *testing.F) {
	b, err := Encode(nil, invented())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add(bytes.SplitAfter(b, []byte("\n"))[0])
	f.Add([]byte("curve,build=x of=1 1\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := Decode(bytes.NewReader(b))
		if err != nil {
			return
		}
		if s.Build == "" || s.TakenAt.IsZero() {
			return // can be read, not written
		}
		if _, err := Encode(nil, s); err != nil {
			t.Errorf("what was read can't be written: %v", err)
		}
	})
}
