package returns

import (
	"testing"

	"sealworthy/instruments"
)

// What was kept with two meters is no one's: a return with either of them doesn't share its
// error with all of it.
func TestTwoMetersHaveNoName(t *testing.T) {
	with := func(meter string) map[string]instruments.Description {
		return map[string]instruments.Description{meterName: {Identity: meter}, supplyName: {Identity: "supply"}}
	}
	for _, c := range []struct {
		meters []string
		want   string
	}{{[]string{"a"}, "a"}, {[]string{"a", "a"}, "a"}, {[]string{"a", "b"}, ""}, {[]string{"a", "b", "b"}, ""}} {
		var is map[string]instruments.Description
		for _, m := range c.meters {
			is = oneMeter(is, with(m))
		}
		if is[meterName].Identity != c.want || is[supplyName].Identity != "supply" {
			t.Errorf("of %q: %+v", c.meters, is)
		}
	}
}
