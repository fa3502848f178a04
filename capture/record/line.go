package record

import (
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"strings"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// Line is one line of any measurement: tags and fields in lexical order of
// their keys, without the check, which AppendLine adds and ParseLine verifies.
type Line struct {
	Measurement string // what kind of line it is: reading, mark, sitting, ...
	Tags        []Tag
	Fields      []Field
	At          time.Time
}

// Tag is a tag of a line. Empty ones are left out on writing.
type Tag struct {
	Key, Value string // UTF-8, unescaped
}

// Field is a field of a line.
type Field struct {
	Key   string // without the check's own
	Value lineprotocol.Value
}

// ErrDamaged says that a line is not one that was written here, or no longer is.
var ErrDamaged = errors.New("damaged line")

const (
	checkHolder = `check="00000000"`
	checkKey    = `check="`
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// AppendLine appends a line that stands alone, with its check and a newline, to
// dst: a signature's line, and what a record's was before the chain. The check is
// the first field: CRC-32C (polynomial 0x1EDC6F41) as 8 lower-case hex digits,
// over the bytes of the line without the newline and without the check field
// and its comma. On error dst comes back as it was.
func AppendLine(dst []byte, l Line) ([]byte, error) {
	line, head, err := encodeLine(dst, l, checkHolder)
	if err != nil {
		return dst, err
	}
	sum := lineSum(line[:head], line[head+len(checkHolder)+1:len(line)-1])
	copy(line[head+len(checkKey):], sum[:])
	return append(dst, line...), nil
}

// encodeLine writes a line with an empty check, holder, and a newline into the
// room behind dst. head is where the check field begins in it.
func encodeLine(dst []byte, l Line, holder string) (line []byte, head int, err error) {
	if l.At.IsZero() {
		return nil, 0, fmt.Errorf("%s line without a time", l.Measurement)
	}
	if len(l.Fields) == 0 {
		return nil, 0, fmt.Errorf("%s line without a field", l.Measurement)
	}
	var e lineprotocol.Encoder
	e.SetBuffer(dst[len(dst):])
	e.StartLine(l.Measurement)
	for _, t := range l.Tags {
		if t.Value == "" {
			continue
		}
		// Readers disagree on what a backslash means in a tag, so none is written.
		if strings.ContainsRune(t.Value, '\\') {
			return nil, 0, fmt.Errorf("%s %q: a name can't hold a backslash", t.Key, t.Value)
		}
		e.AddTag(t.Key, t.Value)
	}
	head = len(e.Bytes()) + 1 // and the space
	e.AddField("check", mustString(holder[len(checkKey):len(holder)-1]))
	for _, f := range l.Fields {
		e.AddField(f.Key, f.Value)
	}
	e.EndLine(l.At)
	if err := e.Err(); err != nil {
		return nil, 0, fmt.Errorf("%s line: %w", l.Measurement, err)
	}
	return e.Bytes(), head, nil
}

// lineSum is the check of a line in two parts.
func lineSum(head, tail []byte) (hex [8]byte) {
	sum := crc32.Update(crc32.Checksum(head, castagnoli), castagnoli, tail)
	for i := 7; i >= 0; i-- {
		hex[i] = "0123456789abcdef"[sum&0xf]
		sum >>= 4
	}
	return hex
}

// ParseLine reads one line that stands alone, with or without its newline.
// Whatever is wrong with it, the error wraps ErrDamaged.
func ParseLine(b []byte) (Line, error) {
	b = bytes.TrimSuffix(b, []byte("\n"))
	b = bytes.TrimSuffix(b, []byte("\r")) // a file that went through an editor
	head := fieldsStart(b)
	if head < 0 || len(b) < head+len(checkHolder)+1 || !bytes.HasPrefix(b[head:], []byte(checkKey)) {
		return Line{}, fmt.Errorf("%w: no check", ErrDamaged)
	}
	tail := b[head+len(checkHolder)+1:]
	sum := lineSum(b[:head], tail)
	want := checkKey + string(sum[:]) + `",`
	if string(b[head:head+len(want)]) != want {
		return Line{}, fmt.Errorf("%w: its check doesn't fit", ErrDamaged)
	}
	l, err := decodeLine(b)
	if err != nil {
		return Line{}, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return l, nil
}

// fieldsStart gives where the first field begins: after the first space that no
// backslash escapes; -1 if there is none.
func fieldsStart(b []byte) int {
	for i := 0; i < len(b); i++ {
		switch b[i] {
		case '\\':
			i++
		case ' ':
			return i + 1
		}
	}
	return -1
}

// decodeLine decodes one line.
func decodeLine(b []byte) (Line, error) {
	var l Line
	return l, l.decode(b, nil)
}

// vocabulary keeps texts that come again and again, so that each is in memory once.
type vocabulary map[string]string

// mostWords and longestWord bound what is kept.
const (
	mostWords   = 4096
	longestWord = 80
)

func (w vocabulary) of(b []byte) string {
	if s, ok := w[string(b)]; ok { // no copy for the look-up
		return s
	}
	s := string(b)
	if w != nil && len(w) < mostWords && len(s) <= longestWord {
		w[s] = s
	}
	return s
}

// decode drains every section, since the decoder finds an error only in a section
// that is asked for, and copies, since it reuses its buffer. The room of the
// line's own tags and fields is used again.
func (l *Line) decode(b []byte, w vocabulary) error {
	d := lineprotocol.NewDecoderWithBytes(b)
	if !d.Next() {
		return errors.New("empty line")
	}
	*l = Line{Tags: l.Tags[:0], Fields: l.Fields[:0]}
	m, err := d.Measurement()
	if err != nil {
		return err
	}
	l.Measurement = w.of(m)
	for {
		k, v, err := d.NextTag()
		if err != nil {
			return err
		}
		if k == nil {
			break
		}
		// The decoder lets doubled tags pass, though no reader agrees on what they mean.
		if n := len(l.Tags); n > 0 && l.Tags[n-1].Key >= string(k) {
			return fmt.Errorf("tag %q out of order", k)
		}
		l.Tags = append(l.Tags, Tag{w.of(k), w.of(v)})
	}
	for {
		k, v, err := d.NextField()
		if err != nil {
			return err
		}
		if k == nil {
			break
		}
		if string(k) == "check" {
			continue
		}
		if v.Kind() == lineprotocol.String {
			v = mustString(w.of(v.BytesV()))
		}
		l.Fields = append(l.Fields, Field{w.of(k), v})
	}
	// A missing time is given as the default, without an error: the zero time.
	l.At, err = d.Time(lineprotocol.Nanosecond, time.Time{})
	if err != nil {
		return err
	}
	if l.At.IsZero() {
		return errors.New("no time")
	}
	l.At = l.At.UTC()
	return nil
}

// mustString makes a string field; what is not UTF-8 is replaced.
func mustString(s string) lineprotocol.Value {
	v, ok := lineprotocol.StringValue(s)
	if !ok {
		v, _ = lineprotocol.StringValue(strings.ToValidUTF8(s, "\uFFFD"))
	}
	return v
}
