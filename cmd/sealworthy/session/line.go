package session

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// MostLine is how long a line may be that comes in, bytes.
const MostLine = 16 << 10

// Line is what a face's line says: an answer, or that all is to stop, that another meter
// is taken, or that a look is to have more light. Answer is empty where it's none.
type Line struct {
	Answer Answer
	Stop   bool // all is to stop
	Meter  bool // another meter from now on
	Light  bool // a look stays lit longer, or is lit again
}

// ParseLine reads a line of a face: one JSON object, {"stop":true}, {"meter":true}, {"light":true} or an answer
// {"question":3,"choice":"skip","text":"not soldered yet"}, a measured value in
// "number". It takes nothing else: no other key, none twice, no value of another
// kind, nothing behind it, no text with control characters.
func ParseLine(src []byte) (l Line, err error) {
	if len(src) > MostLine {
		return l, fmt.Errorf("longer than %d bytes", MostLine)
	}
	if !utf8.Valid(src) {
		return l, errors.New("no UTF-8")
	}
	d := json.NewDecoder(bytes.NewReader(src))
	d.UseNumber()
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return l, errors.New("no JSON object")
	}
	seen := map[string]bool{}
	for d.More() {
		t, err := d.Token()
		if err != nil {
			return Line{}, err
		}
		key, _ := t.(string) // within an object the decoder gives a key here
		if seen[key] {
			return Line{}, fmt.Errorf("%q is there twice", key)
		}
		seen[key] = true
		if t, err = d.Token(); err != nil {
			return Line{}, err
		}
		if err := l.take(key, t); err != nil {
			return Line{}, err
		}
	}
	if _, err := d.Token(); err != nil { // the closing brace
		return Line{}, err
	}
	if _, err := d.Token(); err != io.EOF {
		return Line{}, errors.New("something stands behind the object")
	}
	alone := (l.Stop || l.Meter || l.Light) && len(seen) == 1
	answers := !seen["stop"] && !seen["meter"] && !seen["light"] && l.Answer.Question >= 1 && l.Answer.Choice != ""
	if !alone && !answers {
		return Line{}, errors.New(`neither "stop", "meter" nor "light" alone, nor a "question" with a "choice"`)
	}
	return l, nil
}

// take takes one value over.
func (l *Line) take(key string, value json.Token) (err error) {
	ok := false
	switch key {
	case "stop":
		l.Stop, ok = value.(bool)
	case "meter":
		l.Meter, ok = value.(bool)
	case "light":
		l.Light, ok = value.(bool)
	case "question":
		var n json.Number
		if n, ok = value.(json.Number); ok {
			var i int64
			i, err = n.Int64()
			l.Answer.Question = int(i)
			ok = err == nil && int64(l.Answer.Question) == i
		}
	case "choice":
		l.Answer.Choice, ok = value.(string)
	case "text":
		l.Answer.Text, ok = value.(string)
		ok = ok && strings.IndexFunc(l.Answer.Text, unicode.IsControl) < 0
	case "number":
		var n json.Number
		if n, ok = value.(json.Number); ok {
			var v float64
			v, err = n.Float64()
			l.Answer.Number, ok = &v, err == nil
		}
	}
	if !ok {
		return fmt.Errorf("%q is not to be there, or not with that value", key)
	}
	return nil
}
