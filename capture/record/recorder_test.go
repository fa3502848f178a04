package record

import (
	"bytes"
	"errors"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record/recordtest"
)

// TestKeptMeansSynced looks at each kept(seq) whether so many lines had been
// synced by then, and whether the head counts them: that is what a power cut
// would leave.
func TestKeptMeansSynced(t *testing.T) {
	m := newMemory()
	var calls []uint64
	r := opened(t, m, func(o *Opening) {
		o.Kept = func(seq uint64) {
			calls = append(calls, seq)
			if n := bytes.Count(m.Synced(first), []byte("\n")); n < int(seq) {
				t.Errorf("kept(%d) with %d lines synced", seq, n)
			}
			if h, _, err := readHead(m.Tree(ship)); err != nil || h.Sittings[0].Lines != int(seq) {
				t.Errorf("kept(%d), the head says %+v, %v", seq, h, err)
			}
		}
	})
	for i := range 500 {
		seq, err := r.Append(nth(i))
		if err != nil || seq != uint64(i+2) {
			t.Fatalf("append %d: seq %d, %v", i, seq, err)
		}
	}
	if err := r.Flush(); err != nil {
		t.Fatal(err)
	}
	if r.Kept() != 501 {
		t.Fatalf("kept %d after Flush", r.Kept())
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if len(calls) == 0 || calls[len(calls)-1] != 502 || !slices.IsSorted(calls) ||
		len(slices.Compact(slices.Clone(calls))) != len(calls) {
		t.Fatalf("kept was told %v", calls)
	}
	if got, damage, warn := survivors(t, m, first); !reflect.DeepEqual(got, upTo(500)) || damage != nil ||
		warn != nil {
		t.Fatalf("readings %v, %v, %v", got, damage, warn)
	}
	if _, err := r.Append(nth(501)); err == nil {
		t.Fatal("append after Close gave no error")
	}
}

// TestFullDisk fills the disk at each byte of the fourth line: the file is cut
// to its whole lines, the error surfaces, and once there is room nothing is missing.
func TestFullDisk(t *testing.T) {
	file := shipOf(t, 6).Content(first)
	third, fourth := lineOf(file, 4)
	for at := third; at < fourth; at++ {
		m := newMemory()
		m.Room = int64(at)
		r := opened(t, m)
		var failed *NotKeptError
		for i := range 6 {
			if seq, err := r.Append(nth(i)); seq == 0 {
				t.Fatalf("disk full at %d: line %d was not taken: %v", at, i, err)
			}
			if i < 3 {
				if err := r.Flush(); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := r.Flush(); !errors.As(err, &failed) || !errors.Is(err, recordtest.ErrNoRoom) || failed.Lines != 3 ||
			failed.Offset != int64(third) {
			t.Fatalf("disk full at %d: Flush gave %v", at, err)
		}
		if got := m.Content(first); !bytes.Equal(got, file[:third]) {
			t.Fatalf("disk full at %d: the file was left with %d bytes, not %d", at, len(got), third)
		}
		if r.Kept() != 4 {
			t.Fatalf("kept %d", r.Kept())
		}
		m.Locked(func() { m.Room = 0 })
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
		if got := m.Content(first); !bytes.Equal(got, file) {
			t.Fatalf("disk full at %d: after room was made the file differs", at)
		}
	}
}

func TestErrorSurfacesInAppend(t *testing.T) {
	m := newMemory()
	m.Room = 1
	r := opened(t, m)
	if _, err := r.Append(nth(0)); err != nil && !errors.Is(err, recordtest.ErrNoRoom) {
		t.Fatal(err)
	}
	if err := r.Flush(); err == nil {
		t.Fatal("no error from a full disk")
	}
	seq, err := r.Append(nth(1))
	var nk *NotKeptError
	if seq != 3 || !errors.As(err, &nk) || nk.Lines != 3 {
		t.Fatalf("seq %d, %v", seq, err)
	}
	for err = nil; ; {
		seq, err = r.Append(nth(2))
		if seq == 0 {
			break
		}
	}
	if !errors.As(err, &nk) || nk.Lines < queueBytes/1000 {
		t.Fatalf("a full queue on a full disk gave %v", err)
	}
	if err := r.Close(); !errors.As(err, &nk) {
		t.Fatalf("Close gave %v with lines not on disk", err)
	}
}

// TestFailing: whatever operation fails, once or twice, in whichever place, what
// was kept is there, and after it is mended all is there, once.
func TestFailing(t *testing.T) {
	whole := shipOf(t, 4).Content(first)
	for _, op := range []string{"write", "sync", "replace"} {
		for nth0 := range 6 {
			for times := 1; times <= 2; times++ {
				m := newMemory()
				r := opened(t, m)
				if err := r.Flush(); err != nil {
					t.Fatal(err)
				}
				seen, cuts := 0, 1
				m.Locked(func() {
					m.Fail = func(o, _ string) error {
						if o == op {
							if seen++; seen > nth0 && seen <= nth0+times {
								return errors.New("input/output error")
							}
						}
						if o == "cut" && cuts > 0 {
							cuts--
							return errors.New("input/output error")
						}
						return nil
					}
				})
				failed := 0
				for i := range 4 {
					if seq, err := r.Append(nth(i)); seq == 0 {
						t.Fatal(err)
					}
					if err := r.Flush(); err != nil {
						failed++
					}
					if n := bytes.Count(m.Synced(first), []byte("\n")); n < int(r.Kept()) {
						t.Fatalf("%s: kept %d, %d lines synced", op, r.Kept(), n)
					}
				}
				m.Locked(func() { m.Fail = nil })
				if err := r.Close(); err != nil {
					t.Fatal(err)
				}
				if nth0 < 3 && failed == 0 && times == 2 {
					t.Errorf("%s failed twice from %d on, and nobody was told", op, nth0)
				}
				if got := m.Content(first); !bytes.Equal(got, whole) {
					t.Fatalf("%s failing %d times after %d: the file differs", op, times, nth0)
				}
				if f, err := ReadFS(m.Tree(ship)); err != nil || f.Damage != nil {
					t.Fatalf("%s: %v, %v", op, f.Damage, err)
				}
			}
		}
	}
}

// TestFileGone: a file that is removed or replaced under its name is noticed at
// the next sync, and nothing is called kept from then on.
func TestFileGone(t *testing.T) {
	for name, do := range map[string]func(m *recordtest.Memory){
		"removed":  func(m *recordtest.Memory) { m.Set(first, nil) },
		"replaced": func(m *recordtest.Memory) { m.Set(first, m.Content(first)) },
	} {
		m := newMemory()
		r := opened(t, m)
		if _, err := r.Append(nth(0)); err != nil {
			t.Fatal(err)
		}
		if err := r.Flush(); err != nil {
			t.Fatal(err)
		}
		do(m)
		if _, err := r.Append(nth(1)); err != nil {
			var gone *GoneError
			if !errors.As(err, &gone) {
				t.Fatal(err)
			}
		}
		var gone *GoneError
		if err := r.Flush(); !errors.As(err, &gone) || gone.Path != first {
			t.Errorf("%s: %v", name, err)
		}
		if r.Kept() != 2 {
			t.Errorf("%s: kept %d", name, r.Kept())
		}
		if err := r.Close(); !errors.As(err, &gone) {
			t.Errorf("%s: closed with %v", name, err)
		}
	}
}

// TestMeasuringDoesNotWait: with a disk that hangs, Append returns until the
// queue is full, then waits, and goes on when the disk does.
func TestMeasuringDoesNotWait(t *testing.T) {
	m := newMemory()
	hang := make(chan struct{})
	r := opened(t, hangFS{m, hang})
	line := len(shipOf(t, 1).Content(first)) / 3
	for i := range queueBytes / (line + 150) {
		if _, err := r.Append(nth(i)); err != nil {
			t.Fatal(err)
		}
	}
	full := make(chan struct{})
	go func() {
		defer close(full)
		for i := range queueBytes / line {
			if _, err := r.Append(nth(queueBytes/line + i)); err != nil {
				t.Error(err)
			}
		}
	}()
	select {
	case <-full:
		t.Fatal("the queue has no end")
	case <-time.After(20 * time.Millisecond):
	}
	close(hang)
	<-full
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
}

// hangFS makes files that sync only once hang is closed.
type hangFS struct {
	*recordtest.Memory
	hang chan struct{}
}

type hangFile struct {
	File
	hang chan struct{}
}

func (h hangFS) Create(name string) (File, error) {
	f, err := h.Memory.Create(name)
	return hangFile{f, h.hang}, err
}

func (h hangFS) Same(File, string) (bool, error) { return true, nil }

func (h hangFile) Sync() error { <-h.hang; return h.File.Sync() }

// TestManyWriters is for the race detector, and sees that no line is lost.
func TestManyWriters(t *testing.T) {
	m := newMemory()
	r := opened(t, m)
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			for i := range 100 {
				x := nth(i)
				x.Step.Feed = strings.Repeat("x", w+1)
				if _, err := r.Append(x); err != nil {
					t.Error(err)
				}
				if i%10 == 0 {
					if err := r.Flush(); err != nil {
						t.Error(err)
					}
				}
			}
		})
	}
	wg.Wait()
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if got, damage, warn := survivors(t, m, first); len(got) != 400 || damage != nil || warn != nil {
		t.Fatalf("%d readings, %v %v", len(got), damage, warn)
	}
}

