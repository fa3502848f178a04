package bench_test

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
)

// What is found on a port leaves on it what can be there beside it: a Modbus module at another
// address of the same line, wherever its address stands. All else leaves.
func TestMakeRoom(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	own := func(name, of string, changes ...profile.Change) {
		t.Helper()
		src, err := profile.Source(of, "")
		if err == nil {
			err = os.WriteFile(filepath.Join(folder, name+".toml"), profile.Derive(src, "", changes), 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	address := func(n string) profile.Change { return profile.Change{Table: "modbus", Key: "address", Value: n} }
	own("shunt at 7", "modbus shunt", address("7"))
	own("fast shunt", "modbus shunt", address("7"), profile.Change{Table: "line", Key: "baud", Value: "19200"})
	for _, c := range []struct {
		name    string
		meter   bench.Meter
		found   string // on its port
		address int    // that is written of the meter; 0: it leaves
		left    []string
	}{
		{"address in its profile", bench.Meter{Port: "a", Profile: "shunt at 7"}, "modbus supply", 7, nil},
		{"address in the bench", bench.Meter{Port: "a", Profile: "modbus shunt", Address: 9}, "modbus supply", 9, nil},
		{"the usual address, of both", bench.Meter{Port: "a", Profile: "modbus shunt"}, "modbus supply", 0,
			[]string{"meter"}},
		{"the usual one, and the bench has another", bench.Meter{Port: "a", Profile: "shunt at 7", Address: 1},
			"modbus supply", 0, []string{"meter"}},
		{"a line of another speed", bench.Meter{Port: "a", Profile: "fast shunt"}, "modbus supply", 0,
			[]string{"meter"}},
		{"no line for several", bench.Meter{Port: "a", Profile: "shunt at 7"}, "scpi supply", 0, []string{"meter"}},
		{"none itself", bench.Meter{Port: "a", Profile: "scpi meter"}, "modbus supply", 0, []string{"meter"}},
		{"its profile is lost", bench.Meter{Port: "a", Profile: "lost", Address: 3}, "modbus supply", 3, nil},
		{"profile and address are lost", bench.Meter{Port: "a", Profile: "lost"}, "modbus supply", 0,
			[]string{"meter"}},
		{"the same one", bench.Meter{Port: "a", Profile: "modbus shunt", Address: 1}, "modbus shunt", 1, nil},
		{"its place is taken", bench.Meter{Port: "a", Profile: "shunt at 7"}, "modbus shunt", 0, []string{"meter"}},
	} {
		cfg := bench.Default()
		cfg.Meter, cfg.Relays = c.meter, bench.Relays{Port: "b", Profile: "scpi relays"}
		found, err := profile.Load(c.found, folder)
		if err != nil {
			t.Fatal(err)
		}
		left := cfg.MakeRoom("a", found, folder)
		want := c.meter
		if want.Address = c.address; c.address == 0 {
			want = bench.Meter{}
		}
		if !slices.Equal(left, c.left) || cfg.Meter != want || cfg.Relays.Port != "b" {
			t.Errorf("%s: left %q, %+v, %+v", c.name, left, cfg.Meter, cfg.Relays)
		}
	}
}
