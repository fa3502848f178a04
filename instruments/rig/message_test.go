package rig

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments/clock"
)

// The rules are those of SCPI-1999 volume 1, chapters 6 to 8, and IEEE 488.2,
// chapter 7, from memory; the error numbers are those of volume 2, 21.8.
func TestHeaders(t *testing.T) {
	p := pattern("[SOURce]:VOLTage[:LEVel][:IMMediate][:AMPLitude]")
	for header, want := range map[string]bool{
		"VOLT": true, "VOLTAGE": true, "SOUR:VOLT": true, "SOURCE:VOLTAGE:LEVEL:IMMEDIATE:AMPLITUDE": true,
		"VOLT:AMPL": true,
		"VOLT1":     true, "SOUR1:VOLT:LEV": true,
		"VOLTA": false, "VOL": false, "SOUR": false, "VOLT2": false, "VOLT:LEV:LEV": false, "CURR": false, "": false,
	} {
		if got := matches(p, strings.Split(header, ":")); got != want {
			t.Errorf("%q: %v", header, got)
		}
	}
}

func TestParse(t *testing.T) {
	for line, want := range map[string]string{
		"":                       "[] 0",
		" ; ":                    "[] 0",
		"volt 12":                "[{VOLT false false [12]}] 0",
		":SOUR:VOLT? MAX":        "[{SOUR:VOLT true true [MAX]}] 0",
		"VOLT 12;CURR 0.1":       "[{VOLT false false [12]} {CURR false false [0.1]}] 0",
		"ROUT:CLOS (@1,3),2":     "[{ROUT:CLOS false false [(@1,3) 2]}] 0",
		"DISP:TEXT \"a;b,(\"":    "[{DISP:TEXT false false [\"a;b,(\"]}] 0",
		"*RST;VOLT 1":            "[{*RST false false []} {VOLT false false [1]}] 0",
		"VOLT\t5":                "[{VOLT false false [5]}] 0",
		"VOLT 1;;":               "[{VOLT false false [1]}] 0",
		"VOLT \x01":              "[] -101",
		"VOLT 12\xb0":            "[] -101",
		"VO-LT 1":                "[] -101",
		"VOLT::LEV 1":            "[] -102",
		"ROUT:CLOS (@1":          "[] -102",
		"VOLT 1)":                "[] -102",
		":*RST":                  "[] -102",
		"?":                      "[] -102",
		"VOLT 1,":                "[] -109",
		"ABCDEFGHIJKLM 1":        "[] -112",
		"VOLT 1;ABCDEFGHIJKLM 2": "[{VOLT false false [1]}] -112",
	} {
		u, err := parse(line)
		if got := fmt.Sprint(u, int(err)); got != want {
			t.Errorf("%q:\n got %s\nwant %s", line, got, want)
		}
	}
}

func TestNumbers(t *testing.T) {
	for s, want := range map[string]float64{
		"12": 12, "+12.5": 12.5, ".5": 0.5, "5.": 5, "1.2E1": 12, "1e-3": 1e-3, "12V": 12, "500 mV": 0.5,
		"250mv": 0.25, "0.02 kV": 20,
		"MIN": 0, "maximum": 30, "DEF": 1, "30.000001": 30, "2EV": math.NaN(), "x": math.NaN(), "12 A": math.NaN(),
		"31": math.NaN(),
		"-1": math.NaN(), "1E400": math.NaN(), "": math.NaN(), "1.2.3": math.NaN(), "NAN": math.NaN(),
		"INF": math.NaN(), "0x1p3": math.NaN(),
	} {
		got, err := number(s, "V", 0, 30, 1)
		if math.IsNaN(want) != (err != nil) || err == nil && math.Abs(got-want) > 1e-12 {
			t.Errorf("%q: %g, %v", s, got, err)
		}
	}
}