// TestRefused: what can't be a line is an error at once and leaves no trace.
func TestRefused(t *testing.T) {
	m := newMemory()
	r := opened(t, m)
	for name, spoil := range map[string]func(*Record){
		"no time":            func(x *Record) { x.Reading.At = time.Time{} },
		"no stage":           func(x *Record) { x.Step.Stage = "" },
		"no status":          func(x *Record) { x.Reading.Status = "" },
		"ok without a value": func(x *Record) { x.Reading.Value = nil },
		"backslash":          func(x *Record) { x.Step.Feed = `cabin\` },
		"newline":            func(x *Record) { x.Step.Feed = "cabin\nwindows" },
		"not UTF-8":          func(x *Record) { x.Step.Feed = "\xff" },
		"nothing":            func(x *Record) { x.Reading = nil },
		"both":               func(x *Record) { x.Mark = &capture.Mark{Kind: capture.MarkOn} },
		"unknown mark":       func(x *Record) { x.Reading = nil; x.Mark = &capture.Mark{At: start, Stage: "loose"} },
		"begin, no step": func(x *Record) {
			x.Reading = nil
			x.Mark = &capture.Mark{Kind: "begin", At: start,
				Stage: "loose"}
		},
		"end, no outcome": func(x *Record) {
			x.Reading = nil
			x.Mark = &capture.Mark{Kind: "end", At: start,
				Stage: "loose"}
		},
		"takes nothing back": func(x *Record) {
			x.Reading = nil
			x.Mark = &capture.Mark{Kind: capture.MarkTakenBack, At: start, Stage: "loose"}
		},
		"allows nothing": func(x *Record) {
			x.Reading = nil
			x.Mark = &capture.Mark{Kind: capture.MarkAllowed, At: start, Stage: "loose"}
		},
		"beyond 2262": func(x *Record) { x.Reading.At = time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC) },
	} {
		x := nth(0)
		spoil(&x)
		if seq, err := r.Append(x); err == nil || seq != 0 {
			t.Errorf("%s: seq %d, %v", name, seq, err)
		}
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if got := m.Content(first); bytes.Count(got, []byte("\n")) != 2 {
		t.Fatalf("left %q", got)
	}
}

// TestWriterDies: a panic in the writer's goroutine is an error of all that is
// asked from then on, and nobody waits for ever.
func TestWriterDies(t *testing.T) {
	m := newMemory()
	r := opened(t, m, func(o *Opening) { o.Kept = func(uint64) { panic("of a test") } })
	if err := r.Flush(); err != nil && !strings.Contains(err.Error(), "of a test") {
		t.Fatal(err)
	}
	<-r.done
	for r.Flush() == nil { // the line before the panic was kept
		if _, err := r.Append(nth(0)); err != nil {
			break
		}
	}
	if _, err := r.Append(nth(1)); err == nil || !strings.Contains(err.Error(), "of a test") {
		t.Fatalf("append: %v", err)
	}
	if err := r.Close(); err == nil {
		t.Fatal("closed without a word")
	}
}
