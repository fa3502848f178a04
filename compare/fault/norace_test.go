//go:build !race

package fault_test

const raceEnabled = false
