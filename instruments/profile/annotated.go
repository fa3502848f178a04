package profile

import (
	"fmt"
	"regexp"
)

// The groups of a pattern that pick a number out of an annotated reply.
const (
	valueGroup = "value"
	unitGroup  = "unit"
)

// Take gives what of a reply is to be read as the point's number: all of it, or
// what the groups value and unit of the pattern hold, a unit behind the number. A
// reply that the pattern doesn't match whole is an error.
func (p *Point) Take(reply string) (string, error) {
	if p.Pattern == "" {
		return reply, nil
	}
	re, err := regexp.Compile("^(?:" + p.Pattern + ")$")
	if err != nil {
		return "", err
	}
	found := re.FindStringSubmatch(reply)
	if found == nil {
		return "", fmt.Errorf("it doesn't look like %s", p.Pattern)
	}
	v, u := re.SubexpIndex(valueGroup), re.SubexpIndex(unitGroup)
	switch {
	case v < 0:
		return reply, nil
	case u < 0 || found[u] == "":
		return found[v], nil
	}
	return found[v] + " " + found[u], nil
}
