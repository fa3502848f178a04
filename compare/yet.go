package compare

import (
	"slices"

	"sealworthy/compare/fault"
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

// DrawsNothing is the word for a verdict of low where nothing flows at all, by the meter and by
// all else that reads: short, for it stands in the largest letters.
const DrawsNothing = "0 mA"

// Word is the verdict on a group as it's read beside its figures.
func (f Finding) Word() string {
	switch {
	case f.Verdict == InBand && YetInBand(f) != "":
		return Passed
	case f.Verdict == Low && f.drawsNothing() && !(len(f.Causes) > 0 && f.Causes[0].Name == string(fault.MeterLead)):
		return DrawsNothing
	}
	return string(f.Verdict)
}
