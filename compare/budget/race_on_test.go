//go:build race

package budget

const raceOn = true
