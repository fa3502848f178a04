package plan

import (
	"fmt"
	"math"
	"strings"
)

// section reads the keys of one table and reports each that isn't as it should be.
type section struct {
	*source
	n     *node
	what  string // `group "cabin windows"`
	known []string
	meant map[string]bool // known keys that an unknown one probably means
}

// otherWords are keys that makers write for ours, too far off to be found by letters.
var otherWords = map[string]string{
	"voltage": "volts", "v": "volts", "resistor": "ohms", "r": "ohms", "resistance": "ohms",
	"length": "length_mm", "diameter": "mm", "quantity": "count", "number": "count", "pieces": "count",
	"colour": "part", "color": "part", "type": "part", "led": "part", "feed": "joint", "parent": "from",
	"period": "period_s", "frequency": "period_s", "capacitor": "capacitor_uF", "current": "draw_mA",
	"power": "source", "leds": "part", "fuse_amps": "amps", "series": "in_series", "parallel": "count",
	"gauge": "awg", "swg": "awg", "area": "mm2", "cross_section": "mm2", "thickness": "mm", "feeds_from": "from",
	"min_volts": "lowest_volts", "max_volts": "highest_volts", "standing": "standing_mA",
	"tolerance": "ohms_tolerance", "spread": "spread_volts", "watt": "watts", "resistors": "ohms",
}

// table opens a table that may have the known keys only. Nil: not a table, reported.
func (s *source) table(n *node, what string, known ...string) *section {
	if n.shape != tableShape {
		s.fail(n.at, "write keys in braces: { "+known[0]+" = … }", "%s must be a table, not %s", what, n.shape)
		return nil
	}
	sec := &section{source: s, n: n, what: what, known: known, meant: map[string]bool{}}
	for _, e := range n.entries {
		if contains(known, e.key) {
			continue
		}
		likely, instead := meantKey(e, known)
		sec.meant[likely] = true
		switch {
		case likely != "":
		case e.key == "name":
			instead = "leave it out: the name stands in the line in brackets above"
		case e.key == "build" || e.key == "scale":
			instead = "move it to the top, above the first line in brackets"
		case contains(keysIn("plan"), e.key):
			instead = "write it under a line of its own: [" + e.key + ".keel]"
		default:
			instead = suggest(e.key, known, "keys")
		}
		s.fail(e.keyAt, instead, "unknown key %q", e.key)
	}
	return sec
}

// meantKey is the known key that an unknown one probably means, "" for none, and
// what to write instead.
func meantKey(e entry, known []string) (likely, instead string) {
	word := strings.ToLower(e.key)
	if other, ok := otherWords[word]; ok && contains(known, other) {
		if word == "frequency" {
			if n, ok := numberFor(other, plainNumber(e.val.number)+"Hz"); ok && e.val.shape == numberShape {
				return other, "write " + other + " = " + n + ", the seconds of one round"
			}
		}
		return other, fmt.Sprintf("write %q", other)
	}
	if (word == "draw_ma" || word == "current") && contains(known, "segment_mA") {
		return "segment_mA", "write segment_mA, the draw of one segment alone"
	}
	if likely = nearest(e.key, known); likely != "" &&
		(e.val.shape != numberShape || unitOfKey(likely) == unitOfKey(e.key)) {
		return likely, fmt.Sprintf("write %q", likely)
	}
	if key, what := inOtherUnits(e, known); key != "" {
		return key, what
	}
	return likely, fmt.Sprintf("write %q", likely)
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}

func (s *section) has(key string) bool { return s.n.get(key) != nil }

// at is the place of a key's value, or of the table when it has no such key.
func (s *section) at(key string) int {
	if e := s.n.get(key); e != nil {
		return e.val.at
	}
	return s.n.at
}

func (s *section) keyAt(key string) int {
	if e := s.n.get(key); e != nil {
		return e.keyAt
	}
	return s.n.at
}

func (s *section) pos() Pos { return s.place(s.n.at) }

// value returns the value of a key if it has the wanted shape.
func (s *section) value(key string, want shape, example string) *node {
	e := s.n.get(key)
	if e == nil {
		return nil
	}
	if e.val.shape != want {
		s.fail(e.val.at, "write "+key+" = "+example, "%s must be %s, not %s", key, want, e.val.shape)
		return nil
	}
	return e.val
}

// words reads a text; "" when it's absent or no text.
func (s *section) words(key, example string) string {
	if v := s.value(key, textShape, fmt.Sprintf("%q", example)); v != nil {
		if strings.TrimSpace(v.text) == "" {
			s.fail(v.at, fmt.Sprintf("write %s = %q, or leave it out", key, example), "%s is empty", key)
		}
		return v.text
	}
	return ""
}

