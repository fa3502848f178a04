package suite_test

import (
	"testing"

	"sealworthy/instruments/profile"
	"sealworthy/instruments/suite"
)

// drivers is every built-in profile with an instrument that speaks it.
func drivers() map[string]func() language {
	return map[string]func() language{
		"scpi supply":         func() language { return &scpiFake{id: "BENCH,SUPPLY,1,1.0"} },
		"scpi supply outputs": func() language { return &scpiFake{id: "BENCH,SUPPLY,1,1.0", output: 2, selected: 1} },
		"scpi meter":          func() language { return &scpiFake{id: "BENCH,METER,2,1.0"} },
		"scpi relays":         func() language { return &scpiFake{id: "BENCH,RELAYS,3,1.0"} },
		"terse supply":        func() language { return terseFake{} },
		"modbus supply":       func() language { return &modbusFake{} },
		"modbus relay board":  func() language { return &modbusFake{} },
		"modbus shunt":        func() language { return &modbusFake{shunt: true} },
		"text meter":          func() language { return textFake{} },
		"lcd meter":           func() language { return lcdFake{} },
	}
}

func load(t testing.TB, name string) *profile.Profile {
	t.Helper()
	p, err := profile.Load(name, "")
	if err != nil {
		t.Fatal(err)
	}
	if name == "scpi supply outputs" {
		p.Channel.Number = 2
	}
	if name == "scpi meter" { // the fake has no ranges
		p.Meter.Current.GetRange, p.Meter.Voltage.GetRange = profile.Point{}, profile.Point{}
	}
	if name == "modbus shunt" { // so that every meter can show an overload
		over := 0x7FFFFFFF
		p.Meter.Current.Read.Over = &over
	}
	return p
}

func TestContract(t *testing.T) {
	list, err := profile.List("")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		lang, ok := drivers()[e.Name]
		if !ok {
			t.Errorf("no instrument to test %q with", e.Name)
			continue
		}
		t.Run(e.Name, func(t *testing.T) {
			suite.Run(t, func(t *testing.T) suite.Subject {
				p := load(t, e.Name)
				f, x := putUp(t, p, lang(), nil)
				return suite.Subject{Clock: f.c, Control: f, Meter: x.Meter, Supply: x.Supply, Relays: x.Relays,
					Timeout: p.Timeout(), Sends: p.Speaks == profile.Text || p.Speaks == profile.LCD}
			})
		})
	}
}
