package terse

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/exchange/transcript"
	"sealworthy/instruments/profile"
)

func TestReplies(t *testing.T) {
	over := 9999
	for name, x := range map[string]struct {
		pt    profile.Point
		reply string
		want  float64
		mark  driver.Mark // 0: an error
	}{
		"five bytes":         {profile.Point{Length: 5, Scale: 1}, "12.00", 12, driver.Finite},
		"filled with blanks": {profile.Point{Length: 6, Scale: 1}, "  3.30", 3.3, driver.Finite},
		"negative":           {profile.Point{Length: 6, Scale: 0.001}, "-12.50", -0.0125, driver.Finite},
		"part of it":         {profile.Point{Length: 9, From: 4, Digits: 4, Scale: 0.001}, "1200012;x"[:9], 0, 0},
		"digits within": {profile.Point{Length: 9, From: 4, Digits: 4, Scale: 0.001}, "12000123x", 0.123,
			driver.Finite},
		"status byte": {profile.Point{Length: 1, Binary: true, Scale: 1}, "\x41", 0x41, driver.Finite},
		"two bytes, signed": {profile.Point{Length: 2, Binary: true, Signed: true, Scale: 1}, "\xff\xfe", -2,
			driver.Finite},
		"overload":             {profile.Point{Length: 4, Scale: 1, Over: &over}, "9999", 0, driver.Over},
		"too short":            {profile.Point{Length: 5, Scale: 1}, "12.0", 0, 0},
		"letters":              {profile.Point{Length: 5, Scale: 1}, "12.O0", 0, 0},
		"two points":           {profile.Point{Length: 5, Scale: 1}, "1.2.0", 0, 0},
		"blank behind":         {profile.Point{Length: 5, Scale: 1}, "12.0 ", 0, 0},
		"only a sign":          {profile.Point{Length: 2, Scale: 1}, " -", 0, 0},
		"exponent":             {profile.Point{Length: 4, Scale: 1}, "1.E3", 0, 0},
		"outside of the reply": {profile.Point{Length: 2, From: 2, Scale: 1}, "12", 0, 0},
	} {
		n, err := ParseReply(&x.pt, []byte(x.reply))
		if (err != nil) != (x.mark == 0) || err == nil && (n.Mark != x.mark || x.mark == driver.Finite &&
			math.Abs(n.Value-x.want) > 1e-12) {
			t.Errorf("%s: %+v, %v", name, n, err)
		}
	}
}

func TestSupplyTranscript(t *testing.T) {
	bg := context.Background()
	p, err := profile.Load("terse supply", "")
	if err != nil {
		t.Fatal(err)
	}
	c := clock.NewSimulated(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
	play := transcript.NewPlayback(c,
		transcript.Turn{Sent: "ISET1:0.100"}, transcript.Turn{Sent: "VSET1:12.00"},
		transcript.Turn{Sent: "STATUS?", Got: "\x01"}, // into step
		transcript.Turn{Sent: "ISET1?", Got: "0.100"}, transcript.Turn{Sent: "VSET1?", Got: "12.00"},
		transcript.Turn{Sent: "OUT1"}, transcript.Turn{Sent: "STATUS?", Got: "\x41"},
		transcript.Turn{Sent: "STATUS?", Got: "\x40"}, // constant current
		transcript.Turn{Sent: "IOUT1?", Got: "0.0x8"}, // garbled
		transcript.Turn{Sent: "STATUS?", Got: "\x41"}, // into step again
		transcript.Turn{Sent: "IOUT1?", Got: "0.038"}, //
		transcript.Turn{Sent: "OUT0"}, transcript.Turn{Sent: "OUT0"}, transcript.Turn{Sent: "STATUS?", Got: "\x01"},
	)
	s, err := made[*driver.Supply](t)(driven(play, "test", c, p))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Set(bg, 12, 0.1); err != nil {
		t.Error(err)
	}
	if err := s.On(bg); err != nil {
		t.Error(err)
	}
	if cc, err := s.Limiting(bg); err != nil || !cc {
		t.Errorf("limiting %v, %v", cc, err)
	}
	if _, err := s.Read(bg, instruments.Current); !errors.Is(err, instruments.ErrGarbled) {
		t.Error(err)
	}
	if r, err := s.Read(bg, instruments.Current); err != nil || *r.Value != 0.038 {
		t.Errorf("%+v, %v", r, err)
	}
	if err := s.Off(bg); err != nil {
		t.Error(err)
	}
	if err := s.Protect(bg, 13, 0.2); !errors.Is(err, instruments.ErrNoProtection) {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func FuzzReply(f *testing.F) {
	f.Add([]byte("12.00"), 0, 0, false, true)
	f.Add([]byte("\x41"), 0, 0, true, false)
	f.Add([]byte("12000123x"), 4, 4, false, false)
	f.Fuzz(func(t *testing.T, reply []byte, from, digits int, binary, signed bool) {
		if from < 0 || digits < 0 || from > 1000 || digits > 1000 || binary &&
			(digits > 4 || digits == 0 && len(reply)-from > 4) {
			return // the profile refuses these
		}
		pt := profile.Point{Length: len(reply), From: from, Digits: digits, Binary: binary, Signed: signed, Scale: 1}
		n, err := ParseReply(&pt, reply)
		if err == nil && (n.Mark != driver.Finite || math.IsNaN(n.Value)) {
			t.Errorf("%q became %+v", reply, n)
		}
		if took, _, err := SplitFixed(3, []byte("\r"))(reply); took < 0 || took > len(reply) || err != nil &&
			took != 0 {
			t.Errorf("%q: took %d", reply, took)
		}
	})
}