// choice reads one of a few words.
func (s *section) choice(key, fallback string, of ...string) string {
	v := s.value(key, textShape, fmt.Sprintf("%q", of[0]))
	if v == nil {
		return fallback
	}
	if !contains(of, v.text) {
		s.fail(v.at, suggest(v.text, of, "words"), "unknown word %q for %s", v.text, key)
		return fallback
	}
	return v.text
}

func (s *section) flag(key string, fallback bool) bool {
	if v := s.value(key, boolShape, "true"); v != nil {
		return v.yes
	}
	return fallback
}

// limits of a number. Above is exclusive, the others inclusive.
type limits struct {
	above, from, to float64
	exclusive       bool
}

func over(above, to float64) limits   { return limits{above: above, to: to, exclusive: true} }
func between(from, to float64) limits { return limits{from: from, to: to} }

func (l limits) hold(v float64) bool {
	if math.IsNaN(v) || v > l.to {
		return false
	}
	if l.exclusive {
		return v > l.above
	}
	return v >= l.from
}

func (l limits) String() string {
	if l.exclusive {
		return fmt.Sprintf("more than %s and at most %s", plainNumber(l.above), plainNumber(l.to))
	}
	return fmt.Sprintf("from %s to %s", plainNumber(l.from), plainNumber(l.to))
}

// number reads a number within limits. False: absent, or wrong and reported.
func (s *section) number(key string, l limits, example string) (float64, bool) {
	e := s.n.get(key)
	if e == nil {
		return 0, false
	}
	instead := "write " + key + " = " + example
	if e.val.shape == textShape {
		if n, ok := numberFor(key, e.val.text); ok {
			instead = "write " + key + " = " + n
		}
	}
	if milli := e.val.number / 1000; e.val.shape == numberShape && unitOfKey(key) == (unitSign{current, 1}) &&
		e.val.number > l.to && l.hold(milli) {
		s.fail(e.val.at, fmt.Sprintf("write %s = %s if you mean %s mA: %s must be %s", key, plainNumber(milli),
			plainNumber(e.val.number), key, l),
			"%s = %s can't be", key, plainNumber(e.val.number))
		return 0, false
	}
	if asShare := e.val.number / 100; e.val.shape == numberShape && e.val.number >= 2 && l.to <= 1 && l.hold(asShare) {
		s.fail(e.val.at, fmt.Sprintf("write %s = %s if you mean %s %%: %s must be %s", key, plainNumber(asShare),
			plainNumber(e.val.number), key, l),
			"%s = %s can't be", key, plainNumber(e.val.number))
		return 0, false
	}
	return s.numberAt(e.val, key, l, instead)
}

func (s *source) numberAt(v *node, what string, l limits, instead string) (float64, bool) {
	if v.shape != numberShape {
		if v.shape == textShape {
			instead += ", a number without quotes and without a unit"
		}
		s.fail(v.at, instead, "%s must be a number, not %s", what, v.shape)
		return 0, false
	}
	if !l.hold(v.number) {
		s.fail(v.at, fmt.Sprintf("%s must be %s", what, l), "%s = %s can't be", what, plainNumber(v.number))
		return 0, false
	}
	return v.number, true
}

// into reads a number into where it belongs, times a factor, if it's there.
func (s *section) into(to *float64, factor float64, key string, l limits, example string) bool {
	v, ok := s.number(key, l, example)
	if ok {
		*to = v * factor
	}
	return ok
}

// whole reads a whole number within limits, or the fallback.
func (s *section) whole(key string, fallback, from, to int) int {
	example := fmt.Sprint(max(from, min(to, 6)))
	v, ok := s.number(key, between(float64(from), float64(to)), example)
	if !ok {
		return fallback
	}
	if v != math.Trunc(v) {
		s.fail(s.at(key), fmt.Sprintf("write %s = %d", key, int(math.Round(v))), "%s must be a whole number, not %s",
			key, plainNumber(v))
		return fallback
	}
	return int(v)
}

// list reads a list. False: it's absent, or no list and reported.
func (s *section) list(key, example string) ([]*node, bool) {
	v := s.value(key, arrayShape, example)
	if v == nil {
		return nil, false
	}
	if better := s.commaSlip(v); better != "" {
		s.fail(v.at, "write decimal points: "+key+" = "+better, "commas inside the numbers of %s", key)
		return nil, false
	}
	return v.items, true
}

// must reports a key that has to be there, unless a misspelt one was reported.
func (s *section) must(key, example string) bool {
	if s.has(key) || s.meant[key] {
		return s.has(key)
	}
	s.fail(s.n.at, fmt.Sprintf("add %s = %s", key, example), "%s has no %s", s.what, key)
	return false
}

// onlyOne reports keys of which one at most may stand; it returns that one.
func (s *section) onlyOne(keys ...string) string {
	found := ""
	for _, k := range keys {
		switch {
		case !s.has(k):
		case found == "":
			found = k
		default:
			s.fail(s.keyAt(k), fmt.Sprintf("keep %s or %s", found, k), "%s and %s exclude each other", found, k)
		}
	}
	return found
}
