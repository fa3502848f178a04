package profile

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// streams checks the sections of meters that send by themselves.
func (c check) streams() {
	if (c.p.Text != nil) != (c.p.Speaks == Text) {
		c.f.Add("text", "[text] belongs to a meter that sends lines of text, and it needs one",
			`write speaks = "text stream"`)
	} else if c.p.Text != nil {
		c.text(c.p.Text)
	}
	if (c.p.LCD != nil) != (c.p.Speaks == LCD) {
		c.f.Add("lcd", "[lcd] belongs to a meter that sends display segments, and it needs one",
			`write speaks = "lcd stream"`)
	} else if c.p.LCD != nil {
		c.lcd(c.p.LCD)
	}
}

func (c check) text(t *TextForm) {
	re, err := regexp.Compile(t.Pattern)
	switch {
	case err != nil:
		c.f.Add("text.pattern", "no regular expression: "+err.Error(), "")
	case re.SubexpIndex("value") < 0:
		c.f.Add("text.pattern", "the pattern has no group named value",
			`write (?P<value>[-+]?[0-9.]+) where the number stands`)
	}
	for unit, si := range t.Units {
		if !(si > 0) {
			c.f.Add("text.units", fmt.Sprintf("unit %q needs its size in SI", unit), `write mA = 0.001`)
		}
	}
	for _, list := range []struct {
		path  string
		units []string
	}{{"text.current", t.Current}, {"text.voltage", t.Voltage}} {
		for i, u := range list.units {
			if _, ok := t.Units[u]; !ok {
				c.f.Add(fmt.Sprintf("%s.%d", list.path, i), fmt.Sprintf("unit %q has no size", u),
					"put it into [text.units]")
			}
		}
	}
	if len(t.Current)+len(t.Voltage) == 0 {
		c.f.Add("text", "it doesn't say which units are a current or a voltage", `write current = ["A", "mA"]`)
	}
}

func (c check) lcd(l *LCDForm) {
	seen := map[Segment]string{}
	name := func(path, s string, needed bool) {
		if s == "" {
			if needed {
				c.f.Add(path, path+" is missing", `write the segment as "byte.bit", as "2.3"`)
			}
			return
		}
		seg, err := ParseSegment(s)
		if err != nil {
			c.f.Add(path, err.Error(), `write the byte 1 to 14 and the bit 0 to 3, as "2.3"`)
			return
		}
		if other, twice := seen[seg]; twice {
			c.f.Add(path, fmt.Sprintf("segment %s is used by %s already", s, other), "each segment means one thing")
		}
		seen[seg] = path
	}
	for i, d := range l.Digits {
		at := fmt.Sprintf("lcd.digits.%d", i)
		if len(d) != 7 {
			c.f.Add(at, "a digit has seven segments, a to g", "a on top, then clockwise, g in the middle")
		}
		for j, s := range d {
			name(fmt.Sprintf("%s.%d", at, j), s, true)
		}
	}
	if len(l.Digits) == 0 {
		c.f.Add("lcd.digits", "the digits are missing", "")
	}
	if len(l.Points) != max(len(l.Digits)-1, 0) {
		c.f.Add("lcd.points", "there is one decimal point between each two digits", "")
	}
	for i, s := range l.Points {
		name(fmt.Sprintf("lcd.points.%d", i), s, true)
	}
	for i, s := range slices.Concat(l.Others, l.Refuse) {
		name(fmt.Sprintf("lcd.others.%d", i), s, true)
	}
	for _, x := range []struct {
		path, seg string
		needed    bool
	}{
		{"minus", l.Minus, true}, {"hold", l.Hold, false}, {"auto", l.Auto, false}, {"milli", l.Milli, false},
		{"micro", l.Micro, false}, {"kilo", l.Kilo, false}, {"mega", l.Mega, false}, {"nano", l.Nano, false},
		{"amps", l.Amps, true}, {"volts", l.Volts, true}, {"dc", l.DC, false}, {"ac", l.AC, false},
		{"battery", l.Battery, false},
	} {
		name("lcd."+x.path, x.seg, x.needed)
	}
}

// Segment is one segment of a display frame: byte index 1 to 14, bit 0 to 3.
type Segment struct {
	Byte, Bit int // of the frame, bit of its lower half
}

// ParseSegment reads "byte.bit".
func ParseSegment(s string) (Segment, error) {
	a, b, ok := strings.Cut(s, ".")
	i, err1 := strconv.Atoi(a)
	j, err2 := strconv.Atoi(b)
	if !ok || err1 != nil || err2 != nil || i < 1 || i > 14 || j < 0 || j > 3 {
		return Segment{}, fmt.Errorf("%q is no segment", s)
	}
	return Segment{i, j}, nil
}
