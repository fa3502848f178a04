//go:build race

package stages_test

const raceOn = true
