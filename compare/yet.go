package compare

import (
	"slices"

	"sealworthy/compare/words"
)

// YetInBand says why a finding is in band though its draw lies outside of the band that stands beside it; "": it
// doesn't.
func YetInBand(f Finding) string {
	inside := f.MeasuredA >= f.Band.LowA && f.MeasuredA <= f.Band.HighA
	switch {
	case f.Verdict != InBand || f.Readings == 0 || !(f.Band.HighA > 0) || inside:
		return ""
	case slices.Contains(f.Notes, words.EdgeOfBand):
		return words.EdgeOfBand
	case len(f.Notes) > 0:
		return f.Notes[0]
	}
	return words.NotByItAlone
}

// Passed is the word for a verdict of in band beside a draw that lies outside of the band: something
// else let it by.
const Passed = "passed"

// Word is a verdict as it's read beside its figures. yet is what YetInBand says of it.
func Word(v Verdict, yet string) string {
	if v == InBand && yet != "" {
		return Passed
	}
	return string(v)
}

// Word is the verdict on a group as it's read beside its figures.
func (f Finding) Word() string { return Word(f.Verdict, YetInBand(f)) }
