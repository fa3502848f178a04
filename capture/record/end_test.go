package record

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
)

// The end of a sitting says what broke it off, whoever reads it. One that was killed has no end.
func TestEndSaysWhatBrokeItOff(t *testing.T) {
	dir := t.TempDir()
	fs := osIn(filepath.Join(dir, "locks"))
	at := func(i int) func(*Opening) {
		return func(o *Opening) { o.Dir, o.Now = dir, start.Add(time.Duration(i)*time.Hour) }
	}
	cases := []struct {
		broke error
		want  string
	}{
		{nil, ""},
		{capture.ErrStopped, "stopped by the maker"},
		{errors.Join(errors.New("the supply is gone"), errors.New(`port "a\b"`)), `the supply is gone; port "a\b"`},
		{errors.New("\n"), "it isn't known why"},
		{errors.New(strings.Repeat("é", 400)), strings.Repeat("é", 250) + "..."},
	}
	for i, c := range cases {
		r := opened(t, fs, at(i))
		if _, err := r.Append(nth(i)); err != nil {
			t.Fatal(err)
		}
		if err := r.End(c.broke); err != nil {
			t.Fatal(err)
		}
	}
	f, err := ReadDir(dir)
	if err != nil || len(f.Damage) > 0 || len(f.Sittings) != len(cases) {
		t.Fatal(f.Damage, err, len(f.Sittings))
	}
	var wants []string
	for i, s := range f.Sittings {
		if wants = append(wants, cases[i].want); !s.Whole || s.BrokeOff != cases[i].want {
			t.Errorf("whole %v, broke off %q, want %q", s.Whole, s.BrokeOff, cases[i].want)
		}
	}
	killed := opened(t, fs, at(len(cases)))
	if err := killed.Flush(); err != nil {
		t.Fatal(err)
	}
	if f, err = ReadDir(dir); err != nil || f.Sittings[len(cases)].Whole || f.Sittings[len(cases)].BrokeOff != "" {
		t.Errorf("one without its end: %+v, %v", f.Sittings[len(cases)], err)
	}
	if err := killed.Close(); err != nil {
		t.Fatal(err)
	}
	python(t)
	var other struct {
		BrokeOff []string `json:"broke_off"`
	}
	otherReader(t, dir, &other)
	if !slices.Equal(other.BrokeOff, append(wants, "")) {
		t.Errorf("the other reader says %q, want %q", other.BrokeOff, wants)
	}
}
