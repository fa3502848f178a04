package record

import (
	"errors"
	"fmt"
	"time"
)

// tail is what the head says of the sitting that is written.
type tail struct {
	lines uint64
	check string
	until time.Time
	whole bool
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
		t := tail{r.seq, r.check, r.last, r.ended}
		lines := r.lines
		r.retry = false
		r.mu.Unlock()

		err := r.commit(batch, t)

		r.mu.Lock()
		if err == nil {
			r.queue = append(r.queue[:0], r.queue[len(batch):]...)
			r.lines -= lines
			r.keptSeq = t.lines
			r.err = nil
		} else {
			r.err = &NotKeptError{Path: r.name, Offset: r.good, Err: err}
		}
		r.changed.Broadcast()
		r.mu.Unlock()
		if err == nil && r.o.Kept != nil {
			r.o.Kept(t.lines)
		}
	}
}

// gone is told when the writer died of a panic: those who wait for it are woken.
func (r *Recorder) gone(err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.died = fmt.Errorf("the record can't be kept: %w", err)
	r.changed.Broadcast()
}

// commit brings a batch of whole lines to disk: the lines, then the head that
// counts them. What was synced before is not written again.
func (r *Recorder) commit(b []byte, t tail) error {
	if r.written < len(b) {
		if err := r.append(b[r.written:]); err != nil {
			return err
		}
		r.written = len(b)
	}
	same, err := r.fs.Same(r.file, r.name)
	if err != nil {
		return fmt.Errorf("is it still there: %w", err)
	}
	if !same {
		return &GoneError{Path: r.name}
	}
	s := r.head.number(r.number)
	s.Lines, s.Check, s.Until, s.Whole = int(t.lines), t.check, t.until, t.whole
	if err := writeHead(r.fs, r.o.Dir, r.head); err != nil {
		return err
	}
	r.written = 0
	return nil
}

// append writes lines at the end of the file and syncs them. After a sync that
// failed the system may have dropped what was to be written and call the next
// sync a success, so the bytes are cut and written again.
func (r *Recorder) append(b []byte) error {
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
