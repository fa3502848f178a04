//go:build !race

package reel

const raceOn = false
