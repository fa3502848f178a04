package record

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// queueBytes is how much may wait for the disk before Append does. At 20
// readings a second and 350 bytes each it lasts for ten minutes.
const queueBytes = 4 << 20

// clockJump is how far the clock on the wall may go from the one that only goes
// forward before the record says so: less is the work of keeping it right.
const clockJump = 2 * time.Second

// Opening says what a sitting is.
type Opening struct {
	Dir          string // the build's folder
	Build        string // its name, for people
	Stage        string
	What         string // what it is opened for: test, told, check, ...
	PlanRevision string // of the plan as it stands
	Program      string // and its version
	Bench        string // which instruments stand there, as they call themselves
	Simulated    bool   // of each of its lines; from the first simulated instrument or step on they are in any case
	// GoesOn is the number of the sitting that this one goes on with; 0: none.
	GoesOn int
	// Now is the start. All times of the sitting are counted from it by the clock
	// that only goes forward, where the instants carry it, as time.Now gives them.
	Now time.Time
	// Random draws the build's identity when it has none yet, as crypto/rand.Reader.
	Random io.Reader
	// Kept, when not nil, is told the number of the last line on disk after each
	// sync. It's called from the writer and must return soon.
	Kept func(seq uint64)
	// Go starts the writer; nil is instruments.Go. A panic there is an error of
	// Append and Flush from then on.
	Go instruments.Runner
}

// Recorder appends records to the file of one sitting. A goroutine of its own
// writes and syncs all that queued, at once, and then replaces the head, so that
// measuring doesn't wait for the disk unless the queue is full. Its methods may
// be called from any goroutine.
//
// When a write or sync fails, the file is cut back to its last whole line
// before anything else is written, and the lines stay queued. The error comes
// back from Append, Flush and Close.
type Recorder struct {
	name   string // of the file, with the folder
	number int
	fs     FS
	o      Opening
	unlock func() error
	done   chan struct{}

	mu      sync.Mutex
	changed *sync.Cond
	queue   []byte // whole lines, not yet known to be kept
	lines   int    // in queue
	seq     uint64 // of the last line appended
	keptSeq uint64 // of the last line on disk
	check   string // of the last line appended
	last    time.Time
	ended   bool // the last line is the sitting's end
	sums    *summer
	jumped  time.Duration
	is      map[string]string // what was said of each instrument
	retry   bool              // try again after an error
	closing bool              // nothing more is taken
	stop    bool              // the writer ends
	err     error             // of the last attempt; nil after a good one
	died    error             // of the writer: nothing is written any more

	// Only the writer goroutine touches these.
	file    File
	head    Head
	good    int64 // the file is whole up to here
	dirty   bool  // there may be bytes after good
	written int   // bytes of the queue that are synced, but not in the head yet
}

// Path is the file of the sitting.
func (r *Recorder) Path() string { return r.name }

// Number is the number of the sitting.
func (r *Recorder) Number() int { return r.number }

// Append queues a record and gives the number its line has in this sitting, from
// 1. A record that can't be written as a line is an error and is not queued
// (seq is 0). With a *NotKeptError the disk refuses: the line is queued if seq
// isn't 0, and otherwise the queue is full. Append also makes the writer try again.
func (r *Recorder) Append(rec Record) (seq uint64, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for len(r.queue) >= queueBytes && r.err == nil && r.died == nil && !r.closing {
		r.changed.Wait()
	}
	switch {
	case r.closing:
		return 0, fmt.Errorf("%s: the record is closed", r.name)
	case r.died != nil:
		return 0, fmt.Errorf("%s: nothing is written any more: %w", r.name, r.died)
	}
	if r.err != nil {
		r.retry = true
		r.changed.Broadcast()
		if len(r.queue) >= queueBytes {
			return 0, r.notKept()
		}
	}
	if _, err := rec.content(); err != nil {
		return 0, err // before what belongs to it is written
	}
	if err := r.before(rec); err != nil {
		return 0, err
	}
	if err := r.put(rec); err != nil {
		return 0, err
	}
	if r.err != nil {
		return r.seq, r.notKept()
	}
	return r.seq, nil
}

// before writes the lines that a record needs before it: that the clock was set,
// what the instruments of a step are. r.mu is held.
func (r *Recorder) before(rec Record) error {
	at := rec.At()
	if at.IsZero() {
		return errors.New("a record needs its time")
	}
	wall, steady := at.Round(0).Sub(r.o.Now.Round(0)), at.Sub(r.o.Now)
	if by := wall - steady - r.jumped; by > clockJump || by < -clockJump {
		r.jumped += by
		m := capture.Mark{Kind: capture.MarkClock, At: at, Stage: r.o.Stage, Simulated: r.o.Simulated,
			Reason: fmt.Sprintf("the machine's clock was set %s while this sitting ran; its times go on by the "+
				"clock that it began with", moved(by))}
		if err := r.put(Record{Mark: &m}); err != nil {
			return err
		}
	}
	if rec.Mark == nil || rec.Mark.Kind != capture.MarkBegin {
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(rec.Mark.Instruments)) {
		d := rec.Mark.Instruments[name]
		b, err := json.Marshal(d)
		if err != nil {
			return fmt.Errorf("the description of %s: %w", name, err)
		}
		if r.is[name] == string(b) {
			continue
		}
		if err := r.put(Record{Instrument: &Described{Name: name, Is: d, At: at, Stage: r.o.Stage}}); err != nil {
			return err
		}
		r.is[name] = string(b)
	}
	return nil
}

