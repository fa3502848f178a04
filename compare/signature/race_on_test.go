//go:build race

package signature

const raceDetector = true
