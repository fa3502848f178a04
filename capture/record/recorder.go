package record

import (
	"errors"
	"fmt"
	"sync"
	"time"
)

// queueBytes is how much may wait for the disk before Append does. At 20
// readings a second and 300 bytes each it lasts for ten minutes.
const queueBytes = 4 << 20

// A time that steps back is either the grain of a clock or a clock that was set
// back. The first becomes the last time of its series and 1 ns. After the second
// all later times move forward by as much, so that what lies between two
// readings stays what it was. It is the second when the readings of one series
// step back by more than grain, or anything does by more than disorder: what
// two instruments send may arrive a little out of order.
const (
	grain    = time.Millisecond
	disorder = 5 * time.Second
)

// Recorder appends records to one file. A goroutine of its own writes and syncs
// all that queued, at once, so that measuring doesn't wait for the disk unless
// the queue is full. Its methods may be called from any goroutine.
//
// When a write or sync fails, the file is cut back to its last whole line
// before anything else is written, and the lines stay queued. The error comes
// back from Append, Flush and Close.
type Recorder struct {
	name   string
	fs     FS
	unlock func() error
	kept   func(seq uint64)
	done   chan struct{}

	mu      sync.Mutex
	changed *sync.Cond
	queue   []byte // whole lines, not yet handed to the file
	lines   int    // in queue
	seq     uint64 // of the last line appended
	keptSeq uint64 // of the last line on disk
	last    order
	latest  time.Time // of all series
	shift   time.Duration
	retry   bool  // try again after an error
	closing bool  // nothing more is taken
	stop    bool  // the writer ends
	err     error // of the last attempt; nil after a good one

	// Only the writer goroutine touches these.
	file  File
	good  int64 // the file is whole up to here
	dirty bool  // there may be bytes after good
}

// OpenRecorder opens the file called name for appending, or makes it. A torn
// last line goes to NAME.torn and is cut; that and every damaged line found on
// the way is a Warning. kept, when not nil, is told the number of the last
// line on disk after each sync; it's called from the writer and must return soon.
func OpenRecorder(fs FS, name string, kept func(seq uint64)) (*Recorder, []Warning, error) {
	unlock, err := fs.Lock(name)
	if err != nil {
		return nil, nil, err
	}
	f, err := fs.Open(name)
	if err != nil {
		return nil, nil, errJoin(err, unlock())
	}
	r := &Recorder{name: name, fs: fs, unlock: unlock, kept: kept, file: f, done: make(chan struct{}), last: order{}}
	r.changed = sync.NewCond(&r.mu)
	warn, err := r.recover()
	if err != nil {
		return nil, warn, errJoin(err, errJoin(f.Close(), unlock()))
	}
	go r.write()
	return r, warn, nil
}

// Append queues a record and gives the number its line has in this sitting, from
// 1. A record that can't be written as a line is an error and is not queued
// (seq is 0). With a *NotKeptError the disk refuses: the line is queued if seq
// isn't 0, and otherwise the queue is full. Append also makes the writer try again.
func (r *Recorder) Append(rec Record) (seq uint64, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for len(r.queue) >= queueBytes && r.err == nil && !r.closing {
		r.changed.Wait()
	}
	if r.closing {
		return 0, fmt.Errorf("%s: the record is closed", r.name)
	}
	if r.err != nil {
		r.retry = true
		r.changed.Broadcast()
		if len(r.queue) >= queueBytes {
			return 0, r.notKept()
		}
	}
	l, err := r.line(rec)
	if err != nil {
		return 0, err
	}
	q, err := AppendLine(r.queue, l)
	if err != nil {
		return 0, err
	}
	r.last[l.series()] = l.At
	if l.At.After(r.latest) {
		r.latest = l.At
	}
	r.queue = q
	r.lines++
	r.seq++
	r.changed.Broadcast()
	if r.err != nil {
		return r.seq, r.notKept()
	}
	return r.seq, nil
}

