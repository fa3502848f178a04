package record

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"time"
)

// Limits that keep the memory of a scan in bounds, whatever the file holds. A
// step with hundreds of names is some 100 kB.
const (
	maxLine     = 4 << 20 // bytes
	maxWarnings = 1000
)

// Scan hands out the records of a file in order, a line at a time. A line that
// is damaged, torn (the last one, without its newline), doubled or out of order
// is skipped and reported. Only an error of r or of each ends a scan. Memory
// holds one line, the last time of each series and the first 1000 warnings.
func Scan(r io.Reader, each func(Record) error) ([]Warning, error) {
	return scan(r, func(_ int, l Line) error {
		rec, err := Decode(l)
		if err != nil {
			return fmt.Errorf("%w: %w", ErrDamaged, err)
		}
		return each(rec)
	}, order{})
}

// ScanLines is Scan for lines of any measurement. It doesn't judge their order.
// An error from each that wraps ErrDamaged is a warning.
func ScanLines(r io.Reader, each func(number int, l Line) error) ([]Warning, error) {
	return scan(r, each, nil)
}

func scan(r io.Reader, each func(int, Line) error, o order) ([]Warning, error) {
	br := bufio.NewReaderSize(r, 64<<10)
	var warn warnings
	var line []byte
	for n := 1; ; n++ {
		var err error
		var long bool
		line, long, err = readLine(br, line[:0])
		if err != nil && err != io.EOF {
			return warn.list(), fmt.Errorf("line %d: %w", n, err)
		}
		if err == io.EOF {
			if len(line) > 0 {
				warn.add(n, "torn: it has no end, so it is no reading")
			}
			return warn.list(), nil
		}
		if n == 1 {
			line = bytes.TrimPrefix(line, []byte("\xef\xbb\xbf")) // left by an editor
		}
		if len(bytes.TrimRight(line, "\r\n")) == 0 {
			continue
		}
		if long {
			warn.add(n, fmt.Sprintf("damaged: longer than %d bytes", maxLine))
			continue
		}
		l, err := ParseLine(line)
		if err == nil && o != nil {
			err = o.check(l)
		}
		if err == nil {
			err = each(n, l)
		}
		switch {
		case errors.Is(err, ErrDamaged):
			warn.add(n, err.Error())
		case err != nil:
			return warn.list(), fmt.Errorf("line %d: %w", n, err)
		}
	}
}

// readLine appends the next line with its newline to b. A line over maxLine
// bytes is read to its end, but not kept. With io.EOF, b holds what a torn line left.
func readLine(br *bufio.Reader, b []byte) (line []byte, long bool, err error) {
	for {
		part, err := br.ReadSlice('\n')
		if len(b)+len(part) > maxLine {
			long = true
		}
		if !long {
			b = append(b, part...)
		}
		if err != bufio.ErrBufferFull {
			return b, long, err
		}
	}
}

// order keeps the last time of each series.
type order map[string]time.Time

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

func (o order) check(l Line) error {
	s := l.series()
	last, ok := o[s]
	switch {
	case ok && l.At.Equal(last):
		return fmt.Errorf("%w: it stands there twice", ErrDamaged)
	case ok && l.At.Before(last):
		return fmt.Errorf("%w: out of order, %s before a line above it", ErrDamaged, last.Sub(l.At))
	}
	o[s] = l.At
	return nil
}

// warnings collects warnings, neighbours as one and not without end.
type warnings struct {
	all  []Warning
	last int // line of the last one added
	run  int // lines that the last one stands for
	more int
}

func (w *warnings) add(line int, what string) {
	if len(w.all) > 0 && w.more == 0 && line == w.last+1 && w.all[len(w.all)-1].What == what {
		w.last, w.run = line, w.run+1
		return
	}
	w.close()
	w.last, w.run = line, 1
	if len(w.all) >= maxWarnings {
		w.more++
		return
	}
	w.all = append(w.all, Warning{Line: line, What: what})
}

// close writes how many lines the last warning stands for.
func (w *warnings) close() {
	if w.run > 1 {
		x := &w.all[len(w.all)-1]
		x.What = fmt.Sprintf("%s (and %d lines after it)", x.What, w.run-1)
	}
	w.run = 0
}

func (w *warnings) list() []Warning {
	w.close()
	if w.more > 0 {
		w.all = append(w.all, Warning{What: fmt.Sprintf("%d more damaged lines", w.more)})
	}
	return w.all
}