// moved says by how much a clock was set, and which way.
func moved(by time.Duration) string {
	if by < 0 {
		return "back by " + (-by).Round(time.Second).String()
	}
	return "forward by " + by.Round(time.Second).String()
}

// instant is a time as the sitting counts it.
func (r *Recorder) instant(at time.Time) time.Time {
	return r.o.Now.Round(0).UTC().Add(at.Sub(r.o.Now))
}

// saysSimulated: what is recorded comes from a simulated bench; then all that
// follows in the sitting does.
func (r Record) saysSimulated() bool {
	return r.Mark != nil && r.Mark.Simulated || r.Instrument != nil && r.Instrument.Is.Simulated
}

// put queues one line; r.mu is held.
func (r *Recorder) put(rec Record) error {
	r.o.Simulated = r.o.Simulated || rec.saysSimulated()
	p := placed{build: r.head.Build, sitting: r.number, seq: int64(r.seq) + 1, simulated: r.o.Simulated}
	at := r.instant(rec.At())
	if !at.After(r.last) {
		// Two instruments may be recorded a little out of order; the instant is kept.
		p.shift = r.last.Add(1).Sub(at)
		at = at.Add(p.shift)
	}
	rec = rec.withAt(at)
	if rec.Mark != nil && len(rec.Mark.Drops) > 0 { // a copy since withAt
		rec.Mark.Drops = slices.Clone(rec.Mark.Drops)
		for i := range rec.Mark.Drops {
			rec.Mark.Drops[i].At = r.instant(rec.Mark.Drops[i].At)
		}
	}
	l, err := rec.line(p)
	if err != nil {
		return err
	}
	q, check, err := appendChained(r.queue, r.sums, r.check, l)
	if err != nil {
		return err
	}
	r.queue, r.check, r.last = q, check, at
	r.ended = rec.Sitting != nil && rec.Sitting.End
	r.lines++
	r.seq++
	if r.changed != nil { // nobody waits for a conversion
		r.changed.Broadcast()
	}
	return nil
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
	for r.keptSeq < want && r.err == nil && r.died == nil {
		r.changed.Wait()
	}
	switch {
	case r.keptSeq >= want:
		return nil
	case r.died != nil:
		return r.died
	}
	return r.notKept()
}

// Kept is the number of lines of this sitting on disk.
func (r *Recorder) Kept() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.keptSeq
}

// Close is End of a sitting that came to its end.
func (r *Recorder) Close() error { return r.End(nil) }

// End writes the end of the sitting and why, flushes, closes the file and gives up the
// lock. broke is what broke it off, a stop as well as a failure; nil: nothing did. Lines
// that could not be brought to disk are lost with it; the *NotKeptError says how many.
func (r *Recorder) End(broke error) error {
	r.mu.Lock()
	again := r.closing
	var err error
	if !again && r.died == nil {
		// The end has the time of the last line: nobody has to pass a clock for it.
		err = r.put(Record{Sitting: &SittingLine{At: r.o.Now.Add(r.last.Sub(r.instant(r.o.Now))), End: true,
			BrokeOff: whyBroken(broke), Stage: r.o.Stage}})
	}
	r.closing = true // before anything, so that no line comes between the last flush and the end
	r.changed.Broadcast()
	r.mu.Unlock()
	if again {
		<-r.done
		return nil
	}
	err = errJoin(err, r.Flush())
	r.mu.Lock()
	r.stop = true
	r.changed.Broadcast()
	r.mu.Unlock()
	<-r.done
	if err == nil {
		err = r.died
	}
	return errJoin(err, errJoin(r.file.Close(), r.unlock()))
}

// mostOfWhy bounds what the end of a sitting says of what broke it off, in bytes.
const mostOfWhy = 500

// whyBroken is what broke a sitting off, in one line; "": nothing did.
func whyBroken(err error) string {
	if err == nil {
		return ""
	}
	why := strings.Join(strings.FieldsFunc(err.Error(), func(c rune) bool { return c == '\n' || c == '\r' }), "; ")
	if len(why) > mostOfWhy {
		why = strings.ToValidUTF8(why[:mostOfWhy], "") + "..."
	}
	return cmp.Or(why, "it isn't known why")
}

// notKept makes the error for callers; r.mu is held.
func (r *Recorder) notKept() error {
	var e *NotKeptError
	if !errors.As(r.err, &e) {
		return r.err
	}
	return &NotKeptError{Path: e.Path, Offset: e.Offset, Lines: int(r.seq - r.keptSeq), Err: e.Err}
}
