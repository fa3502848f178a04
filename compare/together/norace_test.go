//go:build !race

package together_test

const raceEnabled = false
