//go:build race

package blink

// raced reports that the race detector slows everything down: populations
// shrink to a few trials then.
const raced = true
