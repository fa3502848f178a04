package record

import (
	"slices"

	"sealworthy/capture"
)

// What a sitting can be opened for.
const (
	ForTest   = "test"   // something is measured
	ForWords  = "told"   // what was touched, seen or decided, without a test
	ForCheck  = "check"  // damage is answered
	ForSample = "sample" // loose pieces
)

// Series gives the numbers of the sittings that make up the latest test of a
// stage: the one that began it, and all of that stage since. None is nil.
func (f Folded) Series(stage string) []int {
	var out []int
	for _, s := range slices.Backward(f.Sittings) {
		if s.Stage != stage {
			continue
		}
		out = append(out, s.Number)
		// Before the chain all that went on with a test stands in its file.
		if s.GoesOn == 0 && (s.What == ForTest || !s.Chained) {
			slices.Reverse(out)
			return out
		}
	}
	return nil
}

// StepsOf gives the steps of some sittings that nobody wanted to do again.
func (f Folded) StepsOf(sittings []int) []capture.StepRecord {
	var out []capture.StepRecord
	for _, r := range f.Steps {
		if !r.Redone && slices.Contains(sittings, r.BeganAt.Sitting()) {
			out = append(out, r)
		}
	}
	return out
}
