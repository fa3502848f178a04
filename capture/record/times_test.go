package record

import (
	"bytes"
	"reflect"
	"testing"
	"time"

	"sealworthy/capture"
)

// TestTimesRise: within a series by 1 ns at least; other series are free.
func TestTimesRise(t *testing.T) {
	fs := newMemFS()
	r, _, err := OpenRecorder(fs, "a.lp", nil)
	if err != nil {
		t.Fatal(err)
	}
	same, other := nth(0), nth(0)
	other.Reading.Instrument = "supply"
	for _, x := range []Record{same, same, other, same} {
		if _, err := r.Append(x); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	var got []time.Duration
	if _, err := Scan(bytes.NewReader(fs.content("a.lp")), func(x Record) error {
		got = append(got, x.At().Sub(start))
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if want := []time.Duration{0, 1, 0, 2}; !reflect.DeepEqual(got, want) {
		t.Fatalf("times %v, want %v", got, want)
	}
}

// TestClockSetBack: an hour back, in a second sitting that appends. What lies
// between two readings stays, and the line says by how much it was moved.
func TestClockSetBack(t *testing.T) {
	fs := newMemFS()
	for sitting := range 2 {
		r, _, err := OpenRecorder(fs, "a.lp", nil)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 3 {
			x := nth(i)
			x.Reading.At = x.Reading.At.Add(-time.Duration(sitting) * time.Hour)
			if _, err := r.Append(x); err != nil {
				t.Fatal(err)
			}
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
	}
	var got []Record
	warn, err := Scan(bytes.NewReader(fs.content("a.lp")), func(x Record) error { got = append(got, x); return nil })
	if err != nil || warn != nil || len(got) != 6 {
		t.Fatalf("%d records, %v, %v", len(got), warn, err)
	}
	for i := 4; i < 6; i++ {
		if d := got[i].At().Sub(got[i-1].At()); d != 100*time.Millisecond {
			t.Errorf("between reading %d and the one before: %s", i, d)
		}
		if at := got[i].At().Add(-got[i].Shift); !at.Equal(start.Add(-time.Hour + time.Duration(i-3)*100*time.Millisecond)) {
			t.Errorf("reading %d: %s less shift %s is not the clock's time", i, got[i].At(), got[i].Shift)
		}
	}
}

// TestClockSetBackForAnotherFeed: the first lines after the clock was set back
// are of series that the file doesn't know, and move all the same.
func TestClockSetBackForAnotherFeed(t *testing.T) {
	fs := newMemFS()
	for sitting, feed := range []string{"cabin", "mast"} {
		r, _, err := OpenRecorder(fs, "a.lp", nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []Record{mark(capture.MarkBegin, feed, 0, nil), mark(capture.MarkSettled, feed, 1, nil), read(feed, 2),
			mark(capture.MarkEnd, feed, 3, nil)} {
			back := -time.Duration(sitting) * time.Hour
			if x.Mark != nil {
				x.Mark.At = x.Mark.At.Add(back)
			} else {
				x.Reading.At = x.Reading.At.Add(back)
			}
			if _, err := r.Append(x); err != nil {
				t.Fatal(err)
			}
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
	}
	var f Folder
	if warn, err := Scan(bytes.NewReader(fs.content("a.lp")), func(x Record) error { f.Add(x); return nil }); err != nil || warn != nil {
		t.Fatal(warn, err)
	}
	steps := f.Folded().Steps
	if len(steps) != 2 || len(steps[1].Trace("meter", "current")) != 1 || !steps[1].Began.After(steps[0].Ended) ||
		steps[1].Ended.Sub(steps[1].Began) != 3*time.Second {
		t.Fatalf("%+v", steps)
	}
}
