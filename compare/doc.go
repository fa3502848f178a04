// Package compare sets measured against expected. Steps makes the steps of a
// test from a plan, NewGuide answers the engine while it runs, Judge makes the
// findings of a closure from what was recorded.
//
// A group is in band only when the loss of its smallest branch is excluded;
// what can't be decided is "can't tell", with what would settle it.
package compare
