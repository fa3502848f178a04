package record

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"
	"testing/iotest"

	"sealworthy/instruments"
)

// oneByOne reads a file as it was read before there were blocks: line by line, each
// looked at in its turn.
func oneByOne(s *chainScan, r io.Reader) error {
	br := bufio.NewReaderSize(r, 64<<10)
	var buf []byte
	for {
		line, long, err := readLine(br, buf[:0])
		buf = line
		if err == io.EOF {
			s.torn = len(line)
			return nil
		}
		if err != nil {
			return err
		}
		s.n++
		s.bytes += int64(len(line))
		if err := s.line(s.plain(line), long); err != nil {
			return err
		}
	}
}

// TestBlocks: a file of several blocks, damaged anywhere, also where one block ends and
// the next begins, is read as it is line by line.
func TestBlocks(t *testing.T) {
	m := newMemory()
	recorded(t, m, strangeReadings(rand.New(random(7)), 2600))
	whole := m.Content(first)
	if len(whole) < 3*blockBytes {
		t.Fatalf("%d bytes are no %d blocks", len(whole), 3)
	}
	h, _, err := readHead(m.Tree(ship))
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(random(11))
	place := func() int {
		if r.IntN(2) == 0 { // near the end of a block
			return firstBytes + r.IntN(3)*blockBytes + r.IntN(800) - 400
		}
		return r.IntN(len(whole))
	}
	for round := range 20 {
		b := bytes.Clone(whole)
		for range r.IntN(3) {
			at := min(max(place(), 0), len(b)-2)
			switch r.IntN(8) {
			case 0:
				b[at] ^= 1 << r.IntN(8)
			case 1:
				b = append(b[:at], b[min(at+r.IntN(2000), len(b)):]...)
			case 2:
				b = splice(b, at, b[at:min(at+r.IntN(2000), len(b))])
			case 3:
				b = splice(b, at, []byte("\r\n"))
			case 4:
				b = splice(b, at, make([]byte, r.IntN(5000)))
			case 5:
				b = b[:at]
			case 6:
				b = bytes.ReplaceAll(b, []byte("\n"), []byte("\r\n"))
			case 7:
				b = splice(b, at, append(bytes.Repeat([]byte("x"), maxLine+r.IntN(10)-5), '\n'))
			}
			if len(b) < 2 {
				b = []byte("x\n")
			}
		}
		read := func(quick bool, read func(*chainScan) error) (out []string) {
			s := newChainScan("x", h.Build, 1, int64(h.Sittings[0].Lines))
			d := decoder{chained: true, described: map[string]instruments.Description{}}
			say := func(seq int64, rec Record) {
				if rec.Reading != nil {
					x := *rec.Reading
					value := "none"
					if x.Value != nil {
						value = fmt.Sprint(*x.Value)
					}
					x.Raw, x.Value = "", nil
					out = append(out, fmt.Sprintf("%d %+v %s %+v", seq, x, value, rec.Step))
				} else {
					out = append(out, fmt.Sprintf("%d %v", seq, rec.At()))
				}
			}
			s.use = func(seq int64, l Line) error {
				rec, err := d.decode(l)
				if err == nil {
					say(seq, rec)
				}
				return nil
			}
			if quick {
				s.reading = say
			}
			s.damage = func(d Damage) { out = append(out, fmt.Sprintf("%+v", d)) }
			s.warn = func(n int, what string) { out = append(out, fmt.Sprint(n, what)) }
			if err := read(s); err != nil {
				t.Fatal(err)
			}
			s.end(int64(h.Sittings[0].Lines), h.Sittings[0].Check)
			return append(out, fmt.Sprint(s.n, s.torn, s.last, s.good, s.until, s.whole))
		}
		want := read(false, func(s *chainScan) error { return oneByOne(s, bytes.NewReader(b)) })
		for name, got := range map[string][]string{
			"in blocks":          read(true, func(s *chainScan) error { return s.read(bytes.NewReader(b)) }),
			"in blocks, decoded": read(false, func(s *chainScan) error { return s.read(bytes.NewReader(b)) }),
			"in small pieces": read(true,
				func(s *chainScan) error { return s.read(iotest.HalfReader(bytes.NewReader(b))) }),
		} {
			for i := range max(len(want), len(got)) {
				if i >= len(want) || i >= len(got) || want[i] != got[i] {
					t.Fatalf("round %d, %s, of %d and %d: number %d\n%s\nline by line\n%s", round, name, len(got),
						len(want), i, nthOf(got, i), nthOf(want, i))
				}
			}
		}
	}
}

// TestBlocksFail: an error of the disk in the middle comes back, with the line.
func TestBlocksFail(t *testing.T) {
	m := newMemory()
	recorded(t, m, strangeReadings(rand.New(random(7)), 2000))
	b := m.Content(first)
	h, _, err := readHead(m.Tree(ship))
	if err != nil {
		t.Fatal(err)
	}
	s := newChainScan("x", h.Build, 1, 0)
	n := 0
	s.use = func(int64, Line) error { n++; return nil }
	err = s.read(io.MultiReader(bytes.NewReader(b[:len(b)/2]), iotest.ErrReader(io.ErrNoProgress)))
	if err == nil || n < 900 {
		t.Errorf("%d lines, then %v", n, err)
	}
}

func nthOf(all []string, i int) string {
	if i < len(all) {
		return all[i]
	}
	return "nothing"
}
