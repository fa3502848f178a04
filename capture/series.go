package capture

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"iter"
	"math"
	"slices"
	"time"

	"sealworthy/instruments"
)

// Series holds the readings of a step as a record gives them back, packed: some ten
// bytes each instead of two hundred. What was read comes back exactly, but for the latency,
// which is rounded to a millisecond, and the raw reply, which judges nothing and stays in
// the record. Of a long one, as of a soak, only the latest readings are held, beside what all of them say together and
// every spike. Copies share what they hold; a nil Series is empty.
type Series struct {
	blocks [][]byte
	n      int
	pack   packer
	last   time.Time
	mixed  bool // a reading came before the one above it
	whole  bool // nothing is expected to be added
	long   *long
	// settled and swept are the ends of the trace, as far as they are known.
	settled, swept time.Time
}

// Blocks double in size from one to the next: most steps are short.
const (
	firstBlock = 512 // bytes
	largeBlock = 16 << 10
	mostPacked = 64 // bytes that one reading can take
)

// Add appends a reading.
func (s *Series) Add(x instruments.Reading) {
	if s.n == mostWhole && s.long == nil {
		s.lengthen()
	}
	if s.long != nil {
		s.n++
		s.long.add(s, x, time.Millisecond)
		return
	}
	if s.whole {
		s.again(slices.Collect(s.All()))
	}
	if n := len(s.blocks); n == 0 || cap(s.blocks[n-1])-len(s.blocks[n-1]) < mostPacked {
		s.blocks = append(s.blocks, make([]byte, 0, min(firstBlock<<min(n, 16), largeBlock)))
	}
	if x.At.Before(s.last) {
		s.mixed = true
	}
	s.last = x.At
	b := &s.blocks[len(s.blocks)-1]
	*b = s.pack.put(*b, x)
	s.n++
}

// Len is the number of readings.
func (s *Series) Len() int {
	if s == nil {
		return 0
	}
	return s.n
}

// All gives the readings in their order, of a long series the latest ones.
func (s *Series) All() iter.Seq[instruments.Reading] {
	return func(yield func(instruments.Reading) bool) {
		if s == nil {
			return
		}
		if s.long != nil {
			s.long.all(yield)
			return
		}
		u := packer{kinds: s.pack.kinds}
		var x instruments.Reading
		for _, b := range s.blocks {
			for len(b) > 0 {
				b = u.take(b, &x)
				if !yield(x) {
					return
				}
			}
		}
	}
}

// End puts the readings in the order of their times, those of one time as they are,
// and gives up the room that adding more would need.
func (s *Series) End() {
	if s == nil || s.whole {
		return
	}
	if s.long != nil {
		s.long.latest.End()
		return
	}
	if s.mixed {
		s.again(slices.SortedStableFunc(s.All(), func(a, b instruments.Reading) int { return a.At.Compare(b.At) }))
	}
	if n := len(s.blocks); n > 0 {
		s.blocks[n-1] = bytes.Clone(s.blocks[n-1])
	}
	s.pack, s.whole = packer{kinds: s.pack.kinds}, true
}

// again packs readings anew.
func (s *Series) again(all []instruments.Reading) {
	*s = Series{settled: s.settled, swept: s.swept}
	for _, x := range all {
		s.Add(x)
	}
}

// MarshalJSON gives the readings as a list.
func (s *Series) MarshalJSON() ([]byte, error) {
	all := slices.Collect(s.All())
	if all == nil {
		all = []instruments.Reading{}
	}
	return json.Marshal(all)
}

// packer writes readings into bytes and takes them out again; both ways keep the same
// state, so that most of a reading is what the one before it says already.
type packer struct {
	kinds []kindOf
	of    map[kindOf]int // beyond fewKinds
	state []kindState
	at    int64 // of the reading before, ns since 1970
}

// kindOf is what readings of one instrument have in common.
type kindOf struct {
	instrument, unit, scale string
	quantity                instruments.Quantity
	status                  instruments.Status
}

// kindState is the last reading of a kind, and limits of error by value: an
// instrument's follows from the value, and values come again.
type kindState struct {
	micro, nano int64
	half        float64
	window      time.Duration
	value, of   [halves]float64
}

const (
	fewKinds = 8
	halves   = 128
)

// How a value and a limit of error are packed.
const (
	noValue    = iota
	inMicro    // a whole number of millionths, less the one before
	inNano     // of thousand millionths
	wholeFloat // eight bytes

	halfSame  = 0
	halfKnown = 1 // that of the same value before
	halfWhole = 2
)

// longest whole numbers that a float64 holds exactly
const mostExact = 1 << 53

