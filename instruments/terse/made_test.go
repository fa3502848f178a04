package terse

import (
	"testing"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/profile"
)

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

// driven makes the driver of a profile over the protocol of this package.
func driven(port instruments.Port, name string, c clock.Clock, p *profile.Profile) (any, error) {
	proto, err := New(port, name, c, p)
	if err != nil {
		return nil, err
	}
	return driver.New(p, proto, c)
}
