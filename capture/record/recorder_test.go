package record

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"sealworthy/capture"
)

// TestKeptMeansSynced looks at each kept(seq) whether so many lines had been
// synced by then: that is what a power cut would leave.
func TestKeptMeansSynced(t *testing.T) {
	fs := newMemFS()
	var calls []uint64
	r, _, err := OpenRecorder(fs, "a.lp", func(seq uint64) {
		fs.mu.Lock()
		defer fs.mu.Unlock()
		calls = append(calls, seq)
		if n := bytes.Count(fs.files["a.lp"].synced, []byte("\n")); n < int(seq) {
			t.Errorf("kept(%d) with %d lines synced", seq, n)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 500 {
		seq, err := r.Append(nth(i))
		if err != nil || seq != uint64(i+1) {
			t.Fatalf("append %d: seq %d, %v", i, seq, err)
		}
	}
	if err := r.Flush(); err != nil {
		t.Fatal(err)
	}
	if r.Kept() != 500 {
		t.Fatalf("kept %d after Flush", r.Kept())
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if len(calls) == 0 || calls[len(calls)-1] != 500 {
		t.Fatalf("kept was told %v", calls)
	}
	for i := 1; i < len(calls); i++ {
		if calls[i] <= calls[i-1] {
			t.Fatalf("kept went back: %v", calls)
		}
	}
	if got, warn := numbers(t, fs.content("a.lp")); !reflect.DeepEqual(got, upTo(500)) || warn != nil {
		t.Fatalf("readings %v, warnings %v", got, warn)
	}
	if _, err := r.Append(nth(501)); err == nil {
		t.Fatal("append after Close gave no error")
	}
}

// TestFullDisk fills the disk at each byte of the fourth line: the file is cut
// to its whole lines, the error surfaces, and once there is room nothing is missing.
func TestFullDisk(t *testing.T) {
	file := fileOf(t, 6)
	third := bytes.Index(file, []byte("#3"))
	third = bytes.LastIndexByte(file[:third], '\n') + 1
	fourth := third + bytes.IndexByte(file[third:], '\n') + 1
	for at := third; at < fourth; at++ {
		fs := newMemFS()
		fs.room = int64(at)
		r, _, err := OpenRecorder(fs, "a.lp", nil)
		if err != nil {
			t.Fatal(err)
		}
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
		if err := r.Flush(); !errors.As(err, &failed) || !errors.Is(err, errFull) || failed.Lines != 3 || failed.Offset != int64(third) {
			t.Fatalf("disk full at %d: Flush gave %v", at, err)
		}
		if got := fs.content("a.lp"); !bytes.Equal(got, file[:third]) {
			t.Fatalf("disk full at %d: the file was left with %d bytes, not %d", at, len(got), third)
		}
		if r.Kept() != 3 {
			t.Fatalf("kept %d", r.Kept())
		}
		fs.set1(func() { fs.room = -1 })
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
		if got := fs.content("a.lp"); !bytes.Equal(got, file) {
			t.Fatalf("disk full at %d: after room was made the file differs", at)
		}
	}
}

func TestErrorSurfacesInAppend(t *testing.T) {
	fs := newMemFS()
	fs.room = 0
	r, _, err := OpenRecorder(fs, "a.lp", nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Append(nth(0)); err != nil {
		t.Fatal(err)
	}
	if err := r.Flush(); err == nil {
		t.Fatal("no error from a full disk")
	}
	seq, err := r.Append(nth(1))
	var nk *NotKeptError
	if seq != 2 || !errors.As(err, &nk) || nk.Lines != 2 {
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

// TestFailingSync: after a failed sync the system may call the lost bytes
// clean, so they must be written again before they count as kept.
func TestFailingSync(t *testing.T) {
	fs := newMemFS()
	var kept uint64
	r, _, err := OpenRecorder(fs, "a.lp", func(seq uint64) { kept = seq })
	if err != nil {
		t.Fatal(err)
	}
	fs.set1(func() { fs.failSync, fs.failCut, fs.log = 2, 1, nil })
	if _, err := r.Append(nth(0)); err != nil {
		t.Fatal(err)
	}
	// The writer tries by itself once, and then only when it is asked to.
	r.mu.Lock()
	for r.err == nil {
		r.changed.Wait()
	}
	r.mu.Unlock()
	if err := r.Flush(); err == nil || kept != 0 {
		t.Fatalf("failed sync: error %v, kept %d", err, kept)
	}
	if err := r.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	want := []string{"write a.lp", "sync a.lp", "cut a.lp", "cut a.lp", "write a.lp", "sync a.lp", "cut a.lp", "write a.lp", "sync a.lp"}
	if !reflect.DeepEqual(fs.log, want) || kept != 1 {
		t.Fatalf("kept %d, operations %v, want %v", kept, fs.log, want)
	}
}

// TestTearIsSafeBeforeItIsCut: the copy is on disk before the cut.
func TestTearIsSafeBeforeItIsCut(t *testing.T) {
	fs := newMemFS()
	fs.set("a.lp", fileOf(t, 2)[:300])
	r, _, err := OpenRecorder(fs, "a.lp", nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	want := []string{"write a.lp.torn", "sync a.lp.torn", "sync folder", "cut a.lp", "sync a.lp"}
	if !reflect.DeepEqual(fs.log, want) {
		t.Fatalf("operations %v, want %v", fs.log, want)
	}
}

// TestTearsAddUp: a second tear doesn't overwrite the first one.
func TestTearsAddUp(t *testing.T) {
	fs := newMemFS()
	for _, tear := range []string{"first", "second"} {
		fs.set("a.lp", []byte(tear))
		r, _, err := OpenRecorder(fs, "a.lp", nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if got := string(fs.content("a.lp.torn")); got != "first\nsecond" {
		t.Fatalf("%q", got)
	}
}

// TestMeasuringDoesNotWait: with a disk that hangs, Append returns until the
// queue is full, then waits, and goes on when the disk does.
func TestMeasuringDoesNotWait(t *testing.T) {
	fs := newMemFS()
	hang := make(chan struct{})
	r, _, err := OpenRecorder(hangFS{fs, hang}, "a.lp", nil)
	if err != nil {
		t.Fatal(err)
	}
	line := len(fileOf(t, 1))
	for i := range queueBytes / (line + 40) {
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

// hangFS opens files that sync only once hang is closed.
type hangFS struct {
	*memFS
	hang chan struct{}
}

type hangFile struct {
	File
	hang chan struct{}
}

func (h hangFS) Open(name string) (File, error) {
	f, err := h.memFS.Open(name)
	return hangFile{f, h.hang}, err
}

func (h hangFile) Sync() error { <-h.hang; return h.File.Sync() }

// TestManyWriters is for the race detector, and sees that no line is lost.
func TestManyWriters(t *testing.T) {
	fs := newMemFS()
	r, _, err := OpenRecorder(fs, "a.lp", nil)
	if err != nil {
		t.Fatal(err)
	}
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
	if got, warn := numbers(t, fs.content("a.lp")); len(got) != 400 || warn != nil {
		t.Fatalf("%d readings, %v", len(got), warn)
	}
}

// TestRefused: what can't be a line is an error at once and leaves no trace.
func TestRefused(t *testing.T) {
	fs := newMemFS()
	r, _, err := OpenRecorder(fs, "a.lp", nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*Record){
		"no time":            func(x *Record) { x.Reading.At = time.Time{} },
		"no build":           func(x *Record) { x.Build = "" },
		"no stage":           func(x *Record) { x.Step.Stage = "" },
		"no status":          func(x *Record) { x.Reading.Status = "" },
		"ok without a value": func(x *Record) { x.Reading.Value = nil },
		"backslash":          func(x *Record) { x.Step.Feed = `cabin\` },
		"newline":            func(x *Record) { x.Step.Feed = "cabin\nwindows" },
		"not UTF-8":          func(x *Record) { x.Build = "\xff" },
		"nothing":            func(x *Record) { x.Reading = nil },
		"both":               func(x *Record) { x.Mark = &capture.Mark{Kind: capture.MarkOn} },
		"unknown mark":       func(x *Record) { x.Reading = nil; x.Mark = &capture.Mark{At: start, Stage: "loose"} },
		"begin, no step":     func(x *Record) { x.Reading = nil; x.Mark = &capture.Mark{Kind: "begin", At: start, Stage: "loose"} },
		"end, no outcome":    func(x *Record) { x.Reading = nil; x.Mark = &capture.Mark{Kind: "end", At: start, Stage: "loose"} },
		"beyond 2262":        func(x *Record) { x.Reading.At = time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC) },
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
	if got := fs.content("a.lp"); len(got) != 0 {
		t.Fatalf("left %q", got)
	}
}

// TestNoRoomForTheTear: when the torn bytes can't be kept, nothing is cut.
func TestNoRoomForTheTear(t *testing.T) {
	fs := newMemFS()
	file := fileOf(t, 2)
	fs.set("a.lp", file[:len(file)-3])
	fs.room = 10
	if _, _, err := OpenRecorder(fs, "a.lp", nil); !errors.Is(err, errFull) {
		t.Fatalf("%v", err)
	}
	if got := fs.content("a.lp"); !bytes.Equal(got, file[:len(file)-3]) {
		t.Fatal("the file was cut all the same")
	}
	fs.room = -1
	if r, warn, err := OpenRecorder(fs, "a.lp", nil); err != nil || len(warn) != 1 || r.Close() != nil {
		t.Fatal("the lock was not given back", warn, err)
	}
}
