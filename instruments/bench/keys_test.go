package bench

import (
	"reflect"
	"testing"

	"sealworthy/instruments/profile/place"
)

// Each key that bench.toml may have is told, with an example, and no other.
func TestEachKeyIsTold(t *testing.T) {
	for _, fault := range place.Untold(reflect.TypeFor[Config](), "bench", nil, keys, tables) {
		t.Error(fault)
	}
}
