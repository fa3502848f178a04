package main

import (
	"cmp"
	"errors"
	"fmt"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
)

// The command that goes on is the one that was given, but for what is marked
// in the record already.
func TestResumeCommand(t *testing.T) {
	for _, c := range []struct {
		verb string // "": measure
		args []string
		want string
	}{
		{"", []string{"brackwater"}, "sealworthy measure brackwater --resume"},
		{"", []string{"brackwater", "--closure", "lantern house", "--supply", "/dev/ttyUSB0"},
			`sealworthy measure brackwater --closure "lantern house" --supply /dev/ttyUSB0 --resume`},
		{"", []string{"b", "--redo", "cabin windows", "--redo=saloon", "--stage", "loose"},
			"sealworthy measure b --stage loose --resume"},
		{"", []string{"b", "--resume"}, "sealworthy measure b --resume"},
		{"", []string{`my "ship"`}, `sealworthy measure "my \"ship\"" --resume`},
		{"", []string{"keep", "--closure", "hull"}, "sealworthy measure keep --closure hull --resume"}, // a build's name
		{"soak", []string{"b", "--for", "2h"}, "sealworthy soak b --for 2h --resume"},
		{"next", []string{"b", "--do", "--change", "jack.main.volts = 5"}, "sealworthy next b --do"},
	} {
		if got := strings.Join(resumeCommand(cmp.Or(c.verb, "measure"), c.args), " "); got != c.want {
			t.Errorf("%q: %s, want %s", c.args, got, c.want)
		}
	}
}

// A broken test says first what became of the output.
func TestBroken(t *testing.T) {
	for _, c := range []struct {
		err         error
		file        string
		first, last string
	}{
		{fmt.Errorf("x: %w", capture.ErrOffNotConfirmed), "r.lp", "THE OUTPUT MAY STILL BE ON",
			"to go on:\n    sealworthy measure b --resume"},
		{errors.New("the meter is lost"), "r.lp", "the output is off", "to go on:"},
		{&capture.SignalError{}, "", "the output is off", "the output is off"},
	} {
		var h *hinted
		if s, ok := c.err.(*capture.SignalError); ok {
			s.Signal = capture.Signals()[0]
		}
		if err := broken(c.err, c.file, "measure", []string{"b"}); !errors.As(err, &h) || !errors.Is(err, c.err) {
			t.Fatalf("%v", err)
		}
		if !strings.HasPrefix(h.hints[0], c.first) || !strings.HasPrefix(h.hints[len(h.hints)-1], c.last) {
			t.Errorf("%v: %q", c.err, h.hints)
		}
	}
	if err := broken(errors.New("no supply is named"), "", "measure", []string{"b"}); len(err.(*hinted).hints) != 0 {
		t.Error("the bench wasn't touched: nothing is known of an output")
	}
}

// Another meter goes on at once only where nothing else went wrong: an output that may be
// on, or a line that isn't kept, ends the test and is told.
func TestAnotherMeterHidesNothing(t *testing.T) {
	meter := capture.AnotherMeter()
	for _, c := range []struct {
		err  error
		want bool
	}{
		{meter, true}, {errors.Join(meter, nil), true}, {fmt.Errorf("in a step: %w", errors.Join(meter)), true},
		{nil, false}, {errors.New("the disk died"), false},
		{&capture.AnotherError{StrangerError: &capture.StrangerError{Which: "supply"}}, false},
		{errors.Join(meter, capture.ErrOffNotConfirmed), false},
		{errors.Join(meter, &record.NotKeptError{Lines: 1, Err: errors.New("full")}), false},
		{errors.Join(meter, fmt.Errorf("the record: %w", &record.GoneError{Path: "r.lp"})), false},
		{errors.Join(meter, errors.New("nothing is written any more")), false},
	} {
		if got := session.GivenUp(c.err); got != c.want {
			t.Errorf("%v: given up %v", c.err, got)
		}
		if c.want {
			continue
		}
		var h *hinted
		if err := broken(c.err, "r.lp", "measure", nil); c.err != nil &&
			(!errors.Is(err, c.err) || !errors.As(err, &h)) {
			t.Errorf("%v", err)
		}
		if record.NotKept(c.err) && !strings.Contains(strings.Join(h.hints, " "),
			"not all of what was measured is kept") {
			t.Errorf("%v: %q", c.err, h.hints)
		}
	}
}

// Where not all is kept, or the output may be on, it isn't said that it was merely stopped.
func TestStoppedHidesNothing(t *testing.T) {
	stop := capture.ErrStopped
	for _, c := range []struct {
		err  error
		want bool
	}{
		{stop, true}, {fmt.Errorf("x: %w", stop), true}, {nil, false}, {errors.New("x"), false},
		{errors.Join(stop, capture.ErrOffNotConfirmed), false},
		{errors.Join(stop, &record.NotKeptError{Lines: 1, Err: errors.New("full")}), false},
		{errors.Join(stop, &record.GoneError{Path: "r.lp"}), false},
	} {
		if got := stopped(c.err); got != c.want {
			t.Errorf("%v: stopped %v", c.err, got)
		}
	}
}

// A long command is folded so that a shell takes it as one.
func TestFolded(t *testing.T) {
	long := strings.Repeat("x", 40)
	got := folded([]string{"sealworthy", "measure", long, long, "--resume"})
	want := "    sealworthy measure " + long + " \\\n      " + long + " --resume"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
