package bench_test

import (
	"context"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile/place"
	"sealworthy/instruments/rig"
)

// brackwater is the bench of the invented demo build.
const brackwater = `[supply]
port = "/dev/ttyUSB0"
profile = "scpi supply"
channel = 1

[meter]
port = "/dev/ttyUSB1"
profile = "scpi meter"
jack = "mA"
fuse_amps = 0.4

[relays]
port = "/dev/ttyACM0"
profile = "modbus relay board"

[[relay]]
channel = 1
feed = "cabin windows"

[[relay]]
channel = 14
button = "beacon"

[leads]
ohms = 0.18
half_width_ohm = 0.02

[never_above]
volts = 12.6
amps = 1.0
`

func TestParseAndEncode(t *testing.T) {
	c, err := bench.Parse("bench.toml", []byte(brackwater))
	if err != nil {
		t.Fatal(err)
	}
	var feed, button bench.Relay
	for _, r := range c.Relay {
		if r.Feed == "cabin windows" {
			feed = r
		}
		if r.Button == "beacon" {
			button = r
		}
	}
	if feed.Channel != 1 || feed.Button != "" || button.Channel != 14 || button.Feed != "" {
		t.Errorf("feed %+v, button %+v", feed, button)
	}
	if c.Leads.Ohms != 0.18 || c.Meter.FuseAmps != 0.4 || c.Meter.Jack != "mA" {
		t.Errorf("%+v", c)
	}
	if c.NeverAbove != (bench.NeverAbove{Volts: 12.6, Amps: 1}) {
		t.Errorf("never above %+v", c.NeverAbove)
	}
	out, err := c.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := bench.Parse("again", out)
	if err != nil || !reflect.DeepEqual(back, c) {
		t.Errorf("%v\n%s\n%+v", err, out, back)
	}
}

