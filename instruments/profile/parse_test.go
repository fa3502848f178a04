package profile

import (
	"errors"
	"strings"
	"testing"

	"sealworthy/instruments/profile/place"
)

// meter is a short profile without a mistake.
const meter = `kind = "meter"
speaks = "scpi"

[meter]
integration_ms = 100.0

[meter.current]
read = { send = "READ?" }

[[range]]
quantity = "current"
max = 0.2
resolution = 0.00001
percent = 0.5
counts = 3
`

func TestDefaults(t *testing.T) {
	p, err := Parse("m.toml", []byte(meter))
	if err != nil {
		t.Fatal(err)
	}
	if l := p.SerialLine(); l.Baud != 9600 || l.DataBits != 8 || l.Parity != "none" || l.StopBits != 1 ||
		l.DTR != nil {
		t.Errorf("line %+v", l)
	}
	if p.Talk.End != "lf" || p.Talk.ReplyEnd != "lf" || p.Talk.TimeoutMs != 1200 || p.Ranges[0].Name != "0.2 A" ||
		p.Ranges[0].Ask != "0.2" {
		t.Errorf("%+v, %+v", p.Talk, p.Ranges[0])
	}
}

// Each row changes one thing; the error must name its line and column.
func TestMistakesByLineAndColumn(t *testing.T) {
	for name, x := range map[string]struct{ old, new, at, says string }{
		"unknown key": {"integration_ms = 100.0", "integrations_ms = 100.0", "5:1",
			`did you mean "integration_ms"?`},
		"no TOML":            {`speaks = "scpi"`, `speaks = scpi`, "2:", ""},
		"wrong type":         {"max = 0.2", `max = "0.2"`, "12:", ""},
		"unknown kind":       {`"meter"`, `"metre"`, "1:1", "meter"},
		"unknown protocol":   {`"scpi"`, `"tcp"`, "2:1", "terse"},
		"placeholder":        {`"READ?"`, `"READ? {volt}"`, "8:10", "{volts}"},
		"brace":              {`"READ?"`, `"READ? {"`, "8:10", "no placeholder"},
		"range without max":  {"max = 0.2\n", "", "10:3", "max = 0.1"},
		"one count too big":  {"0.00001", "1.0", "13:1", "below its max"},
		"percent":            {"percent = 0.5", "percent = -1", "14:1", "0 to 100"},
		"claims to be exact": {"percent = 0.5\ncounts = 3", "percent = 0", "10:3", "without accuracy"},
		"quantity":           {`quantity = "current"`, `quantity = "amps"`, "11:1", "current, voltage"},
		"supply in a meter":  {"[meter.current]", "[supply]\nmax_volts = 3.0\n[meter.current]", "7:2", "no section"},
		"register":           {`{ send = "READ?" }`, `{ register = 3 }`, "8:10", "registers belong to modbus"},
		"integration":        {"integration_ms = 100.0", "settling_ms = 1.0", "4:2", "integration_ms = 100.0"},
		"pattern": {`{ send = "READ?" }`, `{ send = "READ?", pattern = "(" }`, "8:26",
			"regular expression"},
	} {
		src := strings.Replace(meter, x.old, x.new, 1)
		if src == meter {
			t.Fatalf("%s changes nothing", name)
		}
		_, err := Parse("m.toml", []byte(src))
		var ps place.Problems
		if !errors.As(err, &ps) {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if s := err.Error(); !strings.Contains(s, "m.toml:"+x.at) || !strings.Contains(s, x.says) {
			t.Errorf("%s: %s\nshould be at %s and say %q", name, s, x.at, x.says)
		}
		if ps[0].Text == "" && ps[0].Line > 1 {
			t.Errorf("%s: the line isn't shown: %+v", name, ps[0])
		}
	}
}

func TestMistakesInOtherProtocols(t *testing.T) {
	read := func(name string) string {
		src, err := builtin.ReadFile("builtin/" + name + ".toml")
		if err != nil {
			t.Fatal(err)
		}
		return string(src)
	}
	for name, x := range map[string]struct{ profile, old, new, says string }{
		"supply waits too long": {"scpi supply", "timeout_ms = 300", "timeout_ms = 301", "from 1 to 300"},
		"supply without off": {"scpi supply", `off = { send = "OUTP OFF" }`, "",
			"the profile needs supply.off"},
		"supply without its most": {"scpi supply", "max_amps = 3.0", "", "max_amps = 3.0"},
		"protection not read back": {"scpi supply", `get_protect_volts = { send = "VOLT:PROT?" }`, "",
			"must be read back"},
		"scpi without line ends": {"scpi supply", `end = "lf"`, `end = "none"`, "needs line ends"},
		"node without select": {"scpi supply", "[identity]", "[channel]\nby = \"node\"\n\n[identity]",
			"INST:NSEL"},
		"terse reply without length": {"terse supply", `get_volts = { send = "VSET1?", length = 5 }`,
			`get_volts = { send = "VSET1?" }`, "length"},
		"number outside the reply": {"terse supply", `get_volts = { send = "VSET1?", length = 5 }`,
			`get_volts = { send = "VSET1?", length = 5, from = 4, digits = 2 }`, "outside the reply"},
		"modbus with commands": {"modbus supply", "on = { register = 9, function = 6, value = 1 }",
			`on = { send = "ON" }`, "has registers"},
		"reading by a write": {"modbus supply", "get_volts = { register = 0, function = 3",
			"get_volts = { register = 0, function = 6", "doesn't read"},
		"writing by a read": {"modbus supply", "set_volts = { register = 0, function = 6",
			"set_volts = { register = 0, function = 3", "doesn't write"},
		"address":                  {"modbus shunt", "address = 1", "address = 256", "1 to 255"},
		"seven bits":               {"modbus shunt", "baud = 9600", "baud = 9600\nbits = 7", "8 data bits"},
		"value not in the pattern": {"text meter", "(?P<value>", "(?P<valve>", "no group named value"},
		"unit without size":        {"text meter", "mA = 0.001\n", "", `unit "mA"`},
		"segment":                  {"lcd meter", `minus = "2.3"`, `minus = "15.0"`, "no segment"},
		"segment twice":            {"lcd meter", `minus = "2.3"`, `minus = "2.2"`, "used by"},
		"six segments":             {"lcd meter", `["2.0", "3.0",`, `["2.0",`, "seven segments"},
		"points": {"lcd meter", `points = ["4.3", "6.3", "8.3"]`, `points = ["4.3"]`,
			"decimal point"},
		"relays without channels": {"scpi relays", "channels = 64", "", "from 1 to"},
	} {
		src := read(x.profile)
		changed := strings.Replace(src, x.old, x.new, 1)
		if changed == src {
			t.Fatalf("%s changes nothing", name)
		}
		if _, err := Parse("p.toml", []byte(changed)); err == nil || !strings.Contains(err.Error(), x.says) {
			t.Errorf("%s: %v\nshould say %q", name, err, x.says)
		}
	}
}

func TestTemplates(t *testing.T) {
	a := Args{Volts: 12, Amps: 0.1, Channel: 2, Channels: []int{1, 3}, Range: "0.2"}
	for template, want := range map[string]string{
		"VOLT {volts:.3}": "VOLT 12.000", "VSET1:{volts:5.2}": "VSET1:12.00", "ISET1:{amps:5.3}": "ISET1:0.100",
		"V{volts*100:6.0}": "V001200", "CURR {amps}": "CURR 0.1", "(@{channels})": "(@1,3)",
		"INST:NSEL {channel}": "INST:NSEL 2", "RANG {range}": "RANG 0.2",
	} {
		if got, err := Fill(template, a); err != nil || got != want {
			t.Errorf("%q: %q, %v", template, got, err)
		}
	}
	for _, bad := range []string{"{volts", "{x}", "{volts:3.1}", "{volts:.12}", "{amps*1e3}"} {
		if got, err := Fill(bad, a); err == nil {
			t.Errorf("%q became %q", bad, got)
		}
	}
	if s := step("V{volts*100:4.0}", "volts"); s != 0.01 {
		t.Errorf("step %v", s)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(meter))
	entries, err := builtin.ReadDir("builtin")
	if err != nil {
		f.Fatal(err)
	}
	for _, e := range entries {
		src, err := builtin.ReadFile("builtin/" + e.Name())
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		p, err := Parse("f.toml", src)
		if (p == nil) == (err == nil) {
			t.Fatal("either a profile or an error")
		}
		var ps place.Problems
		if err != nil && (!errors.As(err, &ps) || len(ps) == 0 || ps[0].Line < 1) {
			t.Errorf("an error without a place: %v", err)
		}
		if p == nil {
			return
		}
		_ = p.Describe()
		if p.Kind == SupplyKind && (p.Supply == nil || p.Talk.TimeoutMs > 300 || !p.Supply.Off.Given()) {
			t.Errorf("%+v passed", p)
		}
	})
}
