package record

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"time"

	"sealworthy/capture"
)

// old reads a file of before the chain, with the order that its lines have.
func (r *reading) old(b HeadBefore) error {
	name := FilesDir + "/" + b.File
	f, there := r.file(b.File)
	if !there {
		r.hurt(Damage{Name: name, File: name, Kind: Missing, Sitting: b.Number, Order: capture.OrderAt(b.Number, 1),
			What: "this file of before the chain is missing"})
		return nil
	}
	state := SittingState{Number: b.Number, File: f.path()}
	if n, ok := ParseName(f.name); ok {
		state.At, state.Stage = n.At, n.Stage
	}
	r.folder.begin(state)
	s := oldScan{rel: f.path(), sitting: b.Number, last: map[string]time.Time{}, d: decoder{}, each: r.add,
		damage: r.hurt,
		warn:   func(line int, what string) { r.folder.warnIn(f.path(), line, what) }}
	file, err := r.tree.Open(f.path())
	if err != nil {
		return err
	}
	sum := newPrefixSum(b.Bytes)
	if err := errJoin(s.read(io.TeeReader(file, sum)), file.Close()); err != nil {
		return &fs.PathError{Op: "read", Path: f.path(), Err: err}
	}
	if b.Bytes >= 0 && (sum.left > 0 || hex.EncodeToString(sum.h.Sum(nil)) != b.SHA256 || sum.more > 0) {
		what := "it was changed since the chain began"
		if sum.more > 0 {
			what = "lines were added to it since the chain began"
		}
		r.hurt(Damage{Name: name, File: name, Kind: Changed, Sitting: b.Number, Order: capture.OrderAt(b.Number, 1),
			What: what})
	}
	r.folder.end(s.until)
	return nil
}

// prefixSum digests as many bytes as the head counts, and counts those after them.
type prefixSum struct {
	h          hash.Hash
	left, more int64
}

func newPrefixSum(bytes int64) *prefixSum { return &prefixSum{h: sha256.New(), left: bytes} }

// Write implements io.Writer.
func (p *prefixSum) Write(b []byte) (int, error) {
	n := min(int64(len(b)), max(0, p.left))
	p.h.Write(b[:n]) // a hash takes all
	p.left -= n
	p.more += int64(len(b)) - n
	return len(b), nil
}

// oldScan reads lines that stand alone: a damaged one is skipped, the others
// don't depend on it.
type oldScan struct {
	rel     string
	sitting int
	last    map[string]time.Time // of each series
	d       decoder
	each    func(Record)
	damage  func(Damage)
	warn    func(line int, what string)
	until   time.Time
	run     *Damage // that goes on with the line before
	runs    int
}

func (s *oldScan) read(r io.Reader) error {
	br := bufio.NewReaderSize(r, 64<<10)
	var buf []byte
	for n := 1; ; n++ {
		line, long, err := readLine(br, buf[:0])
		buf = line
		if err == io.EOF {
			s.flush()
			if len(line) > 0 {
				s.warn(n, "torn: it has no end, so it is no reading")
			}
			return nil
		}
		if err != nil {
			return fmt.Errorf("line %d: %w", n, err)
		}
		if n == 1 {
			line = bytes.TrimPrefix(line, []byte("\xef\xbb\xbf")) // left by an editor
		}
		if len(bytes.TrimRight(line, "\r\n")) == 0 {
			continue
		}
		if long {
			err = fmt.Errorf("%w: longer than %d bytes", ErrDamaged, maxLine)
		} else {
			err = s.line(n, line)
		}
		if err == nil {
			s.flush()
			continue
		}
		s.hurt(n, err, line)
	}
}

// line hands out one line.
func (s *oldScan) line(n int, b []byte) error {
	l, err := ParseLine(b)
	if err != nil {
		return err
	}
	name := l.series()
	switch last, ok := s.last[name]; {
	case ok && l.At.Equal(last):
		return fmt.Errorf("%w: it stands there twice", ErrDamaged)
	case ok && l.At.Before(last):
		return fmt.Errorf("%w: out of order, %s before a line above it", ErrDamaged, last.Sub(l.At))
	}
	s.last[name] = l.At
	rec, err := s.d.decode(l)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	rec.Order = capture.OrderAt(s.sitting, n)
	if l.At.After(s.until) {
		s.until = l.At
	}
	s.each(rec)
	return nil
}

// hurt reports a damaged line; neighbours with the same damage as one.
func (s *oldScan) hurt(n int, err error, b []byte) {
	if s.run != nil && s.run.Line+s.runs == n && s.run.What == err.Error() {
		s.runs++
		return
	}
	s.flush()
	s.run,
		s.runs = &Damage{Name: fmt.Sprintf("%s:%d", s.rel, n), File: s.rel, Line: n, Kind: Changed, What: err.Error(),
		Sitting: s.sitting, Order: capture.OrderAt(s.sitting, n), Remains: remainsOf(bytes.TrimRight(b, "\r\n"))}, 1
}

func (s *oldScan) flush() {
	if s.run == nil {
		return
	}
	if s.runs > 1 {
		s.run.What = fmt.Sprintf("%s (and %d lines after it)", s.run.What, s.runs-1)
	}
	s.damage(*s.run)
	s.run = nil
}

// series is a measurement with its tags.
func (l Line) series() string {
	var b []byte
	b = append(b, l.Measurement...)
	for _, t := range l.Tags {
		if t.Value == "" {
			continue
		}
		// A control character can't be part of a name.
		b = append(b, 0)
		b = append(b, t.Key...)
		b = append(b, 1)
		b = append(b, t.Value...)
	}
	return string(b)
}
