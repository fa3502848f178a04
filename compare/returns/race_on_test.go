//go:build race

package returns

const raceDetector = true
