package belief

import (
	"sealworthy/compare/fault"
)

// Options of an Ensemble. The zero Options suits all.
type Options struct {
	Priors *fault.Priors // nil: fault.DefaultPriors
	// Suspects are ways in which the plan may be wrong, see fault.Suspects.
	Suspects []fault.Suspect
}
