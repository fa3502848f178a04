package belief

import (
	"sealworthy/compare/fault"
	"sealworthy/compare/reel"
)

// Options of an Ensemble. The zero Options suits all.
type Options struct {
	Priors *fault.Priors // nil: fault.DefaultPriors
	// Learned is what other groups of the build say of their reels; never from the
	// group being judged (reel.Learner.Without). nil: nothing is learned.
	Learned *reel.Learned
	// Suspects are ways in which the plan may be wrong, see fault.Suspects.
	Suspects []fault.Suspect
}
