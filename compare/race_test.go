//go:build race

package compare_test

const raceEnabled = true
