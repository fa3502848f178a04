package record

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"sealworthy/capture"
)

// Limits that keep the memory of a reading in bounds, whatever a file holds. A
// step with hundreds of names is some 100 kB.
const (
	maxLine     = 4 << 20 // bytes
	maxWarnings = 1000
	maxRemains  = 400 // bytes of a damaged line that are shown
	maxLoose    = 8   // lines that don't fit, from which the chain may go on
	// mostMissing is how many lines the chain is taken up again over.
	mostMissing = 1 << 24
)

// chainScan reads the file of one sitting and verifies its chain.
//
// A line carries on from the last one that did. After a line that doesn't, the
// chain is taken up again where a later line carries on from that one: its own
// check stands in it, whatever became of the rest. Numbers that were used
// already are never used again.
type chainScan struct {
	rel     string // of the build's folder
	build   string
	sitting int
	use     func(seq int64, l Line) error
	reading func(seq int64, r Record) // where it is set, most readings go there
	damage  func(Damage)
	warn    func(line int, what string)

	sums    *summer
	words   vocabulary
	present Line   // the line that is read: its room is used again
	text    []byte // its bytes, without the newline
	good    string // check of the last line used
	last    int64  // its number
	until   time.Time
	seen    map[int64]bool // numbers beyond last on lines that weren't used
	used    seqSet
	loose   []looseLine // the latest lines that don't fit
	runs    []run       // since the last line used
	marks   map[int64]string
	whole   bool // the last line used is the end
	crlf    bool
	torn    int // bytes after the last newline
	n       int // lines seen
	fitted  int // the last of them that was used
	bytes   int64
}

// looseLine is a line that doesn't carry on from the one before.
type looseLine struct{ check, real string }

// run is lines that don't fit, one after another, for the same reason.
type run struct {
	kind    DamageKind
	why     string
	line, n int
	seq     int64 // of the first; 0: it names none that counts here
	remains string
}

// newChainScan makes a scan of a file. headLines is the number of the line whose
// check the head names.
func newChainScan(rel, build string, sitting int, headLines int64) *chainScan {
	return &chainScan{rel: rel, build: build, sitting: sitting, sums: newSummer(), words: vocabulary{},
		good: seedOf(build, sitting),
		seen: map[int64]bool{}, marks: map[int64]string{headLines: ""}, damage: func(Damage) {},
		warn: func(int, string) {}}
}

// read goes through the file. An error is one of reading, of use, or a NewerError.
func (s *chainScan) read(r io.Reader) error {
	return inBlocks(r, s.build, s.reading != nil, func(x *block) error {
		for i := range x.n {
			a := &x.ahead[i]
			s.n++
			s.bytes += int64(len(a.line))
			if err := s.ahead(a, x.long || len(a.line) > maxLine); err != nil {
				return err
			}
		}
		s.torn = x.torn
		if x.err != nil {
			return fmt.Errorf("line %d: %w", s.n+1, x.err)
		}
		return nil
	})
}

// ahead takes a line that was looked at. Where all is in order there is nothing to
// be found out any more.
func (s *chainScan) ahead(a *ahead, long bool) error {
	if !a.ok || long || s.fitted != s.n-1 || a.l.build != s.build || a.l.sitting != s.sitting {
		return s.line(s.plain(a.line), long)
	}
	b := a.line[:len(a.line)-1]
	if !a.fits && !(a.first && s.sums.fits(s.good, b, a.l)) {
		return s.line(s.plain(a.line), long)
	}
	if a.quick {
		return s.accept(b, a.l, &a.r)
	}
	return s.accept(b, a.l, nil)
}

// plain takes off what ends a line, and what an editor leaves: none of it is
// part of the chain.
func (s *chainScan) plain(b []byte) []byte {
	if s.n == 1 {
		b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	}
	b = bytes.TrimSuffix(b, []byte("\n"))
	if c, ok := bytes.CutSuffix(b, []byte("\r")); ok {
		if !s.crlf {
			s.crlf = true
			s.warn(0, "an editor or a copy changed its line ends; what its lines say is whole")
		}
		return c
	}
	return b
}

