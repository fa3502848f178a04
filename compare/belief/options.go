package belief

import (
	"sealworthy/compare/fault"
	"sealworthy/compare/reel"
)

// Options of an Ensemble. The zero Options suits all but tests.
type Options struct {
	Samples int     // trials; 0: 1000
	Seed    uint64  // fixed from the plan's revision by the caller: the same plan gives the same answer
	Priors  *Priors // nil: DefaultPriors
	// Learned is what other groups of the build say of their reels; never from the
	// group being judged (reel.Learner.Without). nil: nothing is learned.
	Learned *reel.Learned
	// AsBuilt are readings of the same groups from when they were known to be
	// healthy; their U and GainU say how well their draw is known since. Their room,
	// voltage and leads were as well known as those of the Bench, but others.
	AsBuilt []Reading
	// Suspects are ways in which the plan may be wrong, see fault.Suspects.
	Suspects []fault.Suspect
	// Linear takes sensitivities in place of trials: a hundredth of the time, and
	// right as long as tolerances are small against what the resistors drop.
	Linear bool
}
