package record

import (
	"math"
	"strconv"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// quick reads the lines that a record is made of, readings, in exactly the form in
// which the program writes them. Any other line, and one about which it has the least
// doubt, is left to the library's decoder, which decides: a quick reading is what that
// one gives, less the raw reply, which nothing judges by.
type quick struct {
	words vocabulary
	tags  map[string]*tagsOf
}

func newQuick() *quick { return &quick{words: vocabulary{}, tags: map[string]*tagsOf{}} }

// quickReading is a reading with the time that stands on its line.
type quickReading struct {
	rec     Record
	reading instruments.Reading
	value   float64
	at      time.Time
}

// read reads a line that was looked at; false leaves it to the decoder. What comes
// back is good until the next call with the same r.
func (q *quick) read(b []byte, l looked, r *quickReading) bool {
	tags, ok := q.tagsOf(b[:l.head-1])
	if !ok || !isID(l.check) {
		return false
	}
	r.reading = instruments.Reading{Instrument: tags.instrument, Quantity: instruments.Quantity(tags.quantity)}
	r.rec = Record{Reading: &r.reading, Step: capture.StepRef{Closure: tags.closure, Feed: tags.group,
		Pace: tags.pace, Stage: tags.stage}}
	c := cursor{b: b[l.head+len(chainHolder)+1:]}
	has := c.fields(q, r)
	if !c.ok() || has&wanted != wanted || has>>valueField&1 == 1 != (r.reading.Status == instruments.OK) ||
		r.reading.Status == "" ||
		strings.HasPrefix(r.rec.Step.StepID, noteStep) {
		return false
	}
	if has>>valueField&1 == 1 {
		r.reading.Value = &r.value
	}
	r.at = time.Unix(0, c.time()).UTC()
	r.reading.At = r.at.Add(-time.Duration(c.shift))
	return c.ok() && len(c.b) == 0
}

// tagsOf gives the tags of a reading's line, that of the measurement among them:
// there are few, and they come again and again.
func (q *quick) tagsOf(b []byte) (*tagsOf, bool) {
	t, ok := q.tags[string(b)]
	if ok {
		return t, t != nil
	}
	var l Line
	// A field and a time stand in for those that the line has.
	if err := l.decode(append(append([]byte(nil), b...), " x=1 1"...), q.words); err != nil {
		return nil, false
	}
	t = &tagsOf{}
	if t.take(l) != nil || l.Measurement != readingMeasurement || t.instrument == "" || t.quantity == "" ||
		t.stage == "" {
		t = nil
	}
	if len(q.tags) < mostWords {
		q.tags[string(b)] = t
	}
	return t, t != nil
}

// The fields of a reading, in the order in which they stand.
const (
	seqField = iota
	versionField
	simulatedField
	shiftField
	baseField
	halfField
	latencyField
	rangeField
	rawField
	statusField
	stepField
	unitField
	valueField
	windowField
	noField
)

const wanted = 1<<seqField | 1<<versionField | 1<<simulatedField | 1<<rawField | 1<<statusField

func fieldOf(key []byte) int {
	switch string(key) {
	case "seq":
		return seqField
	case "v":
		return versionField
	case "simulated":
		return simulatedField
	case "shift_ns":
		return shiftField
	case "base":
		return baseField
	case "half_width":
		return halfField
	case "latency_s":
		return latencyField
	case "range":
		return rangeField
	case "raw":
		return rawField
	case "status":
		return statusField
	case "step_id":
		return stepField
	case "unit":
		return unitField
	case "value":
		return valueField
	case "window_s":
		return windowField
	}
	return noField
}

// cursor goes through the fields of a line and its time. After anything that it
// doesn't expect it is bad, and stays so.
type cursor struct {
	b     []byte
	bad   bool
	shift int64
}

func (c *cursor) ok() bool { return !c.bad }

// fields reads all fields, up to the space before the time, and gives the set of those
// that were there.
func (c *cursor) fields(q *quick, r *quickReading) (has int) {
	last := -1
	for !c.bad {
		n := 0
		for n < len(c.b) && c.b[n] != '=' {
			n++
		}
		f := fieldOf(c.b[:n])
		if n == len(c.b) || f <= last || f == noField { // doubled, out of order or unknown
			c.bad = true
			return has
		}
		c.b, last = c.b[n+1:], f
		has |= 1 << f
		switch f {
		case seqField, versionField:
			c.whole()
		case shiftField:
			c.shift = c.whole()
		case simulatedField:
			r.rec.Simulated = c.truth()
		case baseField:
			r.rec.Step.Base = c.truth()
		case halfField:
			r.reading.HalfWidth = c.number()
		case latencyField:
			r.reading.Latency = c.seconds()
		case rangeField:
			r.reading.Range = c.text(q.words)
		case rawField:
			c.raw()
		case statusField:
			r.reading.Status = instruments.Status(c.text(q.words))
		case stepField:
			r.rec.Step.StepID = c.text(q.words)
		case unitField:
			r.reading.Unit = c.text(q.words)
		case valueField:
			r.value = c.number()
		case windowField:
			r.reading.Window = c.seconds()
		}
		if c.bad || len(c.b) == 0 {
			c.bad = true
			return has
		}
		end := c.b[0]
		c.b = c.b[1:]
		switch end {
		case ',':
		case ' ':
			return has
		default:
			c.bad = true
		}
	}
	return has
}

// whole reads an integer field.
func (c *cursor) whole() int64 {
	n, ok := c.digits()
	if !ok || len(c.b) == 0 || c.b[0] != 'i' {
		c.bad = true
		return 0
	}
	c.b = c.b[1:]
	return n
}

// digits reads up to 18 digits.
func (c *cursor) digits() (n int64, ok bool) {
	i := 0
	for i < len(c.b) && c.b[i]-'0' <= 9 {
		n = 10*n + int64(c.b[i]-'0')
		i++
	}
	c.b = c.b[i:]
	return n, i > 0 && i <= 18
}

// time reads what is left: nanoseconds since 1970, 19 digits until the year 2286.
func (c *cursor) time() int64 {
	if len(c.b) != 19 || c.b[0] != '1' {
		c.bad = true
		return 0
	}
	c.b = c.b[1:]
	n, ok := c.digits()
	c.bad = c.bad || !ok
	return 1e18 + n
}

func (c *cursor) truth() bool {
	for _, t := range []string{"true", "false"} {
		if len(c.b) >= len(t) && string(c.b[:len(t)]) == t {
			c.b = c.b[len(t):]
			return t == "true"
		}
	}
	c.bad = true
	return false
}

// text reads a text of printable ASCII without anything to be escaped.
func (c *cursor) text(w vocabulary) string {
	i := 1
	for ; i < len(c.b) && c.b[i] != '"'; i++ {
		if c.b[i] < ' ' || c.b[i] > '~' || c.b[i] == '\\' {
			c.bad = true
			return ""
		}
	}
	if i >= len(c.b) || c.b[0] != '"' {
		c.bad = true
		return ""
	}
	s := w.of(c.b[1:i])
	c.b = c.b[i+1:]
	return s
}

// raw passes over a reply: printable ASCII, with line ends as they are quoted.
func (c *cursor) raw() {
	i := 1
	for ; i < len(c.b) && c.b[i] != '"'; i++ {
		switch x := c.b[i]; {
		case x < ' ' || x > '~':
			c.bad = true
			return
		case x == '\\':
			if i+2 >= len(c.b) || c.b[i+1] != '\\' || c.b[i+2] != 'r' && c.b[i+2] != 'n' && c.b[i+2] != 't' {
				c.bad = true
				return
			}
			i += 2
		}
	}
	if i >= len(c.b) || c.b[0] != '"' {
		c.bad = true
		return
	}
	c.b = c.b[i+1:]
}

// seconds is rounded as fieldsOf.seconds does it.
func (c *cursor) seconds() time.Duration {
	s := c.number() * float64(time.Second)
	if math.Abs(s) >= math.MaxInt64 {
		c.bad = true
		return 0
	}
	return time.Duration(math.Round(s))
}

// Up to here digits and powers of ten are floats exactly, and so is the nearest float
// to what they say (Clinger 1990, as strconv has it).
const (
	mostMantissa = 1 << 53
	mostPower    = 22
)

var powers = [mostPower + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13,
	1e14, 1e15, 1e16,
	1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads a float as the encoder writes it: -12.5, 5e-05.
func (c *cursor) number() float64 {
	var m uint64
	i, digits, exp := 0, 0, 0
	b := c.b
	neg := len(b) > 0 && b[0] == '-'
	if neg {
		i++
	}
	from := i
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		m = 10*m + uint64(b[i]-'0')
	}
	digits = i - from
	if i == from {
		c.bad = true
		return 0
	}
	if i < len(b) && b[i] == '.' {
		i++
		from = i
		for ; i < len(b) && b[i]-'0' <= 9; i++ {
			m = 10*m + uint64(b[i]-'0')
		}
		exp = from - i
		digits -= exp
		if i == from {
			c.bad = true
			return 0
		}
	}
	if i < len(b) && b[i] == 'e' {
		at := i + 1
		sign := 1
		if at < len(b) && (b[at] == '-' || b[at] == '+') {
			if b[at] == '-' {
				sign = -1
			}
			at++
		}
		from, n := at, 0
		for ; at < len(b) && b[at]-'0' <= 9 && at < from+4; at++ {
			n = 10*n + int(b[at]-'0')
		}
		if at == from {
			c.bad = true
			return 0
		}
		exp += sign * n
		i = at
	}
	text := b[:i]
	c.b = b[i:]
	if digits <= 19 && m < mostMantissa && exp >= -mostPower && exp <= mostPower {
		v := float64(m)
		if exp < 0 {
			v /= powers[-exp]
		} else {
			v *= powers[exp]
		}
		if neg {
			v = -v
		}
		return v
	}
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		c.bad = true
	}
	return v
}
