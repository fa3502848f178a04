package terse

import "testing"

// made takes a driver as the kind that a test asks for.
func made[T any](t *testing.T) func(any, error) (T, error) {
	return func(driven any, err error) (T, error) {
		t.Helper()
		d, ok := driven.(T)
		if err == nil && !ok {
			t.Fatalf("%T is another kind of driver", driven)
		}
		return d, err
	}
}
