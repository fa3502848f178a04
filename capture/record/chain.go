package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// Version is the version of the format that is written here.
const Version = 1

// checkDigits is how many hex digits of SHA-256 a line's check has: 64 bits, so
// that an accident passes unseen once in 2^64. It guards against accidents; who
// wants to forge a record can compute it, too.
const checkDigits = 16

const (
	chainHolder = `check="0000000000000000"`
	checkStart  = `check="`
)

// mostSittings is the highest number that a sitting can have.
const mostSittings = 1 << 30

// seedOf is what stands for the line before in the check of a sitting's first line.
func seedOf(build string, sitting int) string {
	return "build=" + build + ",sitting=" + strconv.Itoa(sitting)
}

// summer computes checks; it is reused from line to line.
type summer struct {
	text []byte
	hex  [checkDigits]byte
}

func newSummer() *summer { return &summer{} }

// of gives the check over what came before and the line in two parts. The
// result is good until the next call.
func (s *summer) of(before string, head, tail []byte) []byte {
	s.text = append(append(append(s.text[:0], before...), head...), tail...)
	sum := sha256.Sum256(s.text)
	hex.Encode(s.hex[:], sum[:checkDigits/2])
	return s.hex[:]
}

// appendChained appends a line with its check in the chain, and a newline. On
// error dst comes back as it was.
func appendChained(dst []byte, s *summer, before string, l Line) (out []byte, check string, err error) {
	line, head, err := encodeLine(dst, l, chainHolder)
	if err != nil {
		return dst, "", err
	}
	sum := s.of(before, line[:head], line[head+len(chainHolder)+1:len(line)-1])
	copy(line[head+len(checkStart):], sum)
	return append(dst, line...), string(sum), nil
}

// looked is what a line says of its place, before anything is verified: what
// every version of the format keeps where it is.
type looked struct {
	build   string
	sitting int
	seq     int64
	version int64
	check   string
	head    int // where the fields begin
}

// lookAt finds the place of a chained line, whose newline is off. Where ok is
// false, check may be known all the same; head is -1 where there are no fields.
func lookAt(b []byte) (l looked, ok bool) { return lookAtOf(b, "") }

// lookAtOf is lookAt where most lines are of one build.
func lookAtOf(b []byte, build string) (l looked, ok bool) {
	l.head = fieldsStart(b)
	if l.head < 0 || len(b) < l.head+len(chainHolder)+1 {
		l.head = -1
		return l, false
	}
	field, rest := b[l.head:l.head+len(chainHolder)+1], b[l.head+len(chainHolder)+1:]
	if !bytes.HasPrefix(field, []byte(checkStart)) || string(field[len(chainHolder)-1:]) != `",` {
		return l, false
	}
	l.check = string(field[len(checkStart) : len(checkStart)+checkDigits])
	if l.seq, rest, ok = wholeField(rest, "seq="); !ok {
		return l, false
	}
	if l.version, _, ok = wholeField(rest, "v="); !ok {
		return l, false
	}
	tags := b[:l.head-1]
	if tag := tagIn(tags, ",build="); string(tag) == build {
		l.build = build
	} else {
		l.build = string(tag)
	}
	n, ok := digits(tagIn(tags, ",sitting="))
	l.sitting = int(n)
	return l, ok && n > 0 && n <= mostSittings && l.seq > 0 && l.version > 0
}

// wholeField takes an integer field that b begins with, and its comma.
func wholeField(b []byte, key string) (n int64, rest []byte, ok bool) {
	b, ok = bytes.CutPrefix(b, []byte(key))
	end := bytes.IndexByte(b, 'i')
	if !ok || end < 0 || end+1 >= len(b) || b[end+1] != ',' {
		return 0, b, false
	}
	n, ok = digits(b[:end])
	return n, b[end+2:], ok
}

// digits reads up to 18 decimal digits.
func digits(b []byte) (n int64, ok bool) {
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = 10*n + int64(c-'0')
	}
	return n, len(b) > 0 && len(b) <= 18
}

// tagIn gives the value of a tag that needs no escaping.
func tagIn(tags []byte, key string) []byte {
	i := bytes.Index(tags, []byte(key))
	if i < 0 {
		return nil
	}
	v := tags[i+len(key):]
	if end := bytes.IndexByte(v, ','); end >= 0 {
		v = v[:end]
	}
	return v
}

// fits reports whether a line that was looked at carries on from before.
func (s *summer) fits(before string, b []byte, l looked) bool {
	return string(s.of(before, b[:l.head], b[l.head+len(chainHolder)+1:])) == l.check
}

// NewerError says that a file was written in a later version of the format.
type NewerError struct {
	File    string // as it was given to the reader
	Version int64  // of the format, as the file says
}

func (e *NewerError) Error() string {
	return fmt.Sprintf("%s is written in version %d of the record's format; this program reads up to version %d (it "+
		"needs a newer sealworthy)", e.File, e.Version, Version)
}

// preamble is what every line begins with, after its check.
func preamble(seq int64, simulated bool) []Field {
	return []Field{{"seq", lineprotocol.IntValue(seq)}, {"v", lineprotocol.IntValue(Version)},
		{"simulated", lineprotocol.BoolValue(simulated)}}
}
