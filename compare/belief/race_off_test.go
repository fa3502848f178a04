//go:build !race

package belief

// underRace leaves statistics out.
const underRace = false
