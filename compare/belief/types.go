package belief

import (
	"sealworthy/compare/fault"
)

// Reading is one measured draw: the mean over its readings.
type Reading struct {
	Volts float64 // as set; one of the Ensemble's, or within 50 mV of one
	Amps  float64 // A, mean
	U     float64 // standard uncertainty that is independent from reading to reading, A
	// GainU is the relative standard uncertainty that all readings of one meter in
	// one range have in common.
	GainU float64
	// CommonU is the standard uncertainty that all readings of a group have in common, A: of what was
	// taken off each of them.
	CommonU float64
}

// Result is what several readings and a look together say of a group.
type Result struct {
	None    float64                // probability that nothing is wrong
	Unknown float64                // that it is something not in the list
	Above   float64                // that its draw is off by a cause above it, which others feel, too
	AboveBy map[fault.Kind]float64 // Above by kind of cause
	Classes []Class                // the likeliest first; with None, Unknown and Above they add up to 1
	// Weighed are the hypotheses before look-alikes were put together, by index in
	// Ensemble.Hypotheses; with None, Unknown and Above (and pairs) they add up to 1.
	Weighed []float64
	// Common is the part of it that the group has in common with others: the same
	// lack in each group of a reel, and of which.
	Common     float64
	CommonReel string // of Common; empty: none
	// Double is true where no single fault explains it and pairs were tried.
	Double bool
}

// Class is faults that these readings can't tell apart.
type Class struct {
	P      float64      // 0 to 1
	Fault  fault.Fault  // the likeliest, for its place and words
	Second *fault.Fault // of a pair; nil: one fault
	Count  int          // how many of them at once; 1: a single one
	// Suspect is set where the plan may be wrong instead.
	Suspect    *fault.Suspect
	Kinds      []fault.Kind // the likeliest first
	Groups     []string     // that it could be in
	Places     int          // branches or LEDs that it could be
	Lights     []int        // lights of the group that it could be in
	Dark       int          // lights that the likeliest darkens
	PredictedA []float64    // what the likeliest makes of the draw, by Ensemble.Volts
	// Members are indices in Ensemble.Hypotheses; of a pair, its two.
	Members []int
}
