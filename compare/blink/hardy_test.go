package blink

import (
	"encoding/binary"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// allFinite walks every number of an answer.
func allFinite(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Float64:
		return finite(v.Float())
	case reflect.Struct:
		for i := range v.NumField() {
			if !allFinite(v.Field(i)) {
				return false
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if !allFinite(v.Index(i)) {
				return false
			}
		}
	}
	return true
}

// hardy runs one function, or all of them with a negative number, on the
// readings and complains of a number that isn't one.
func hardy(t interface{ Errorf(string, ...any) }, which int, s []Sample, k Known, want Pattern, tol Tolerance) {
	before := append([]Sample(nil), s...)
	levels := func(r Run) any {
		return Levels(s, k, Outputs{Run: r, Pattern: want, Tolerance: tol, BaseA: tol.OffA, BaseKnown: true,
			ExpectedA: []float64{tol.OnA, .01}})
	}
	all := []func() any{
		func() any {
			f := Pace(s, k)
			if f.Verdict == NotJudged || f.Why == "" {
				t.Errorf("no answer: %+v", f)
			}
			return f
		},
		func() any {
			m := Match(s, k, want, tol)
			if m.Agreement == NotCompared || m.Why == "" {
				t.Errorf("no answer: %+v", m)
			}
			return m
		},
		func() any { return levels(Alternate) },
		func() any { return levels(Together) },
		func() any { return levels(Free) },
		func() any {
			p := Joint(s, k, []Clock{clock("a", want.PeriodS, want.Duty, tol.OnA), clock("b", 1.3, .4, .01)})
			p.Settle(tol.OffA, tol.OffU)
			return p
		},
		func() any { return Window(s[:min(len(s), 40)], k) },
	}
	for i, f := range all {
		if which >= 0 && i != which {
			continue
		}
		if a := f(); !allFinite(reflect.ValueOf(a)) {
			t.Errorf("%d: a number that isn't one in %+v", i, a)
		}
	}
	for i := range s {
		if math.Float64bits(s[i].AtS) != math.Float64bits(before[i].AtS) ||
			math.Float64bits(s[i].Amps) != math.Float64bits(before[i].Amps) {
			t.Errorf("reading %d was changed", i)
			break
		}
	}
}

// odd draws numbers that hurt.
func odd(t *rapid.T, name string) float64 {
	return rapid.OneOf(rapid.Float64(), rapid.Float64Range(-1, 3),
		rapid.SampledFrom([]float64{0, 1, math.NaN(), math.Inf(1), math.Inf(-1), 1e308, -1e308, 5e-324, 1e-9,
			1e9})).Draw(t, name)
}

func TestNeverFails(t *testing.T) {
	if raced {
		t.Skip("too slow under the race detector; the fuzz seeds run")
	}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 30).Draw(t, "n")
		sane := rapid.Bool().Draw(t, "sane")
		s := make([]Sample, n)
		for i := range s {
			s[i] = Sample{odd(t, "at"), odd(t, "amps")}
			if sane {
				s[i] = Sample{rapid.Float64Range(0, 10).Draw(t, "t"), rapid.Float64Range(0, .03).Draw(t, "a")}
			}
		}
		k := Known{odd(t, "window"), odd(t, "window u"), odd(t, "stamp"), odd(t, "noise"), odd(t, "min"),
			odd(t, "max")}
		if sane {
			k.MinHz, k.MaxHz = 0, 0
		}
		want := Pattern{PeriodS: odd(t, "period"), Duty: odd(t, "duty")}
		if sane {
			want = Pattern{PeriodS: rapid.Float64Range(.5, 3).Draw(t, "p"),
				Duty: rapid.Float64Range(.01, .99).Draw(t, "d")}
		}
		hardy(t, rapid.IntRange(0, 6).Draw(t, "which"), s, k, want,
			Tolerance{odd(t, "ptol"), odd(t, "dtol"), odd(t, "on"), odd(t, "onu"), odd(t, "off"), odd(t, "offu")})
	})
}

// FuzzReadings takes bytes as readings: 2 bytes of time step, 2 of current,
// in an order of their own, and the last as the meter.
func FuzzReadings(f *testing.F) {
	r := seeded(3, 4)
	for _, n := range []int{0, 5, 40, 120, 200} {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(r.Uint32())
		}
		f.Add(b)
	}
	square := make([]byte, 0, 200)
	for i := range 50 {
		square = binary.LittleEndian.AppendUint16(square, 6500)
		square = binary.LittleEndian.AppendUint16(square, uint16(40000*(i/4%2)))
	}
	f.Add(square)
	// Short traces, whose finer paces reached below nothing.
	f.Add([]byte("VCcm\xfd\x19\u0604=\xffK+\xe9>z\x88q\xaco\xbf\x90EBu~\xd2\f#\xcc4\xf0\xd7\xe2\x1d\x1eK\u0278"))
	f.Add([]byte("lkV\xe7\xc8\xfa\x9d\xae\x11\x05\xe5{\xe86J\xf2\x1e\xaa\xc0\xf6\x87\v\xa9U\x8e\v+a\xac*z\r9\x12\x8cl\t\x85"))
	f.Add([]byte("\xeayU\xf8\xab\xfb\xf1/\xcb\x131\xfdl\xfe\x8bfO\xe3Q\xf3R\x04\xa3\x01\x1e\xf8\xe6ag\xf4\xa9^N\x15\xfcS\xda\xf9"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 600 {
			b = b[:600]
		}
		var s []Sample
		at := 0.0
		for len(b) >= 4 {
			at += float64(int16(binary.LittleEndian.Uint16(b))) / 65536
			s = append(s, Sample{at, float64(binary.LittleEndian.Uint16(b[2:])) * 1e-6})
			b = b[4:]
		}
		k := Known{WindowS: .1, NoiseA: .0002}
		for i, x := range b {
			k.WindowS = float64(x) / 200
			if i > 0 {
				k.NoiseA = 0
			}
		}
		hardy(t, -1, s, k, Pattern{PeriodS: 1, Duty: .5}, Tolerance{OnA: .02, OffA: .001})
	})
}

// TestOrderDoesntMatter shuffles readings and repeats some of them.
func TestOrderDoesntMatter(t *testing.T) {
	r := seeded(5, 6)
	k := taking{10, .09, .1, 20, .005, .0002}
	l := newLight(.9, .001, .020, rectangle(.4))
	s := k.read(r, l.mean)
	want := Pace(s, k.known())
	mixed := append(append([]Sample(nil), s...), s[3], s[40], Sample{math.NaN(), 1}, Sample{3, math.Inf(1)})
	r.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
	if got := Pace(mixed, k.known()); !reflect.DeepEqual(got, want) {
		t.Errorf("shuffled, with repeats: %+v, want %+v", got, want)
	}
}
