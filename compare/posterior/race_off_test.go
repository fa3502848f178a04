//go:build !race

package posterior

// underRace leaves statistics out.
const underRace = false
