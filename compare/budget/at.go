package budget

import (
	"fmt"

	"sealworthy/compare/scene"
)

// At says under which conditions a budget holds, and how it's made.
type At struct {
	scene.Scene
	// FeedsOnly leaves out the whole model, and with it service draws, checks,
	// twins and the feed tree: half the work, for budgets at other voltages.
	FeedsOnly bool `json:"feeds_only,omitempty"`
	// Trials of the Monte Carlo; 0: 1000, which leave u uncertain by 2 %, and of
	// many feeds fewer, so that a large plan doesn't take longer for each of them: from
	// 50 feeds on in proportion, but 250 at the least, which leave u uncertain by
	// 4.5 %; for everything together from 25 on, but 100 at the least (7 %).
	Trials int `json:"trials,omitempty"`
}

// defaults of At; common practice, no source.
const (
	defaultTrials = 1000
	feedsInFull   = 50 // so many feeds have all the trials, each alone
	leastOfFeeds  = 250
	wholeInFull   = 25 // and so many together
	leastOfWhole  = 100
	// Coverage of every band of this package.
	Coverage = 0.95
)

// trialsOf is how many trials a number of feeds get, of which inFull get all.
func trialsOf(feeds, inFull, least int) int {
	return min(defaultTrials, max(least, defaultTrials*inFull/max(1, feeds)))
}

// check refuses conditions that no bench can have.
func (a At) check() error {
	if !(a.Trials >= 0 && a.Trials <= 1e8) {
		return fmt.Errorf("%d trials: expected 0 to 1e8", a.Trials)
	}
	return a.Check()
}
