package main

import (
	"os"
	"path/filepath"
	"testing"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/find"
	"sealworthy/instruments/profile"
)

// foundOn is what a search found on a port, driven by a profile.
func foundOn(t *testing.T, port, name, folder, identity string) *session.Looked {
	t.Helper()
	p, err := profile.Load(name, folder)
	must(t, err)
	return &session.Looked{Looked: find.Looked{Port: port}, DrivenBy: name, Use: p,
		Trial: &session.Trial{Identity: identity}}
}

// A module that was found on the line of another one, whose address stands in its profile alone,
// leaves that in the bench, and the bench can be read: both have their address there then.
func TestBenchKeepsTheOtherModuleOfALine(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	folder := profileFolder(home)
	must(t, os.MkdirAll(folder, 0o755))
	src, err := profile.Source("modbus shunt", "")
	must(t, err)
	must(t, os.WriteFile(filepath.Join(folder, "own shunt.toml"), profile.Derive(src, "",
		[]profile.Change{{Table: "modbus", Key: "address", Value: "7"}}), 0o644))
	before := bench.Default()
	before.Meter = bench.Meter{Port: "line", Profile: "own shunt", Identity: "own shunt, address 7", FuseAmps: 0.4}
	src, err = before.Encode()
	must(t, err)
	must(t, os.WriteFile(makersBenchFile(home), src, 0o644))
	_, err = saveBench(home, []*session.Looked{foundOn(t, "line", "modbus supply", folder, "modbus supply, address 1")},
		false, false)
	must(t, err)
	cfg, err := session.ReadBench(home)
	must(t, err)
	want := before.Meter
	want.Address = 7
	if cfg.Meter != want || cfg.Supply.Port != "line" || cfg.Supply.Address != 1 {
		t.Errorf("the bench is %+v, %+v, want the meter %+v", cfg.Supply, cfg.Meter, want)
	}
}

// What can't stay beside what was found is in the bench as it was before, which is kept.
func TestBenchKeepsWhatLeaves(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	before := bench.Default()
	before.Meter = bench.Meter{Port: "line", Profile: "modbus shunt", Address: 7, FuseAmps: 0.4}
	src, err := before.Encode()
	must(t, err)
	must(t, os.WriteFile(makersBenchFile(home), src, 0o644))
	_, err = saveBench(home, []*session.Looked{foundOn(t, "line", "scpi supply", "", "A,B,C1,D")}, false, false)
	must(t, err)
	cfg, err := session.ReadBench(home)
	must(t, err)
	kept, err := os.ReadFile(filepath.Join(home, "bench before 1.toml"))
	if err != nil || string(kept) != string(src) || cfg.Meter != (bench.Meter{}) || cfg.Supply.Port != "line" {
		t.Errorf("%v: kept %q, the bench is %+v", err, kept, cfg)
	}
}

// What is said of a fuse, a jack, a window and an output is of one instrument: found anew it has
// it still. Of one without a name of its own that is known on its port alone.
func TestBenchKeepsWhatIsSaidOfOneInstrument(t *testing.T) {
	t.Parallel()
	const named, nameless = "A,METER,SN1,1.0", "A,METER,0,1.0"
	for _, c := range []struct {
		identity, port string
		known          bool
	}{{named, "old", true}, {named, "new", true}, {nameless, "old", true}, {nameless, "new", false},
		{"", "old", false}, {"A,METER,SN2,1.0", "old", false}} {
		home := t.TempDir()
		before := bench.Default()
		was := nameless
		if c.identity != nameless {
			was = named
		}
		if c.identity == "" {
			was = ""
		}
		before.Meter = bench.Meter{Port: "old", Profile: "scpi meter", Identity: was, FuseAmps: 0.4, Jack: "mA",
			WindowMs: 99}
		before.Supply = bench.Supply{Port: "sold", Profile: "scpi supply", Identity: was, OutputUF: 470}
		src, err := before.Encode()
		must(t, err)
		must(t, os.WriteFile(makersBenchFile(home), src, 0o644))
		meter := foundOn(t, c.port, "scpi meter", "", c.identity)
		jack, fuseA := knownJack(home)(meter)
		if known := jack == "mA" && fuseA == 0.4; known != c.known {
			t.Errorf("%q on %s: its jack is %q, its fuse %g A", c.identity, c.port, jack, fuseA)
		}
		_, err = saveBench(home, []*session.Looked{meter, foundOn(t, "s"+c.port, "scpi supply", "", c.identity)}, false,
			false)
		must(t, err)
		cfg, err := session.ReadBench(home)
		must(t, err)
		m := cfg.Meter
		if all := m.FuseAmps == 0.4 && m.Jack == "mA" && m.WindowMs == 99 &&
			cfg.Supply.OutputUF == 470; all != c.known {
			t.Errorf("%q on %s: %+v, %+v", c.identity, c.port, m, cfg.Supply)
		}
	}
}