func (s *chainScan) line(b []byte, long bool) error {
	if len(b) == 0 && !long {
		return nil // an empty line is nothing, wherever it comes from
	}
	l, ok := lookAtOf(b, s.build)
	switch {
	case long:
		s.misfit(Changed, fmt.Sprintf("it is longer than %d bytes", maxLine), 0, b)
		return nil
	case !ok:
		s.loosen(b, l)
		s.misfit(Changed, "it can't be read", 0, b)
		return nil
	case l.build != s.build:
		s.loosen(b, l)
		s.misfit(Foreign, "it names another build", 0, b)
		return nil
	case l.sitting != s.sitting:
		s.loosen(b, l)
		s.misfit(Foreign, fmt.Sprintf("it names sitting %d", l.sitting), 0, b)
		return nil
	case s.fits(b, l):
		return s.accept(b, l, nil)
	}
	s.loosen(b, l)
	switch {
	case l.seq <= s.last && s.used.has(l.seq):
		s.misfit(Doubled, "it stands there again", l.seq, b)
	case l.seq <= s.last:
		s.misfit(Moved, "it stands out of its place", l.seq, b)
	case l.seq == s.next():
		s.misfit(Changed, "it is not what was written", l.seq, b)
	default:
		s.misfit(Missing, "it can't be verified without what is missing before it", l.seq, b)
	}
	if l.seq > s.last && len(s.seen) < maxWarnings {
		s.seen[l.seq] = true
	}
	return nil
}

// fits: the line carries on from the last one used, or from a later one that
// doesn't fit itself.
func (s *chainScan) fits(b []byte, l looked) bool {
	if s.sums.fits(s.good, b, l) {
		return true
	}
	if l.seq <= s.last || l.seq > s.last+mostMissing {
		return false
	}
	for _, x := range slices.Backward(s.loose) {
		if x.check != "" && s.sums.fits(x.check, b, l) || x.real != "" && s.sums.fits(x.real, b, l) {
			return true
		}
	}
	return false
}

// loosen keeps a line from which the chain may go on: by the check that it has,
// or by the one that it would have if nothing but its check were damaged.
func (s *chainScan) loosen(b []byte, l looked) {
	x := looseLine{check: l.check}
	if len(s.runs) == 0 && l.head >= 0 {
		x.real = string(s.sums.of(s.good, b[:l.head], b[l.head+len(chainHolder)+1:]))
	}
	if x == (looseLine{}) {
		return
	}
	if s.loose = append(s.loose, x); len(s.loose) > maxLoose {
		s.loose = s.loose[1:]
	}
}

// next is the number that the next line should have.
func (s *chainScan) next() int64 {
	n := s.last + 1
	for s.seen[n] {
		n++
	}
	return n
}

// misfit adds a line to the runs of lines that don't fit.
func (s *chainScan) misfit(kind DamageKind, why string, seq int64, b []byte) {
	if n := len(s.runs); n > 0 {
		if x := &s.runs[n-1]; x.kind == kind && x.why == why && x.line+x.n == s.n && (seq == 0) == (x.seq == 0) {
			x.n++
			return
		}
	}
	s.runs = append(s.runs, run{kind: kind, why: why, line: s.n, n: 1, seq: seq, remains: remainsOf(b)})
}

// accept uses a line that carries on, after the damage before it was told. r is what
// it says, where that is known.
func (s *chainScan) accept(b []byte, l looked, r *quickReading) error {
	switch {
	case l.version > Version:
		return &NewerError{File: s.rel, Version: l.version}
	case l.seq <= s.last || l.seq > s.last+mostMissing:
		s.misfit(Foreign, "its number doesn't fit its check", 0, b)
		return nil
	}
	if r != nil {
		s.advance(l, r.at, false)
		s.reading(l.seq, r.rec)
		return nil
	}
	if err := s.present.decode(b, s.words); err != nil {
		// It can't have been written here; its check was made by another hand.
		s.misfit(Foreign, fmt.Sprintf("it was not written by this program: %v", err), l.seq, b)
		return nil
	}
	x := s.present
	s.text = b
	s.advance(l, x.At, x.Measurement == sittingMeasurement && l.seq > 1)
	return s.use(l.seq, x)
}

// advance tells the damage before a line and goes on from it.
func (s *chainScan) advance(l looked, at time.Time, whole bool) {
	s.tell(l.seq)
	s.good, s.last, s.until, s.fitted, s.whole = l.check, l.seq, at, s.n, whole
	s.used.add(l.seq)
	if _, ok := s.marks[l.seq]; ok {
		s.marks[l.seq] = l.check
	}
}