func (p *packer) kind(k kindOf) int {
	if len(p.kinds) <= fewKinds {
		if i := slices.Index(p.kinds, k); i >= 0 {
			return i
		}
	} else if i, ok := p.of[k]; ok {
		return i
	}
	p.kinds = append(p.kinds, k)
	if len(p.kinds) > fewKinds {
		if p.of == nil {
			p.of = map[kindOf]int{}
			for i, x := range p.kinds {
				p.of[x] = i
			}
		}
		p.of[k] = len(p.kinds) - 1
	}
	return len(p.kinds) - 1
}

func (p *packer) stateOf(i int) *kindState {
	for len(p.state) <= i {
		p.state = append(p.state, kindState{})
	}
	return &p.state[i]
}

// slot is where a value's limit of error is remembered.
func slot(v float64) int {
	return int(math.Float64bits(v) * 0x9e3779b97f4a7c15 >> 57)
}

// whole gives v times scale where that is a whole number from which v comes back.
func whole(v, scale float64) (int64, bool) {
	x := math.Round(v * scale)
	if !(math.Abs(x) < mostExact) || x/scale != v || x == 0 && math.Signbit(v) {
		return 0, false
	}
	return int64(x), true
}

func (p *packer) put(b []byte, x instruments.Reading) []byte {
	k := p.kind(kindOf{x.Instrument, x.Unit, x.Range, x.Quantity, x.Status})
	s := p.stateOf(k)
	v, value, half, window := 0.0, uint64(noValue), uint64(halfWhole), uint64(0)
	var micro, nano int64
	if x.Value != nil {
		v = *x.Value
		var ok bool
		value = wholeFloat
		if micro, ok = whole(v, 1e6); ok {
			value = inMicro
		} else if nano, ok = whole(v, 1e9); ok {
			value = inNano
		}
	}
	at := slot(v)
	switch {
	case same(s.half, x.HalfWidth):
		half = halfSame
	case same(s.value[at], v) && same(s.of[at], x.HalfWidth):
		half = halfKnown
	}
	if x.Window != s.window {
		window = 1
	}
	b = binary.AppendUvarint(b, uint64(k)<<5|value<<3|half<<1|window)
	t := x.At.UnixNano()
	b = binary.AppendVarint(b, t-p.at)
	p.at = t
	switch value {
	case inMicro:
		b = binary.AppendVarint(b, micro-s.micro)
		s.micro = micro
	case inNano:
		b = binary.AppendVarint(b, nano-s.nano)
		s.nano = nano
	case wholeFloat:
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	if half == halfWhole {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x.HalfWidth))
	}
	s.half, s.value[at], s.of[at] = x.HalfWidth, v, x.HalfWidth
	if window == 1 {
		b = binary.AppendVarint(b, int64(x.Window))
		s.window = x.Window
	}
	return binary.AppendVarint(b, int64(x.Latency.Round(time.Millisecond)/time.Millisecond))
}

func same(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }

// take is put's way back; x is overwritten, but for its value, which is a new one.
func (p *packer) take(b []byte, x *instruments.Reading) []byte {
	head, n := binary.Uvarint(b)
	b = b[n:]
	k := p.kinds[head>>5]
	s := p.stateOf(int(head >> 5))
	d, n := binary.Varint(b)
	b = b[n:]
	p.at += d
	*x = instruments.Reading{Instrument: k.instrument, Unit: k.unit, Range: k.scale, Quantity: k.quantity,
		Status: k.status,
		At:     time.Unix(0, p.at).UTC()}
	v := 0.0
	switch head >> 3 & 3 {
	case inMicro:
		d, n = binary.Varint(b)
		b, s.micro = b[n:], s.micro+d
		v = float64(s.micro) / 1e6
	case inNano:
		d, n = binary.Varint(b)
		b, s.nano = b[n:], s.nano+d
		v = float64(s.nano) / 1e9
	case wholeFloat:
		v = math.Float64frombits(binary.LittleEndian.Uint64(b))
		b = b[8:]
	}
	if head>>3&3 != noValue {
		value := v
		x.Value = &value
	}
	at := slot(v)
	switch head >> 1 & 3 {
	case halfSame:
		x.HalfWidth = s.half
	case halfKnown:
		x.HalfWidth = s.of[at]
	default:
		x.HalfWidth = math.Float64frombits(binary.LittleEndian.Uint64(b))
		b = b[8:]
	}
	s.half, s.value[at], s.of[at] = x.HalfWidth, v, x.HalfWidth
	if head&1 == 1 {
		d, n = binary.Varint(b)
		b, s.window = b[n:], time.Duration(d)
	}
	x.Window = s.window
	d, n = binary.Varint(b)
	x.Latency = time.Duration(d) * time.Millisecond
	return b[n:]
}
