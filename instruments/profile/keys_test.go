package profile

import (
	"reflect"
	"testing"

	"sealworthy/instruments/profile/place"
)

// Each key that a profile may have is told, with an example, and no other.
func TestEachKeyIsTold(t *testing.T) {
	shared := map[reflect.Type]string{reflect.TypeFor[Point](): "point", reflect.TypeFor[MeterFunction](): "function"}
	for _, fault := range place.Untold(reflect.TypeFor[Profile](), "profile", shared, keys, tables) {
		t.Error(fault)
	}
}