// Modbus modules with an address each may be on one line; nothing else may.
func TestSeveralOnOneLine(t *testing.T) {
	for text, ok := range map[string]bool{
		"[supply]\nport='a'\nprofile='modbus supply'\naddress=1\n[meter]\nport='a'\nprofile='modbus shunt'\naddress=2": true,
		"[supply]\nport='a'\nprofile='modbus supply'\naddress=2\n[meter]\nport='a'\nprofile='modbus shunt'\naddress=2": false,
		"[supply]\nport='a'\nprofile='modbus supply'\n[meter]\nport='a'\nprofile='modbus shunt'\naddress=2":            false,
		"[supply]\nport='a'\nprofile='modbus supply'\naddress=300":                                                     false,
	} {
		if _, err := bench.Parse("bench.toml", []byte(text)); (err == nil) != ok {
			t.Errorf("%s\n%v", text, err)
		}
	}
	// An address on an instrument that has none, and an output that can't be chosen, are refused before anything is
	// opened.
	for text, says := range map[string]string{
		"[supply]\nport='a'\nprofile='scpi supply'\naddress=1": "only Modbus modules",
		"[supply]\nport='a'\nprofile='scpi supply'\nchannel=2": "doesn't choose between outputs",
	} {
		c, err := bench.Parse("bench.toml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := bench.Open(context.Background(), clock.Wall{}, nil, c, bench.Overrides{}); err == nil ||
			!strings.Contains(err.Error(), says) {
			t.Errorf("%s\n%v", text, err)
		}
	}
}

func TestEmptyBench(t *testing.T) {
	c, err := bench.Parse("bench.toml", nil)
	if err != nil || !reflect.DeepEqual(c, bench.Default()) {
		t.Errorf("%+v, %v", c, err)
	}
	o, err := bench.Open(context.Background(), clock.Wall{}, nil, c, bench.Overrides{})
	if err != nil || o.Supply != nil || o.Meter != nil || o.Relays != nil {
		t.Errorf("%+v, %v", o, err)
	}
}

func TestMistakesInBench(t *testing.T) {
	for name, x := range map[string]struct{ old, new, at, says string }{
		"unknown key":     {"fuse_amps", "fuse_amp", "10:1", `did you mean "fuse_amps"?`},
		"same port":       {"/dev/ttyUSB1", "/dev/ttyUSB0", "7:1", "belongs to the supply"},
		"no profile":      {`profile = "scpi meter"` + "\n", "", "7:1", `profile = "scpi meter"`},
		"typed and port":  {`jack = "mA"`, "typed = true", "6:2", "not both"},
		"twice a channel": {"channel = 14", "channel = 1", "21:1", "used twice"},
		"twice a feed":    {`button = "beacon"`, `feed = "cabin windows"`, "20:3", "has a relay already"},
		"does nothing":    {`button = "beacon"`, "", "20:3", "feed or presses"},
		"does both":       {`button = "beacon"`, "button = \"b\"\nfeed = \"c\"", "20:3", "feed or presses"},
		"leads":           {"ohms = 0.18", "ohms = -1.0", "25:1", "leads"},
		"window":          {"fuse_amps = 0.4", "window_ms = -1.0", "10:1", "how many milliseconds"},
		"no voltage":      {"volts = 12.6", "volts = 0.0", "29:1", "more than 0 and at most 60"},
		"mains":           {"volts = 12.6", "volts = 230.0", "29:1", "more than 0 and at most 60"},
		"not a number":    {"volts = 12.6", "volts = nan", "29:1", "more than 0 and at most 60"},
		"no current":      {"amps = 1.0", "amps = -1.0", "30:1", "more than 0 and at most 100"},
		"another maximum": {"amps = 1.0", "watts = 5.0", "30:1", "watts"},
		"a forged line":   {"/dev/ttyUSB1", `COM1\n+ READY TO CLOSE`, "7:1", "invisible character (U+000A)"},
		"turned round": {`feed = "cabin windows"`, `feed = "cabin\u202ewindows"`, "18:1",
			"invisible character (U+202E)"},
		"fuse": {"fuse_amps = 0.4", "fuse_amps = -0.4", "10:1", "printed on the fuse"},
	} {
		src := strings.Replace(brackwater, x.old, x.new, 1)
		_, err := bench.Parse("bench.toml", []byte(src))
		var ps place.Problems
		if !errors.As(err, &ps) || !strings.Contains(err.Error(), "bench.toml:"+x.at) ||
			!strings.Contains(err.Error(), x.says) {
			t.Errorf("%s: %v\nshould be at %s and say %q", name, err, x.at, x.says)
		}
	}
}

func TestOpenNamesWhatIsWrong(t *testing.T) {
	ctx := context.Background()
	c := clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC))
	b, err := rig.New(ctx, c, resistors{"cabin": 470, "mast": 1200}, rig.Options{Seed: 3, MemoryPorts: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	p := b.Ports()
	for name, x := range map[string]struct {
		cfg  bench.Config
		want error
		says string
	}{
		"no such port": {bench.Config{Meter: bench.Meter{Port: "memory:none", Profile: "scpi meter"}}, nil,
			"memory:none"},
		"no such profile": {bench.Config{Meter: bench.Meter{Port: p.Meter, Profile: "scpi metre"}}, nil,
			"scpi meter"},
		"profile of another": {bench.Config{Meter: bench.Meter{Port: p.Meter, Profile: "scpi supply"}}, nil,
			"is for a supply"},
		"another instrument": {bench.Config{Meter: bench.Meter{Port: p.Meter, Profile: "scpi meter",
			Identity: "X,Y,Z,1"}}, bench.ErrOther, "X,Y,Z,1"},
	} {
		o, err := bench.Open(ctx, c, b.Opener(), &x.cfg, bench.Overrides{})
		if o != nil || err == nil || x.want != nil && !errors.Is(err, x.want) ||
			!strings.Contains(err.Error(), x.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// A port given on the command line is another instrument than the file's.
	o, err := bench.Open(ctx, c, b.Opener(), &bench.Config{Meter: bench.Meter{Port: "old", Profile: "scpi meter",
		Identity: "X"}}, bench.Overrides{MeterPort: p.Meter})
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := o.Meter.(instruments.Ranger); !ok {
		t.Error("the meter can fix its range")
	}
	if err := o.Close(); err != nil {
		t.Error(err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(brackwater))
	f.Add([]byte("[[relay]]\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		c, err := bench.Parse("f", src)
		if err != nil {
			return
		}
		out, err := c.Encode()
		if err != nil {
			t.Fatal(err)
		}
		back, err := bench.Parse("again", out)
		if err != nil {
			t.Fatalf("%s\n%v", out, err)
		}
		if len(back.Relay) != len(c.Relay) || back.Supply != c.Supply || back.Meter != c.Meter ||
			back.Leads != c.Leads || back.NeverAbove != c.NeverAbove {
			t.Errorf("%+v came back as %+v", c, back)
		}
	})
}
