package profile

import (
	"strings"
	"testing"
)

// A watchdog is read back, and isn't shorter than a pause can be.
func TestWatchdogKeys(t *testing.T) {
	src, err := Source("scpi supply", "")
	if err != nil {
		t.Fatal(err)
	}
	with := func(c ...Change) (*Profile, error) { return Parse("made.toml", Derive(src, "made", c)) }
	set := Change{"supply", "watchdog", `{ send = "OUTP:WATC {seconds}" }`}
	get := Change{"supply", "get_watchdog", `{ send = "OUTP:WATC?" }`}
	if p, err := with(set, get); err != nil || p.Supply.WatchdogS != 30 || p.Supply.Watchdog.Scale != 1 {
		t.Errorf("%+v, %v", p, err)
	}
	short := Change{"supply", "watchdog_s", "5.0"}
	for says, c := range map[string][]Change{"read back": {set}, "out of range": {set, get, short}} {
		if _, err := with(c...); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v: %v", c, err)
		}
	}
}

// Keys are changed, put in and taken out where they belong; the rest stays as it was.
func TestDerive(t *testing.T) {
	src, err := Source("scpi supply", "")
	if err != nil {
		t.Fatal(err)
	}
	got := Derive(src, "made here\nfor a test", []Change{
		{"line", "baud", "115200"}, {"talk", "prompt", `"> "`}, {"supply", "limiting", ""}, {"channel", "number", "2"},
		{"", "about", `"ours"`}, {"supply", "on", `{ send = "OUTP 1" }`}, {"supply", "nonesuch", ""},
		{"nonesuch", "key", ""},
	})
	p, err := Parse("made.toml", got)
	if err != nil {
		t.Fatalf("%v\n%s", err, got)
	}
	if p.Line.Baud != 115200 || p.Talk.Prompt != "> " || p.Supply.Limiting.Given() || p.Channel.Number != 2 ||
		p.About != "ours" ||
		p.Supply.On.Send != "OUTP 1" || p.Supply.Off.Send != "OUTP OFF" || len(p.Ranges) != 2 {
		t.Errorf("%+v", p)
	}
	if !strings.HasPrefix(string(got), "# made here\n# for a test\nkind = ") || !strings.Contains(string(got),
		"# SCPI names the bits") {
		t.Errorf("%s", got)
	}
	for _, e := range []string{"scpi meter", "terse supply", "modbus shunt", "lcd meter"} {
		src, err := Source(e, "")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Parse(e, Derive(src, "the same", nil)); err != nil {
			t.Errorf("%s: %v", e, err)
		}
	}
	if _, err := Source("nonesuch", ""); err == nil {
		t.Error("there is no such profile")
	}
}