func TestChannels(t *testing.T) {
	for s, want := range map[string]string{
		"(@1,3)": "[1 3]", "(@2:4)": "[2 3 4]", "(@1, 3:4 )": "[1 3 4]", "(@)": "[]",
		"1": "-104", "(@0)": "-222", "(@5)": "-222", "(@3:1)": "-222", "(@a)": "-171", "(@1": "-171",
		"(@1,,2)": "-171",
	} {
		got, err := channels(s, 4)
		out := fmt.Sprint(got)
		if err != nil {
			out = fmt.Sprint(int(err.(scpiError)))
		}
		if out != want {
			t.Errorf("%q: %s, want %s", s, out, want)
		}
	}
}

// nothing is a load that draws nothing.
type nothing struct{}

func (nothing) Terminals() []string   { return []string{"a", "b"} }
func (nothing) Current(State) float64 { return 0 }

// console gives the command trees of a bench without lines; time passes at once.
func console(t testing.TB, o Options) func(instrument, command string) string {
	c := clock.NewSimulated(time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC))
	o.MemoryPorts = true
	b, err := New(context.Background(), c, nothing{}, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return func(instrument, command string) string {
		d := b.device(instrument)
		r, err := d.tree.run(context.Background(), command, d.fail)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
}

func TestCommandsAndErrors(t *testing.T) {
	type say struct{ to, send, want string }
	for name, script := range map[string][]say{
		"path of a chain": {{Supply, "SOUR:VOLT 5;CURR 0.2", ""}, {Supply, "VOLT?;CURR?", "5.0000;0.2000"},
			{Supply, "SYST:ERR?", `+0,"No error"`},
			{Supply, "SYST:REM;VOLT 1", ""}, {Supply, "SYST:ERR?", `-113,"Undefined header"`},
			{Supply, "SYST:REM;:VOLT 1;*CLS;CURR 1", ""},
			{Supply, "VOLT?;CURR?;:SYST:ERR?", `1.0000;1.0000;+0,"No error"`}},
		"values": {{Supply, "VOLT 31", ""}, {Supply, "VOLT", ""}, {Supply, "VOLT 1,2", ""}, {Supply, "VOLT 1 A", ""},
			{Supply, "OUTP MAYBE", ""}, {Supply, "*RST 1", ""},
			{Supply, "SYST:ERR:COUN?", "6"},
			{Supply, "SYST:ERR:ALL?",
				`-222,"Data out of range",-109,"Missing parameter",-108,"Parameter not allowed",-131,"Invalid ` +
					`suffix",-104,"Data type error",-108,"Parameter not allowed"`},
			{Supply, "SYST:ERR:ALL?", `+0,"No error"`}, {Supply, "VOLT? MAX", "30.0000"}},
		"rest of a message after an error is left out": {{Supply, "VOLT 3;FOO 1;VOLT 4", ""},
			{Supply, "VOLT?", "3.0000"}},
		"status": {{Supply, "*ESR?", "128"}, {Supply, "FOO", ""}, {Supply, "*STB?", "4"},
			{Supply, "*ESR?", "32"}, {Supply, "VOLT 99", ""}, {Supply, "*ESR?", "16"}, {Supply, "*OPC;*ESR?", "1"},
			{Supply, "*CLS;*STB?", "0"}},
		"output": {{Supply, "OUTP?", "0"}, {Supply, "OUTP 1;OUTP?", "1"},
			{Supply, "output:state off;:OUTPUT?", "0"}, {Supply, "OUTP ON;*RST;OUTP?", "0"}},
		"over-voltage": {{Supply, "VOLT 5;VOLT:PROT 10;:OUTP ON;VOLT 12;OUTP?;:VOLT:PROT:TRIP?", "0;1"},
			{Supply, "OUTP ON", ""}, {Supply, "SYST:ERR?", `-221,"Settings conflict"`},
			{Supply, "VOLT 5;VOLT:PROT:CLE;:OUTP ON;OUTP?", "1"}},
		"stale": {{Meter, "FETC?", ""}, {Meter, "SYST:ERR?", `-230,"Data corrupt or stale"`}},
		"meter settings": {{Meter, "CURR:RANG 0.1;RANG?", "+2.200000E-01"}, {Meter, "SENS:CURR:DC:RANG:AUTO?", "0"},
			{Meter, "CURR:NPLC 10;APER?", "+2.000000E-01"},
			{Meter, "CONF:VOLT:DC 12;:CONF?", `"VOLT 2.200000E+01,1.000000E-03"`}, {Meter, "CURR:RANG 5", ""},
			{Meter, "SYST:ERR?", `-222,"Data out of range"`}},
		"relays": {{Relays, "CLOS (@1);:ROUT:CLOS? (@1,2)", "1,0"}, {Relays, "ROUT:CLOS (@3)", ""},
			{Relays, "SYST:ERR?", `-222,"Data out of range"`}, {Relays, "*RST;ROUT:CLOS:STAT?", "(@)"}},
	} {
		t.Run(name, func(t *testing.T) {
			ask := console(t, Options{})
			for _, s := range script {
				if got := ask(s.to, s.send); got != s.want {
					t.Errorf("%s answered %q, want %q", s.send, got, s.want)
				}
			}
		})
	}
}

func TestErrorQueueOverflows(t *testing.T) {
	ask := console(t, Options{})
	for range 30 {
		ask(Supply, "FOO")
	}
	for n := range 20 {
		want := `-113,"Undefined header"`
		if n == 19 {
			want = `-350,"Queue overflow"`
		}
		if got := ask(Supply, "SYST:ERR?"); got != want {
			t.Fatalf("entry %d: %s", n, got)
		}
	}
}

func TestRemoteFirst(t *testing.T) {
	ask := console(t, Options{Supply: SupplyOptions{NeedsRemote: true}})
	ask(Supply, "VOLT 5")
	if got := ask(Supply, "SYST:ERR?;:VOLT?"); got != `-203,"Command protected";0.0000` {
		t.Error(got)
	}
	if got := ask(Supply, "SYST:REM;:VOLT 5;VOLT?"); got != "5.0000" {
		t.Error(got)
	}
}

// Whatever comes, no instrument panics, answers over more than one line, or
// takes a command in other words than it printed.
func FuzzCommands(f *testing.F) {
	for _, s := range []string{"VOLT 12;CURR 0.1;:OUTP ON", "MEAS:VOLT?", "*IDN?;*RST", "ROUT:CLOS (@1,2:2)",
		"CURR:DC:RANG 20 mA;RANG?", "READ?;FETC?",
		"INIT;FETC?", "CONF:VOLT:DC AUTO,0.1", "CURR:NPLC 1e-1", "\"';(", "VOLT 9.9E37", "ROUT:CLOS (@1:99999999999)",
		":::?", "SYST:ERR:ALL?", "VOLT? (@)"} {
		f.Add(s)
	}
	ask := console(f, Options{Buttons: []string{"a"}})
	f.Fuzz(func(t *testing.T, line string) {
		if len(line) > maxMessage {
			return
		}
		units, err := parse(line)
		for _, u := range units {
			if u.header == "" || strings.ContainsAny(u.header, " ;,\"") {
				t.Errorf("header %q", u.header)
			}
			// A unit written out again is the same unit.
			s := u.header
			if u.root {
				s = ":" + s
			}
			if u.query {
				s += "?"
			}
			again, aerr := parse(s + " " + strings.Join(u.args, ","))
			if aerr != 0 || len(again) != 1 || fmt.Sprint(again[0]) != fmt.Sprint(u) {
				t.Errorf("%v came back as %v, %v", u, again, aerr)
			}
		}
		if _, known := errorTexts[err]; !known {
			t.Errorf("error %d has no text", err)
		}
		for _, d := range []string{Supply, Meter, Relays} {
			if r := ask(d, line); strings.ContainsAny(r, "\r\n") {
				t.Errorf("%s answered %q", d, r)
			}
		}
	})
}
