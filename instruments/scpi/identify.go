package scpi

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"sealworthy/instruments"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/profile"
)

// fieldsOfAnIdentity are those of IEEE 488.2, 10.14.
const fieldsOfAnIdentity = 4

// Identify asks for the identity and compares it with the profile's pattern.
// From then on the identity brings the line into step.
func (pr *protocol) Identify(ctx context.Context) (string, error) {
	if !pr.p.Identity.Ask.Given() {
		return "", nil
	}
	r, err := pr.ask(ctx, "identify", &pr.p.Identity.Ask, profile.Args{}, false)
	if err != nil {
		return "", err
	}
	id := strings.TrimSpace(string(r.Bytes))
	if strings.Count(id, ",") != fieldsOfAnIdentity-1 {
		// Whether it was cut can't be seen: it must come twice.
		again, err := pr.ask(ctx, "identify", &pr.p.Identity.Ask, profile.Args{}, false)
		if err != nil {
			return "", err
		}
		if !bytes.Equal(again.Bytes, r.Bytes) {
			return "", pr.garbled("identify", again, fmt.Errorf("it was %q before", r.Bytes))
		}
	}
	if pr.pattern != nil && (!pr.pattern.MatchString(id) || answersSomethingElse(id)) {
		return "",
			&instruments.PortError{Port: pr.name, Op: "identify", Err: fmt.Errorf("%w: %q is not what profile %q "+
				"expects", instruments.ErrGarbled, id, pr.p.Name),
				Hint: "is it the right instrument on this port?"}
	}
	if _, err := ParseList(id); err == nil || answersSomethingElse(id) {
		return id, nil // could be mistaken for a value
	}
	m, err := pr.message(pr.p.Identity.Ask.Send, profile.Args{})
	if err != nil {
		return "", err
	}
	pr.line.SetSync(&exchange.Sync{Message: m, Split: pr.synced(), Mine: func(reply []byte) bool {
		return strings.TrimSpace(string(pr.frame.bare(reply))) == id
	}})
	return id, nil
}

// synced frames replies whatever stands before them.
func (pr *protocol) synced() exchange.Split {
	if len(pr.frame.Prompt) == 0 {
		return SplitLines(pr.frame.End, pr.frame.Longest)
	}
	return pr.frame.Asked(1)
}

// answersSomethingElse: a late reply to another question must not pass for an
// identity, which may have any number of fields.
func answersSomethingElse(id string) bool {
	switch strings.ToUpper(id) {
	case "ON", "OFF":
		return true
	}
	if strings.HasPrefix(id, "(@") {
		return true
	}
	if _, err := ParseQueueError(id); err == nil {
		return true
	}
	_, units, err := parseList(id)
	return err == nil && strings.Join(units, "") != ""
}
