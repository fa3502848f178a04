package scpi

import (
	"fmt"
	"strconv"
	"strings"
)

// QueueError is one entry of an instrument's error queue. Match on Code: the
// text differs between instruments. Code 0 is the end of the queue.
type QueueError struct {
	Code   int    // negative: of the standard; positive: of the instrument
	Text   string // as the instrument says it
	Detail string // device-dependent part, after a semicolon
}

func (e QueueError) Error() string {
	s := fmt.Sprintf("instrument error %d", e.Code)
	if e.Text != "" {
		s += ", " + e.Text
	}
	if e.Detail != "" {
		s += " (" + e.Detail + ")"
	}
	return s
}

// ParseQueueError reads one reply of SYSTem:ERRor?: an NR1 number, a comma and a
// quoted string (SCPI-1999 vol. 2, 21.8). Many instruments leave the quotes out,
// some the string: what counts is the code.
func ParseQueueError(s string) (QueueError, error) {
	s = strings.TrimSpace(s)
	number, text, has := strings.Cut(s, ",")
	head, rest := digits(strings.TrimLeft(number, "+-"))
	if head == "" || rest != "" || len(number)-len(head) > 1 || len(head) > 5 {
		return QueueError{}, fmt.Errorf("%q is no entry of an error queue", s)
	}
	code, err := strconv.Atoi(number)
	if err != nil || code < -32768 || code > 32767 {
		return QueueError{}, fmt.Errorf("%q is no entry of an error queue", s)
	}
	e := QueueError{Code: code}
	if !has {
		return e, nil
	}
	text = strings.TrimSpace(text)
	if text != "" && !strings.Contains(text, `"`) {
		e.Text, e.Detail, _ = strings.Cut(text, ";")
		return e, nil
	}
	if len(text) < 2 || text[0] != '"' || text[len(text)-1] != '"' {
		return QueueError{}, fmt.Errorf("%q is no entry of an error queue: its text is not quoted", s)
	}
	// A quote within a string is doubled (IEEE 488.2, 8.7.8).
	body := text[1 : len(text)-1]
	if strings.Contains(strings.ReplaceAll(body, `""`, ""), `"`) {
		return QueueError{}, fmt.Errorf("%q is no entry of an error queue: a quote stands alone", s)
	}
	e.Text, e.Detail, _ = strings.Cut(strings.ReplaceAll(body, `""`, `"`), ";")
	return e, nil
}
