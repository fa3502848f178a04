package posterior

// Verdict is the outcome of the decision rule over several readings. The zero
// Verdict is no valid answer.
type Verdict string

// What the rule can say.
const (
	Pass      Verdict = "pass"
	FailLow   Verdict = "fail low"
	FailHigh  Verdict = "fail high"
	Undecided Verdict = "undecided"
)

// Decision is a verdict with the numbers that it rests on.
type Decision struct {
	Verdict Verdict
	// Chi is the distance from healthy in standard deviations, over all readings;
	// ChiLimit is where the rule fails it.
	Chi, ChiLimit float64
	// DPrime is the distance between healthy and the fault of interest that is
	// hardest to see; Z is where the readings lie on that way; it passes up to DPrime less
	// the guard.
	DPrime, Z float64
	// Hardest is that fault, an index in Ensemble.Hypotheses; -1: no fault can be named.
	Hardest int
	// CanPass: a healthy group could pass at all with these readings.
	CanPass bool
}
