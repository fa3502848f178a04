package stream

import (
	"fmt"
	"math"
	"strings"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
)

// frameBytes is the length of a frame of segments.
const frameBytes = 14

// NextLCD finds the first whole frame: 14 bytes whose high nibbles count from 1
// to 14. Where none is complete, start tells how many bytes can't belong to one.
func NextLCD(got []byte) (start, end int, ok bool) {
	run := 0
	for i, b := range got {
		switch n := int(b >> 4); {
		case n == run+1 && n <= frameBytes:
			run++
		case n == 1:
			run = 1
		default:
			run = 0
		}
		if run == frameBytes {
			return i + 1 - frameBytes, i + 1, true
		}
	}
	return len(got) - run, 0, false
}

// figures by their segments a to g, lowest bit first.
var figures = map[byte]byte{
	0b0111111: '0', 0b0000110: '1', 0b1011011: '2', 0b1001111: '3', 0b1100110: '4',
	0b1101101: '5', 0b1111101: '6', 0b0000111: '7', 0b1111111: '8', 0b1101111: '9',
	0b0111000: 'L', 0b0000000: ' ',
}

// lcd reads frames by the segment table of a profile.
type lcd struct {
	form   *profile.LCDForm
	digits [][7]profile.Segment
	points []profile.Segment
	names  map[string]profile.Segment
	refuse []profile.Segment
	known  [frameBytes]byte // segments that mean something, by byte
	isOver map[string]bool
}

func newLCD(f *profile.LCDForm) (*lcd, error) {
	l := &lcd{form: f, names: map[string]profile.Segment{}, isOver: map[string]bool{}}
	var bad error
	seg := func(s string) profile.Segment {
		g, err := profile.ParseSegment(s)
		if err != nil {
			bad = err
			return g
		}
		l.known[g.Byte-1] |= 1 << g.Bit
		return g
	}
	for _, d := range f.Digits {
		if len(d) != 7 {
			return nil, fmt.Errorf("a digit has 7 segments, not %d", len(d))
		}
		var out [7]profile.Segment
		for i, s := range d {
			out[i] = seg(s)
		}
		l.digits = append(l.digits, out)
	}
	for _, s := range f.Points {
		l.points = append(l.points, seg(s))
	}
	for _, s := range f.Refuse {
		l.refuse = append(l.refuse, seg(s))
	}
	for _, s := range f.Others {
		seg(s)
	}
	for name, s := range map[string]string{"minus": f.Minus, "hold": f.Hold, "auto": f.Auto, "milli": f.Milli,
		"micro": f.Micro, "kilo": f.Kilo, "mega": f.Mega, "nano": f.Nano, "amps": f.Amps, "volts": f.Volts,
		"dc": f.DC, "ac": f.AC, "battery": f.Battery} {
		if s != "" {
			l.names[name] = seg(s)
		}
	}
	for _, s := range f.Overload {
		l.isOver[s] = true
	}
	return l, bad
}

func (l *lcd) next(got []byte) (int, int, bool) { return NextLCD(got) }

func lit(frame []byte, s profile.Segment) bool { return frame[s.Byte-1]>>s.Bit&1 == 1 }

func (l *lcd) on(frame []byte, name string) bool {
	s, ok := l.names[name]
	return ok && lit(frame, s)
}

func garbled(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{instruments.ErrGarbled}, args...)...)
}

// read tells what a frame shows.
func (l *lcd) read(frame []byte) (Shown, error) {
	if len(frame) != frameBytes {
		return Shown{}, garbled("%d bytes are no frame", len(frame))
	}
	for i, b := range frame {
		if int(b>>4) != i+1 {
			return Shown{}, garbled("byte %d is out of order", i+1)
		}
		if extra := b & 0x0F &^ l.known[i]; extra != 0 {
			return Shown{}, garbled("byte %d lights segments that the profile doesn't know (%#x)", i+1, extra)
		}
	}
	var s Shown
	var err error
	if s.Quantity, err = l.quantity(frame); err != nil {
		return Shown{}, err
	}
	size, err := l.prefix(frame)
	if err != nil {
		return Shown{}, err
	}
	text, decimals, err := l.text(frame)
	if err != nil {
		return Shown{}, err
	}
	s.Resolution = size * math.Pow(10, -float64(decimals))
	switch {
	case l.on(frame, "hold"):
		s.Status = instruments.Held
		return s, nil
	case l.isOver[strings.ReplaceAll(text, " ", "")]:
		s.Status = instruments.Overload
		return s, nil
	}
	n, err := whole(text)
	if err != nil {
		return Shown{}, err
	}
	if l.on(frame, "minus") {
		n = -n
	}
	s.Status, s.Value = instruments.OK, float64(n)/math.Pow(10, float64(decimals))*size
	return s, nil
}

// quantity asks for exactly one unit, and DC.
func (l *lcd) quantity(frame []byte) (instruments.Quantity, error) {
	amps, volts := l.on(frame, "amps"), l.on(frame, "volts")
	for _, r := range l.refuse {
		if lit(frame, r) {
			return "", &wrongQuantity{shows: "something else than a plain current or voltage",
				hint: "turn its dial to DC current or voltage, relative mode off"}
		}
	}
	if l.on(frame, "ac") {
		return "", &wrongQuantity{shows: "AC", hint: "turn its dial to DC"}
	}
	switch {
	case amps && volts || !amps && !volts:
		return "", garbled("one unit should be lit")
	case l.form.DC != "" && !l.on(frame, "dc"):
		return "", garbled("neither AC nor DC is lit")
	case amps:
		return instruments.Current, nil
	}
	return instruments.Voltage, nil
}

func (l *lcd) prefix(frame []byte) (float64, error) {
	size, lit := 1.0, 0
	for name, x := range map[string]float64{"nano": 1e-9, "micro": 1e-6, "milli": 1e-3, "kilo": 1e3, "mega": 1e6} {
		if l.on(frame, name) {
			size, lit = x, lit+1
		}
	}
	if lit > 1 {
		return 0, garbled("%d prefixes are lit", lit)
	}
	return size, nil
}

// text gives the figures and how many of them stand behind the point.
func (l *lcd) text(frame []byte) (text string, decimals int, err error) {
	var out strings.Builder
	for i, d := range l.digits {
		var bits byte
		for j, s := range d {
			if lit(frame, s) {
				bits |= 1 << j
			}
		}
		c, ok := figures[bits]
		if !ok {
			return "", 0, garbled("digit %d shows no figure", i+1)
		}
		out.WriteByte(c)
	}
	points := 0
	for i, p := range l.points {
		if lit(frame, p) {
			points++
			decimals = len(l.digits) - 1 - i
		}
	}
	if points > 1 {
		return "", 0, garbled("%d decimal points are lit", points)
	}
	return out.String(), decimals, nil
}

// whole reads figures with blanks before them only.
func whole(text string) (int, error) {
	body := strings.TrimLeft(text, " ")
	if body == "" {
		return 0, garbled("the display is dark")
	}
	n := 0
	for _, c := range body {
		if c < '0' || c > '9' {
			return 0, garbled("%q is no number", text)
		}
		n = 10*n + int(c-'0')
	}
	return n, nil
}
