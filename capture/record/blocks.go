package record

import (
	"bytes"
	"io"
	"runtime"

	"sealworthy/instruments"
)

// blockBytes is how much of a file is read at once: some seven hundred readings.
const (
	blockBytes = 256 << 10
	firstBytes = 32 << 10
)

// block is a stretch of whole lines of a file, looked at by whichever core is free.
// That a line carries on from the one before it, both as they stand there, can be told
// without what came earlier, and so can what it says; whether it counts is then told
// in order.
type block struct {
	buf   []byte
	ahead []ahead
	n     int // of ahead in use
	torn  int // bytes after the last newline of the file
	long  bool
	last  bool // nothing comes after it
	err   error

	sums *summer
	q    *quick
	done chan error
}

// ahead is what is known of a line before it is its turn.
type ahead struct {
	line  []byte // with its newline
	l     looked
	ok    bool // l is what lookAtOf gave
	fits  bool // it carries on from the line before it in the block
	first bool // there is none
	quick bool // r is what it says
	r     quickReading
}

// fill reads the next stretch. rest is what was read of it already; what is left over
// is good until the block is filled again.
func (x *block) fill(r io.Reader, rest []byte) (left []byte) {
	x.buf = append(x.buf[:0], rest...)
	x.n, x.torn, x.long, x.last, x.err = 0, 0, false, false, nil
	for {
		from := len(x.buf)
		size := blockBytes
		if cap(x.buf) == 0 {
			size = firstBytes // most files are short
		}
		if from > size/2 { // a line longer than a block
			size = from + blockBytes
		}
		if cap(x.buf) < size {
			x.buf = append(make([]byte, 0, size), x.buf...)
		}
		n, err := io.ReadFull(r, x.buf[from:size])
		x.buf = x.buf[:from+n]
		end := bytes.LastIndexByte(x.buf, '\n') + 1
		switch {
		case err == io.EOF || err == io.ErrUnexpectedEOF:
			x.last, x.torn, x.buf = true, len(x.buf)-end, x.buf[:end]
			return nil
		case err != nil:
			x.last, x.err, x.buf = true, err, x.buf[:end]
			return nil
		case end > 0:
			left, x.buf = x.buf[end:], x.buf[:end]
			return left
		case len(x.buf) > maxLine:
			return x.passOver(r)
		}
	}
}

// passOver reads to the end of a line that is too long to be kept.
func (x *block) passOver(r io.Reader) (left []byte) {
	x.buf, x.long = x.buf[:maxLine], true
	part := make([]byte, blockBytes)
	for {
		n, err := io.ReadFull(r, part)
		if i := bytes.IndexByte(part[:n], '\n'); i >= 0 {
			left = part[i+1 : n]
			if err == nil || err == io.EOF || err == io.ErrUnexpectedEOF { // the next fill finds the end
				return left
			}
		}
		switch {
		case err == io.EOF || err == io.ErrUnexpectedEOF:
			x.last, x.long, x.torn, x.buf = true, false, len(x.buf), x.buf[:0]
			return nil
		case err != nil:
			x.last, x.err = true, err
			return nil
		}
	}
}

// look looks at all lines of the block; with quick, what readings say is read.
func (x *block) look(build string, quick bool) {
	if x.long {
		x.next().line = x.buf
		return
	}
	var before *ahead
	for rest := x.buf; len(rest) > 0; {
		end := bytes.IndexByte(rest, '\n') + 1
		a := x.next()
		a.line, rest = rest[:end], rest[end:]
		b := a.line[:end-1]
		// Where nothing is left of a line, or an editor was at it, it is told in order.
		if len(b) == 0 || b[len(b)-1] == '\r' || len(a.line) > maxLine {
			before = nil
			continue
		}
		a.l, a.ok = lookAtOf(b, build)
		a.first = before == nil
		if a.ok {
			a.fits = before != nil && before.l.check != "" && x.sums.fits(before.l.check, b, a.l)
			a.quick = quick && x.q.read(b, a.l, &a.r)
		}
		before = a
	}
}

func (x *block) next() *ahead {
	if x.n == len(x.ahead) {
		x.ahead = append(x.ahead, make([]ahead, max(16, len(x.ahead)))...)
	}
	a := &x.ahead[x.n]
	a.line, a.l, a.ok, a.fits, a.first, a.quick = nil, looked{}, false, false, false, false
	x.n++
	return a
}

// inBlocks reads a file block by block and hands them to each in order; they are
// looked at on all cores. A small file is looked at where it is read.
func inBlocks(r io.Reader, build string, quick bool, each func(*block) error) error {
	ring := make([]*block, runtime.GOMAXPROCS(0)+1)
	from, to := 0, 0 // blocks under way
	var rest []byte
	var failed error
	one := func() error {
		x := ring[from%len(ring)]
		from++
		err := <-x.done
		if err == nil && failed == nil {
			err = each(x)
		}
		return err
	}
	for last := false; !last && failed == nil; to++ {
		if to-from == len(ring) {
			failed = one()
		}
		if failed != nil {
			break
		}
		i := to % len(ring)
		if ring[i] == nil {
			ring[i] = &block{sums: newSummer(), q: newQuick(), done: make(chan error, 1)}
		}
		x := ring[i]
		rest = x.fill(r, rest)
		if last = x.last; last && to == 0 {
			x.look(build, quick)
			return each(x)
		}
		instruments.Go(func() { x.look(build, quick); x.done <- nil }, func(err error) { x.done <- err })
	}
	for from < to {
		if err := one(); failed == nil {
			failed = err
		}
	}
	return failed
}