// tell reports what lies between the last line used and the next one, whose
// number is given.
func (s *chainScan) tell(next int64) {
	unreadable := int64(0)
	for _, x := range s.runs {
		if x.seq == 0 {
			unreadable += int64(x.n)
		}
	}
	gaps := s.gaps(s.last+1, next-1)
	lacking := int64(0)
	for _, g := range gaps {
		lacking += g[1] - g[0] + 1
	}
	if lacking <= unreadable {
		gaps = nil // they are the lines that can't be read
	}
	for i, x := range s.runs {
		if lacking > 0 && x.kind == Missing && x.seq >= next && lacking <= int64(x.n) {
			// It stands where the missing one should, and only its number is wrong.
			gaps, s.runs[i].kind, s.runs[i].why, s.runs[i].seq = nil, Changed, "it is not what was written", s.last+1
		}
	}
	for _, x := range s.runs {
		if x.kind == Missing && x.seq < next && len(gaps) > 0 {
			continue // said with what is missing
		}
		s.tellRun(x, next)
	}
	for _, g := range gaps {
		s.missing(g[0], g[1])
	}
	s.runs = s.runs[:0]
}

func (s *chainScan) tellRun(x run, next int64) {
	d := Damage{Name: s.rel + ":" + strconv.Itoa(x.line), File: s.rel, Line: x.line, Kind: x.kind, Sitting: s.sitting,
		Remains: x.remains, Order: s.order(max(x.seq, s.last+1))}
	who := "this line"
	switch {
	case x.n == 1 && x.seq == int64(x.line):
		who = "" // its place says which
	case x.seq > 0 && x.n > 1:
		who = fmt.Sprintf("lines from number %d on, %d of them", x.seq, x.n)
	case x.seq > 0 && x.seq != int64(x.line): // else it stands where it should
		who = fmt.Sprintf("line number %d", x.seq)
	case x.n > 1:
		who = fmt.Sprintf("%d lines from here on", x.n)
	}
	switch {
	case x.kind == Missing && x.seq >= next:
		d.Kind, x.why = Moved, "it stands out of its place"
	case x.kind == Missing:
		d.Kind, x.why = Changed, "it can't be verified without what stood before it, and isn't used"
	}
	if d.What = x.why; who != "" {
		d.What = who + ": " + x.why
	}
	s.damage(d)
}

// gaps gives the numbers from one to another that stood on no line, as ranges.
func (s *chainScan) gaps(from, to int64) (out [][2]int64) {
	var there []int64
	for n := range s.seen {
		if n >= from && n <= to {
			there = append(there, n)
			delete(s.seen, n)
		}
	}
	slices.Sort(there)
	for _, n := range append(there, to+1) {
		if n > from {
			out = append(out, [2]int64{from, n - 1})
		}
		from = n + 1
	}
	return out
}

func (s *chainScan) missing(from, to int64) {
	what := fmt.Sprintf("line number %d is missing here", from)
	if to > from {
		what = fmt.Sprintf("%d lines are missing here, numbers %d to %d", to-from+1, from, to)
	}
	at := s.n
	for _, x := range s.runs {
		if x.kind == Missing {
			at = x.line
			what += "; the line after that can't be verified without it and isn't used"
			break
		}
	}
	s.damage(Damage{Name: fmt.Sprintf("%s:%d", s.rel, at), File: s.rel, Line: at, Kind: Missing, What: what,
		Sitting: s.sitting, Order: s.order(from)})
}

func (s *chainScan) order(seq int64) capture.Order { return capture.OrderAt(s.sitting, int(seq)) }

// end tells what is wrong at the end of the file: lines that the head knows of.
func (s *chainScan) end(headLines int64, headCheck string) {
	highest := s.last
	for n := range s.seen {
		highest = max(highest, n)
	}
	if s.torn == 0 || highest < headLines {
		s.n++ // what is missing would stand after the last line
	}
	s.tell(max(highest, headLines) + 1)
	if got := s.marks[headLines]; headLines > 0 && got != "" && got != headCheck {
		s.damage(Damage{Name: HeadFile, File: HeadFile, Kind: Changed, Sitting: s.sitting, Order: s.order(headLines),
			What: fmt.Sprintf("it names another line number %d of sitting %d than stands in %s", headLines, s.sitting,
				s.rel)})
	}
	if s.torn > 0 && highest >= headLines {
		s.warn(s.n+1, "torn: it has no end, so it is no reading")
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