// line gives the line of a record, with a time after the last of its series.
func (r *Recorder) line(rec Record) (Line, error) {
	l, err := rec.Line()
	if err != nil {
		return l, err
	}
	l.At = l.At.Round(0).UTC()
	last, seen := r.last[l.series()]
	back := last.Sub(l.At.Add(r.shift))
	if behind := r.latest.Sub(l.At.Add(r.shift)); behind > disorder {
		r.shift += behind + 1
	} else if seen && rec.Reading != nil && back > grain {
		r.shift += back + 1
	}
	if r.shift > 0 {
		at := l.At
		rec.Shift = r.shift
		if l, err = rec.Line(); err != nil {
			return l, err
		}
		l.At = at.Add(r.shift)
	}
	if seen && !l.At.After(last) {
		l.At = last.Add(1)
	}
	return l, nil
}

// Flush waits until every line appended so far is on disk, or gives the error
// that prevents it.
func (r *Recorder) Flush() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	want := r.seq
	if r.err != nil {
		r.err, r.retry = nil, true
		r.changed.Broadcast()
	}
	for r.keptSeq < want && r.err == nil {
		r.changed.Wait()
	}
	if r.keptSeq < want {
		return r.notKept()
	}
	return nil
}

// Kept is the number of lines of this sitting on disk.
func (r *Recorder) Kept() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.keptSeq
}

// Close flushes, closes the file and gives up the lock. Lines that could not be
// brought to disk are lost with it; the *NotKeptError says how many.
func (r *Recorder) Close() error {
	r.mu.Lock()
	again := r.closing
	r.closing = true // first, so that no line comes between the last flush and the end
	r.changed.Broadcast()
	r.mu.Unlock()
	if again {
		<-r.done
		return nil
	}
	err := r.Flush()
	r.mu.Lock()
	r.stop = true
	r.changed.Broadcast()
	r.mu.Unlock()
	<-r.done
	return errJoin(err, errJoin(r.file.Close(), r.unlock()))
}

// notKept makes the error for callers; r.mu is held.
func (r *Recorder) notKept() error {
	var e *NotKeptError
	if !errors.As(r.err, &e) {
		return r.err
	}
	return &NotKeptError{Path: e.Path, Offset: e.Offset, Lines: int(r.seq - r.keptSeq), Err: e.Err}
}

// write is the writer goroutine.
func (r *Recorder) write() {
	defer close(r.done)
	var batch []byte
	for {
		r.mu.Lock()
		for !r.stop && (len(r.queue) == 0 || r.err != nil && !r.retry) {
			r.changed.Wait()
		}
		if r.stop {
			r.mu.Unlock()
			return
		}
		// The lines stay at the head of the queue until they are on disk.
		batch = append(batch[:0], r.queue...)
		seq := r.seq
		lines := r.lines
		r.retry = false
		r.mu.Unlock()

		err := r.commit(batch)

		r.mu.Lock()
		if err == nil {
			r.queue = append(r.queue[:0], r.queue[len(batch):]...)
			r.lines -= lines
			r.keptSeq = seq
			r.err = nil
		} else {
			r.err = &NotKeptError{Path: r.name, Offset: r.good, Err: err}
		}
		r.changed.Broadcast()
		r.mu.Unlock()
		if err == nil && r.kept != nil {
			r.kept(seq)
		}
	}
}

// commit writes whole lines and syncs them. After a sync that failed the system
// may have dropped what was to be written and call the next sync a success, so
// the bytes are cut and written again.
func (r *Recorder) commit(b []byte) error {
	if r.dirty {
		if err := r.file.Truncate(r.good); err != nil {
			return fmt.Errorf("cut back to byte %d: %w", r.good, err)
		}
		r.dirty = false
	}
	r.dirty = true
	_, err := r.file.WriteAt(b, r.good)
	if err == nil {
		err = r.file.Sync()
	}
	if err == nil {
		r.good += int64(len(b))
		r.dirty = false
		return nil
	}
	// Cut at once: the program may end before the next attempt.
	if cut := r.file.Truncate(r.good); cut != nil {
		return errors.Join(err, fmt.Errorf("cut back to byte %d: %w", r.good, cut))
	}
	r.dirty = false
	return err
}
