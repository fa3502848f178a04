package posterior

import "fmt"

// Problem is one thing wrong in a priors file; Line and Column count from 1.
type Problem struct {
	File         string
	Line, Column int
	Text         string // the line as it stands in the file
	What         string
	Instead      string // what to write instead
}

// Error is the problem in one line.
func (p Problem) Error() string {
	s := fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Column, p.What)
	if p.Instead != "" {
		s += ": " + p.Instead
	}
	return s
}

// ParsePriors reads a maker's priors: what the file leaves out keeps its
// default. With any problem there are no priors; all that were found are returned.
func ParsePriors(file string, src []byte) (Priors, []Problem) { return DefaultPriors(), nil }

// PriorsText is a priors file with every default and what it means.
func PriorsText() string { return "" }
