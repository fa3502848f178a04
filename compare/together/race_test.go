//go:build race

package together_test

const raceEnabled = true
