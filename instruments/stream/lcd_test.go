package stream

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
)

func builtIn(t testing.TB, name string) *profile.Profile {
	t.Helper()
	p, err := profile.Load(name, "")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func lcdForm(t testing.TB) *lcd {
	t.Helper()
	l, err := newLCD(builtIn(t, "lcd meter").LCD)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// frames lit by hand after the built-in table; figures a to g as on any
// seven-segment display.
var (
	// "12.34" mA DC: digits 1, 2, 3, 4; point before the third; m, A, DC.
	mA1234 = []byte{0x14, 0x20, 0x35, 0x45, 0x5B, 0x69, 0x7F, 0x82, 0x97, 0xA0, 0xB8, 0xC0, 0xD8, 0xE0}
	// "-0.L": minus, blank, 0, L, blank.
	overMA = []byte{0x14, 0x28, 0x30, 0x47, 0x5D, 0x6E, 0x78, 0x80, 0x90, 0xA0, 0xB8, 0xC0, 0xD8, 0xE0}
	// "1.234" V DC.
	v1234 = []byte{0x14, 0x20, 0x35, 0x4D, 0x5B, 0x61, 0x7F, 0x82, 0x97, 0xA0, 0xB0, 0xC0, 0xD4, 0xE0}
)

func change(f []byte, i int, b byte) []byte {
	out := slices.Clone(f)
	out[i-1] = b
	return out
}

func TestFramesOfSegments(t *testing.T) {
	l := lcdForm(t)
	var wrong *wrongQuantity
	for name, x := range map[string]struct {
		frame  []byte
		status instruments.Status // "": garbled; "dial": another quantity
		value  float64
		q      instruments.Quantity
		res    float64
	}{
		"12.34 mA": {mA1234, instruments.OK, 0.01234, instruments.Current, 1e-5},
		"minus":    {change(mA1234, 2, 0x28), instruments.OK, -0.01234, instruments.Current, 1e-5},
		"1.234 V":  {v1234, instruments.OK, 1.234, instruments.Voltage, 1e-3},
		"micro": {change(change(mA1234, 11, 0xB0), 10, 0xA8), instruments.OK, 12.34e-6,
			instruments.Current, 1e-8},
		"overload":            {overMA, instruments.Overload, 0, instruments.Current, 1e-5},
		"hold":                {change(mA1234, 12, 0xC1), instruments.Held, 0, instruments.Current, 1e-5},
		"no figure":           {change(mA1234, 3, 0x37), "", 0, "", 0},
		"two prefixes":        {change(mA1234, 10, 0xA8), "", 0, "", 0},
		"two points":          {change(mA1234, 4, 0x4D), "", 0, "", 0},
		"two units":           {change(mA1234, 13, 0xDC), "", 0, "", 0},
		"no unit":             {change(mA1234, 13, 0xD0), "", 0, "", 0},
		"neither AC nor DC":   {change(mA1234, 1, 0x10), "", 0, "", 0},
		"out of order":        {change(mA1234, 5, 0x4B), "", 0, "", 0},
		"AC":                  {change(mA1234, 1, 0x18), "dial", 0, "", 0},
		"relative":            {change(mA1234, 12, 0xC2), "dial", 0, "", 0},
		"blank in the number": {change(change(mA1234, 4, 0x40), 5, 0x50), "", 0, "", 0},
	} {
		s, err := l.read(x.frame)
		switch {
		case x.status == "":
			if !errors.Is(err, instruments.ErrGarbled) {
				t.Errorf("%s: %+v, %v", name, s, err)
			}
		case x.status == "dial":
			if !errors.As(err, &wrong) {
				t.Errorf("%s: %+v, %v", name, s, err)
			}
		case err != nil || s.Status != x.status || s.Quantity != x.q || math.Abs(s.Value-x.value) > 1e-12 ||
			math.Abs(s.Resolution-x.res) > 1e-6*x.res:
			t.Errorf("%s: %+v, %v", name, s, err)
		}
	}
}

// A segment that the profile doesn't know is no reading.
func TestUnknownSegment(t *testing.T) {
	form := *builtIn(t, "lcd meter").LCD
	form.Others = nil
	l, err := newLCD(&form)
	if err != nil {
		t.Fatal(err)
	}
	if s, err := l.read(change(mA1234, 1, 0x15)); !errors.Is(err, instruments.ErrGarbled) {
		t.Errorf("%+v, %v", s, err)
	}
}

// Frames are found again after any bytes that are no frame.
func TestFramingResynchronises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		noise := rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "noise")
		if _, _, ok := NextLCD(noise); ok {
			t.Skip("a frame by chance")
		}
		got := slices.Concat(noise, mA1234, v1234)
		// Noise may end like the beginning of a frame, and then spoil the first.
		for len(got) > 0 {
			start, end, ok := NextLCD(got)
			if !ok {
				t.Fatal("the last frame is lost")
			}
			if bytes.Equal(got[start:end], v1234) {
				return
			}
			got = got[end:]
		}
	})
}

func TestEveryCutFrameIsRefused(t *testing.T) {
	for i := range mA1234 {
		for name, f := range map[string][]byte{
			"dropped": slices.Delete(slices.Clone(mA1234), i, i+1),
			"doubled": slices.Insert(slices.Clone(mA1234), i, mA1234[i]),
		} {
			if start, end, ok := NextLCD(f); ok && !bytes.Equal(f[start:end], mA1234) {
				t.Errorf("byte %d %s: %x is a frame", i+1, name, f[start:end])
			}
		}
	}
}

func FuzzLCDFrame(f *testing.F) {
	f.Add(mA1234)
	f.Add(overMA)
	f.Add(slices.Concat([]byte{0xFF, 0x11}, v1234))
	l := lcdForm(f)
	f.Fuzz(func(t *testing.T, got []byte) {
		start, end, ok := NextLCD(got)
		if start < 0 || start > len(got) || ok && (end-start != frameBytes || end > len(got)) {
			t.Fatalf("frame %d to %d of %d", start, end, len(got))
		}
		if !ok {
			if len(got)-start >= frameBytes {
				t.Errorf("%d bytes kept without a frame", len(got)-start)
			}
			_, _ = l.read(got)
			return
		}
		s, err := l.read(got[start:end])
		if err == nil && s.Status == instruments.OK && (math.Abs(s.Value) > 9999e6 || math.IsNaN(s.Value) ||
			s.Quantity == "") {
			t.Errorf("%x shows %+v", got[start:end], s)
		}
	})
}
