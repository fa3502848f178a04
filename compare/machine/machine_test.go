package machine

import (
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

// long runs the full size of the statistics.
func long() bool { return os.Getenv("SEALWORTHY_LONG") != "" }

// number reads a number from the environment.
func number(t *testing.T, name string, otherwise uint64) uint64 {
	t.Helper()
	s := os.Getenv(name)
	if s == "" {
		return otherwise
	}
	n, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return n
}

// TestReadyIsEarned plays random sequences, with readings drawn from the load
// straight into the record, against the oracle. SEALWORTHY_SEED begins at a seed,
// SEALWORTHY_SEQUENCES says how many, SEALWORTHY_MACHINE_STATE names a file to
// go on from.
func TestReadyIsEarned(t *testing.T) {
	seed, n := uint64(1001), uint64(300)
	if long() {
		seed, n = rand.Uint64N(1<<40), 200_000
	}
	seed, n = number(t, "SEALWORTHY_SEED", seed), number(t, "SEALWORTHY_SEQUENCES", n)
	tally, state := NewTally(seed), os.Getenv("SEALWORTHY_MACHINE_STATE")
	if state != "" {
		var err error
		if tally, err = LoadTally(state, seed); err != nil {
			t.Fatal(err)
		}
	}
	PlayMany(t, Direct{}, tally, n, state)
}
