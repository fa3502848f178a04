package record

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"
	"unsafe"

	"sealworthy/capture"
)

// TestClockBack: readings an hour before the sitting before them stand after it.
func TestClockBack(t *testing.T) {
	m := newMemory()
	simulated := func(o *Opening) { o.Simulated = true }
	recorded(t, m, []Record{mark(capture.MarkBegin, "cabin", 1, nil), read("cabin", 2),
		mark(capture.MarkEnd, "cabin", 3, nil)}, simulated)
	var rs []Record
	for _, r := range []Record{mark(capture.MarkBegin, "cabin", 1, nil), read("cabin", 2),
		mark(capture.MarkEnd, "cabin", 3, nil)} {
		rs = append(rs, r.withAt(r.At().Add(-time.Hour)))
	}
	recorded(t, m, rs, startAt(-time.Hour), simulated)
	o := opening()
	o.Now = start.Add(-time.Hour)
	r, warn, err := Begin(shipOf(t, 30), o)
	if err != nil || len(warn) != 1 || !strings.Contains(warn[0].What, "clock stood 1h0m3s before the end") {
		t.Fatalf("the sitting that begins is told %v, %v", warn, err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	f, err := ReadFS(m.Tree(ship))
	if err != nil || f.Damage != nil || len(f.Steps) != 2 {
		t.Fatalf("%v, %v", f.Damage, err)
	}
	if a, b := f.Steps[0], f.Steps[1]; !b.BeganAt.After(a.EndedAt) || !b.Began.Before(a.Began) ||
		b.BeganAt.Sitting() != 2 {
		t.Errorf("first %s at %s, then %s at %s", a.BeganAt, a.Began, b.BeganAt, b.Began)
	}
	if f.Warnings != nil || len(f.Sittings[1].Clock) != 1 ||
		!strings.Contains(f.Sittings[1].Clock[0], "clock stood 1h0m3s before the end") {
		t.Errorf("warnings %v, the sitting says %v", f.Warnings, f.Sittings[1].Clock)
	}
}

// TestOwnInstants: lines rise strictly in time, and each reading has its own
// instant back, out of order or at the same one.
func TestOwnInstants(t *testing.T) {
	m := newMemory()
	times := []float64{1, 3, 2, 2, 2.5, 3, 4}
	rs := []Record{mark(capture.MarkBegin, "cabin", 0.5, nil)}
	for _, s := range times {
		rs = append(rs, read("cabin", s))
	}
	rs = append(rs, mark(capture.MarkEnd, "cabin", 5,
		func(m *capture.Mark) { m.Drops = []capture.Drop{{At: at(2.25)}} }))
	recorded(t, m, rs)
	var last int64
	for line := range bytes.Lines(m.Content(first)) {
		l, err := decodeLine(bytes.TrimSuffix(line, []byte("\n")))
		if err != nil || l.At.UnixNano() <= last {
			t.Fatalf("%s after %d: %v", line, last, err)
		}
		last = l.At.UnixNano()
	}
	f, err := ReadFS(m.Tree(ship))
	if err != nil || f.Damage != nil || f.Warnings != nil {
		t.Fatal(f.Damage, f.Warnings, err)
	}
	var got []float64
	for r := range f.Steps[0].All() {
		got = append(got, r.At.Sub(start).Seconds())
	}
	if fmt.Sprint(got) != "[1 2 2 2.5 3 3 4]" || !f.Steps[0].Drops[0].At.Equal(at(2.25)) {
		t.Errorf("instants %v, drop at %s", got, f.Steps[0].Drops[0].At)
	}
}

// TestClockSet: the wall clock is set while a sitting runs; its times go on by the
// clock that only goes forward, and that is said once.
func TestClockSet(t *testing.T) {
	now := time.Now() // with its reading of the clock that only goes forward
	set := func(by time.Duration, after time.Duration) time.Time {
		// The same instant as now+after, told by a wall clock that was set: what
		// time.Now gives then differs in its wall part alone.
		return shifted(now.Add(after), by)
	}
	m := newMemory()
	r := opened(t, m, func(o *Opening) { o.Now = now })
	for i, at := range []time.Time{now.Add(time.Second), set(-2*time.Hour, 2*time.Second),
		set(-2*time.Hour, 3*time.Second), set(-2*time.Hour+time.Second, 4*time.Second)} {
		x := nth(i)
		x.Reading.At = at
		if _, err := r.Append(x); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	h, _, err := readHead(m.Tree(ship))
	if err != nil {
		t.Fatal(err)
	}
	var marks []string
	var gaps []time.Duration
	last := now.Round(0)
	scan := newChainScan("x", h.Build, 1, 0)
	d := decoder{chained: true}
	scan.use = func(_ int64, l Line) error {
		rec, err := d.decode(l)
		switch {
		case err != nil:
			return err
		case rec.Mark != nil:
			marks = append(marks, rec.Mark.Reason)
		case rec.Reading != nil:
			gaps, last = append(gaps, rec.Reading.At.Sub(last)), rec.Reading.At
		}
		return nil
	}
	if err := scan.read(bytes.NewReader(m.Content(ship + "/readings/" + h.Sittings[0].File))); err != nil {
		t.Fatal(err)
	}
	if len(marks) != 1 || !strings.Contains(marks[0], "set back by 2h0m0s") {
		t.Errorf("marks %q", marks)
	}
	for i, g := range gaps {
		if g != time.Second {
			t.Errorf("between reading %d and the one before: %s", i, g)
		}
	}
	if len(gaps) != 4 {
		t.Errorf("%d readings", len(gaps))
	}
}

// shifted is what time.Now would give at the same moment had the wall clock been
// set by so much: the wall part moves, the reading of the clock that only goes
// forward stays. There is no other way to make such a time: Add moves both. With
// that reading, wall holds the seconds since 1885 in 33 bits above 30 bits of
// nanoseconds (comment on type Time in Go's time.go).
func shifted(t time.Time, by time.Duration) time.Time {
	wall := (*uint64)(unsafe.Pointer(&t))
	*wall += uint64(int64(by/time.Second)) << 30
	return t
}

func TestShifted(t *testing.T) {
	now := time.Now()
	set := shifted(now, -time.Hour)
	if set.Sub(now) != 0 || now.Round(0).Sub(set.Round(0)) != time.Hour {
		t.Fatalf("%s apart by the steady clock, %s by the wall's", set.Sub(now), now.Round(0).Sub(set.Round(0)))
	}
}
