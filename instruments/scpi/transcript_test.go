package scpi

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/exchange/transcript"
	"sealworthy/instruments/profile"
)

type turn struct{ Sent, Got string }

const (
	idn  = "*IDN?\n"
	me   = "BENCH,SUPPLY,1,1.0\n"
	none = "0,\"No error\"\n"
)

// hello is how every SCPI instrument is met. A line end goes first: half a
// command of somebody else may be left in it.
var hello = []turn{{Sent: "\n*CLS\n"}, {Sent: idn, Got: me}}

func with(t *testing.T, name string, change func(*profile.Profile), turns ...turn) (*clock.Simulated,
	*transcript.Playback, *profile.Profile) {
	t.Helper()
	p, err := profile.Load(name, "")
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(p)
	}
	c := clock.NewSimulated(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
	var script []transcript.Turn
	for _, x := range turns {
		script = append(script, transcript.Turn(x))
	}
	play := transcript.NewPlayback(c, script...)
	t.Cleanup(func() {
		if err := play.Close(); err != nil {
			t.Error(err)
		}
	})
	return c, play, p
}

func TestSupplyTranscripts(t *testing.T) {
	bg := context.Background()
	set := func(s *Supply) error { return s.Set(bg, 12, 0.1) }
	both := []turn{{Sent: "CURR 0.100\n"}, {Sent: "VOLT 12.000\n"}}
	for name, x := range map[string]struct {
		do    func(*Supply) error
		turns []turn
		want  error
		says  string
	}{
		"set": {do: set, turns: append(both[:2:2], turn{"SYST:ERR?\n", none}, turn{"CURR?\n", "0.1000\n"},
			turn{"VOLT?\n", "12.0000\n"})},
		"set, error queue read to its end": {do: set, turns: append(both[:2:2],
			turn{"SYST:ERR?\n", "-222,\"Data out of range;CURR 0.1\"\n"}, turn{"SYST:ERR?\n", "-361,\"\"\n"},
			turn{"SYST:ERR?\n", none}),
			want: instruments.ErrNotSet, says: "-222, Data out of range (CURR 0.1)"},
		"set, another voltage comes back": {do: set,
			turns: append(both[:2:2], turn{"SYST:ERR?\n", none}, turn{"CURR?\n", "0.1\n"}, turn{"VOLT?\n", "11.98\n"},
				turn{"\n" + idn, me}, turn{"VOLT?\n", "11.98\n"}, turn{"\n" + idn, me}, turn{"VOLT?\n", "11.98\n"}),
			want: instruments.ErrNotSet, says: `"11.98"`},
		"set, one read-back is wrong: asked again, not set again": {do: set,
			turns: append(both[:2:2], turn{"SYST:ERR?\n", none}, turn{"CURR?\n", "0.3\n"},
				turn{"\n" + idn, me}, turn{"CURR?\n", "0.1\n"}, turn{"VOLT?\n", "12\n"})},
		"set, one entry of the error queue is garbled": {do: set,
			turns: append(both[:2:2], turn{"SYST:ERR?\n", "0\"No error\"\n"},
				turn{"\n" + idn, me}, turn{"SYST:ERR?\n", none}, turn{"CURR?\n", "0.1\n"}, turn{"VOLT?\n", "12\n"})},
		"set, one read-back lost: asked again, not set again": {do: set,
			turns: append(both[:2:2], turn{"SYST:ERR?\n", none}, turn{"CURR?\n", ""},
				turn{"\n" + idn, me}, turn{"CURR?\n", "0.1\n"}, turn{"VOLT?\n", "12\n"})},
		"on": {do: func(s *Supply) error { return s.On(bg) },
			turns: []turn{{Sent: "OUTP ON\n"}, {"SYST:ERR?\n", none}, {"OUTP?\n", "1\n"}}},
		"on, but is off": {do: func(s *Supply) error { return s.On(bg) },
			turns: []turn{{Sent: "OUTP ON\n"}, {"SYST:ERR?\n", none}, {"OUTP?\n", "0\n"}, {"OUTP?\n", "0\n"},
				{"OUTP?\n", "0\n"}}, want: instruments.ErrNotSet},
		"on, one answer is wrong: asked again, not switched again": {do: func(s *Supply) error { return s.On(bg) },
			turns: []turn{{Sent: "OUTP ON\n"}, {"SYST:ERR?\n", none}, {"OUTP?\n", "0\n"}, {"OUTP?\n", "1\n"}}},
		"off": {do: func(s *Supply) error { return s.Off(bg) },
			turns: []turn{{Sent: "OUTP OFF\n"}, {Sent: "OUTP OFF\n"}, {"OUTP?\n", "OFF\n"}}},
		"off, only the second time": {do: func(s *Supply) error { return s.Off(bg) },
			turns: []turn{{Sent: "OUTP OFF\n"}, {Sent: "OUTP OFF\n"}, {"OUTP?\n", "1\n"}, {Sent: "OUTP OFF\n"},
				{Sent: "OUTP OFF\n"}, {"OUTP?\n", "0\n"}}},
		"off, neither yes nor no": {do: func(s *Supply) error { return s.Off(bg) },
			turns: []turn{{Sent: "OUTP OFF\n"}, {Sent: "OUTP OFF\n"}, {"OUTP?\n", "2\n"}, {Sent: "\nOUTP OFF\n"},
				{Sent: "\nOUTP OFF\n"}, {"\n" + idn, me}, {"OUTP?\n", "0\n"}}},
		"protect": {do: func(s *Supply) error {
			return s.Protect(bg, 13, 0.2)
		}, turns: []turn{{Sent: "VOLT:PROT 13.000\n"}, {Sent: "CURR:PROT 0.200\n"},
			{"SYST:ERR?\n", none}, {"VOLT:PROT?\n", "13.0000\n"}, {"CURR:PROT?\n", "0.2\n"}}},
		"garbled": {do: func(s *Supply) error { _, err := s.Read(bg, instruments.Current); return err },
			turns: []turn{{"MEAS:CURR?\n", "0.0x2\n"}}, want: instruments.ErrGarbled},
		"cut": {do: func(s *Supply) error { _, err := s.Read(bg, instruments.Current); return err },
			turns: []turn{{"MEAS:CURR?\n", "0.01"}}, want: instruments.ErrGarbled},
		"two replies": {do: func(s *Supply) error { _, err := s.Read(bg, instruments.Current); return err },
			turns: []turn{{"MEAS:CURR?\n", "0.01\n0.02\n"}}, want: instruments.ErrGarbled},
		"more than it can measure": {do: func(s *Supply) error {
			_, err := s.Read(bg, instruments.Current)
			return err
		},
			turns: []turn{{"MEAS:CURR?\n", "33.1\n"}}, want: instruments.ErrGarbled},
		"no end": {do: func(s *Supply) error { _, err := s.Read(bg, instruments.Current); return err },
			turns: []turn{{"MEAS:CURR?\n", strings.Repeat("1", 300)}}, want: instruments.ErrGarbled},
		"nothing": {do: func(s *Supply) error { _, err := s.Read(bg, instruments.Current); return err },
			turns: []turn{{"MEAS:CURR?\n", ""}}, want: instruments.ErrNoReply},
	} {
		t.Run(name, func(t *testing.T) {
			c, port, p := with(t, "scpi supply", nil, append(append([]turn{}, hello...), x.turns...)...)
			s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
			if err != nil {
				t.Fatal(err)
			}
			if id, err := s.Identify(bg); err != nil || id != strings.TrimSpace(me) {
				t.Fatalf("%q, %v", id, err)
			}
			err = x.do(s)
			if !errors.Is(err, x.want) || err != nil && !strings.Contains(err.Error(), x.says) {
				t.Errorf("%v, want %v saying %q", err, x.want, x.says)
			}
		})
	}
}

// Line ends, echo, remote mode and the choice of an output, each by its bytes.
func TestWaysOfSpeaking(t *testing.T) {
	bg := context.Background()
	for name, x := range map[string]struct {
		change func(*profile.Profile)
		turns  []turn
	}{
		"cr": {func(p *profile.Profile) { p.Talk.End, p.Talk.ReplyEnd = "cr", "cr" }, []turn{
			{Sent: "\rOUTP ON\r"}, {"SYST:ERR?\r", "0\r"}, {"OUTP?\r", "1\r"}}},
		"crlf": {func(p *profile.Profile) { p.Talk.End, p.Talk.ReplyEnd = "crlf", "crlf" }, []turn{
			{Sent: "\r\nOUTP ON\r\n"}, {"SYST:ERR?\r\n", "0\r\n"}, {"OUTP?\r\n", "1\r\n"}}},
		"lf, and the instrument sends crlf": {func(p *profile.Profile) {}, []turn{
			{Sent: "\nOUTP ON\n"}, {"SYST:ERR?\n", "0\r\n"}, {"OUTP?\n", "1\r\n"}}},
		"echo": {func(p *profile.Profile) { p.Talk.Echo = true }, []turn{
			{"\nOUTP ON\n", "\nOUTP ON\n"}, {"SYST:ERR?\n", "SYST:ERR?\n0\n"}, {"OUTP?\n", "OUTP?\n1\n"}}},
		"remote mode first": {func(p *profile.Profile) { p.Talk.Remote = "SYST:REM" }, []turn{
			{Sent: "\nSYST:REM\n"}, {Sent: "\nOUTP ON\n"}, {"SYST:ERR?\n", none}, {"OUTP?\n", "1\n"}}},
		"output by node": {func(p *profile.Profile) {
			p.Channel = profile.Channel{By: "node", Select: "INST:NSEL {channel}", Number: 2}
		}, []turn{{Sent: "\nINST:NSEL 2\nOUTP ON\n"}, {"INST:NSEL 2\nSYST:ERR?\n", none},
			{"INST:NSEL 2\nOUTP?\n", "1\n"}}},
		"output by list": {func(p *profile.Profile) {
			p.Channel = profile.Channel{By: "list", Number: 2}
			p.Supply.On.Send, p.Supply.GetOutput.Send = "OUTP ON,(@{channel})", "OUTP? (@{channel})"
		}, []turn{{Sent: "\nOUTP ON,(@2)\n"}, {"SYST:ERR?\n", none}, {"OUTP? (@2)\n", "1\n"}}},
		"operation complete": {func(p *profile.Profile) { p.Talk.Complete = "*OPC?" }, []turn{
			{Sent: "\nOUTP ON\n"}, {"*OPC?\n", "1\n"}, {"SYST:ERR?\n", none}, {"OUTP?\n", "1\n"}}},
		"marks": {func(p *profile.Profile) { p.Talk.Mark = "*OPC?" }, []turn{
			{Sent: "\nOUTP ON\n"}, {"SYST:ERR?\n", none}, {"OUTP?;*OPC?\n", "1;1\n"}}},
	} {
		t.Run(name, func(t *testing.T) {
			c, port, p := with(t, "scpi supply", func(p *profile.Profile) { p.Talk.Clear = ""; x.change(p) },
				x.turns...)
			s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
			if err != nil {
				t.Fatal(err)
			}
			if err := s.On(bg); err != nil {
				t.Error(err)
			}
		})
	}
}

func TestGapBetweenCommands(t *testing.T) {
	bg := context.Background()
	c, port, p := with(t, "scpi supply", func(p *profile.Profile) {
		p.Talk.Clear, p.Talk.Errors, p.Talk.GapMs = "", "", 40
	},
		turn{Sent: "\nOUTP ON\n"}, turn{"OUTP?\n", "1\n"})
	s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
	if err != nil {
		t.Fatal(err)
	}
	began := c.Now()
	if err := s.On(bg); err != nil {
		t.Fatal(err)
	}
	if took := c.Now().Sub(began); took < 40*time.Millisecond {
		t.Errorf("the second command came %v after the first", took)
	}
}

func TestMeterTranscripts(t *testing.T) {
	bg := context.Background()
	c, port, p := with(t, "scpi meter", nil, append(append([]turn{}, hello...),
		turn{Sent: "CONF:CURR:DC\n"}, turn{"SYST:ERR?\n", none}, turn{Sent: "CURR:DC:RANG 0.22\n"},
		turn{"SYST:ERR?\n", none}, turn{"CURR:DC:RANG?\n", "2.0E-1\n"},
		turn{"READ?\n", "+1.234560E-02\n"}, turn{"READ?\n", "+9.9E+37\n"}, turn{"READ?\n", "9.91E37\n"},
		turn{"READ?\n", "+2.500000E-01\n"},
		turn{Sent: "CONF:VOLT:DC\n"}, turn{"SYST:ERR?\n", none}, turn{"READ?\n", "+11.98\n"},
	)...)
	m, err := made[*driver.Meter](t)(driven(port, "test", c, p))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.Identify(bg); err != nil {
		t.Fatal(err)
	}
	if r, err := m.FixRange(bg, instruments.Current, 0.03); err != nil || r.Name != "200 mA" {
		t.Fatalf("%+v, %v", r, err)
	}
	for _, want := range []instruments.Status{instruments.OK, instruments.Overload, instruments.NotANumber,
		instruments.Overload} {
		r, err := m.Read(bg, instruments.Current)
		if err != nil || r.Status != want || (r.Value != nil) != (want == instruments.OK) {
			t.Errorf("%+v, %v, want %s", r, err, want)
		}
		// ±(0.2 % + 5 counts of 10 uA) of the range that was fixed, not of the one that the value fits.
		if want == instruments.OK && (r.HalfWidth < 74.6e-6 || r.HalfWidth > 74.8e-6 || r.Range != "200 mA") {
			t.Errorf("half-width %v on %s", r.HalfWidth, r.Range)
		}
	}
	if r, err := m.Read(bg, instruments.Voltage); err != nil || r.Unit != "V" || r.Range != "20 V" {
		t.Errorf("%+v, %v", r, err)
	}
	if _, err := m.FixRange(bg, instruments.Current, 5); err == nil {
		t.Error("no range holds 5 A")
	}
}

// A reply that looks unlike the one before it is asked for once more.
// A meter comes to rest after a change of range before it's read; whatever else is done meanwhile is that much less
// to wait for.
func TestAMeterRestsAfterItsRange(t *testing.T) {
	bg := context.Background()
	const rest = 300 * time.Millisecond
	for _, busy := range []time.Duration{0, 200 * time.Millisecond, time.Second} {
		c, port, p := with(t, "scpi meter", func(p *profile.Profile) { p.Meter.SettlingMs = 300 },
			append(append([]turn{}, hello...),
				turn{Sent: "CONF:CURR:DC\n"}, turn{"SYST:ERR?\n", none}, turn{Sent: "CURR:DC:RANG 0.22\n"},
				turn{"SYST:ERR?\n", none}, turn{"CURR:DC:RANG?\n", "2.0E-1\n"},
				turn{"READ?\n", "+1.234560E-02\n"})...)
		m, err := made[*driver.Meter](t)(driven(port, "test", c, p))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := m.Identify(bg); err != nil {
			t.Fatal(err)
		}
		if _, err := m.FixRange(bg, instruments.Current, 0.03); err != nil {
			t.Fatal(err)
		}
		fixed := c.Now()
		if err := c.Wait(bg, nil, fixed.Add(busy)); err != nil {
			t.Fatal(err)
		}
		r, err := m.Read(bg, instruments.Current)
		asked := r.At // answers take no time here
		if err != nil || asked.Before(fixed.Add(rest)) {
			t.Errorf("busy for %v: asked %v after the range, %v", busy, asked.Sub(fixed), err)
		}
		if waited := c.Now().Sub(fixed); waited > max(rest, busy)+rest {
			t.Errorf("busy for %v: %v from the range to the reading", busy, waited)
		}
	}
}

func TestReplyOfAnotherShape(t *testing.T) {
	bg := context.Background()
	c, port, p := with(t, "scpi supply", nil, append(append([]turn{}, hello...),
		turn{"MEAS:CURR?\n", "0.0381\n"}, turn{"MEAS:CURR?\n", "0.0391\n"},
		turn{"MEAS:CURR?\n", "0.391\n"}, turn{"MEAS:CURR?\n", "0.0392\n"}, // a byte was lost
		turn{"MEAS:CURR?\n", "1.038\n"}, turn{"MEAS:CURR?\n", "1.039\n"}, // another range
		turn{"MEAS:CURR?\n", "1.040\n"},
		turn{"MEAS:CURR?\n", "1.41\n"}, turn{"MEAS:CURR?\n", "11.041\n"}, turn{"MEAS:CURR?\n", "1.1\n"},
		turn{"MEAS:CURR?\n", "1\n"}, turn{"MEAS:CURR?\n", "1.04.\n"},
	)...)
	s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Identify(bg); err != nil {
		t.Fatal(err)
	}
	for _, want := range []float64{0.0381, 0.0391, 0.0392, 1.039, 1.04} {
		if r, err := s.Read(bg, instruments.Current); err != nil || *r.Value != want {
			t.Errorf("%+v, %v, want %v", r, err, want)
		}
	}
	if r, err := s.Read(bg, instruments.Current); !errors.Is(err, instruments.ErrGarbled) {
		t.Errorf("%+v, %v", r, err)
	}
}

// Numbers in shortest form change their look by themselves; a byte that was lost
// is still asked for again, and what comes without its end is no reply at all.
func TestNumbersInShortestForm(t *testing.T) {
	bg := context.Background()
	c, port, p := with(t, "scpi supply", nil, append(append([]turn{}, hello...),
		turn{"MEAS:CURR?\n", "0.0123\n"},
		turn{"MEAS:CURR?\n", "5E-05\n"}, turn{"MEAS:CURR?\n", "4.8E-05\n"}, turn{"MEAS:CURR?\n", "5.1E-05\n"},
		turn{"MEAS:CURR?\n", "0\n"}, turn{"MEAS:CURR?\n", "0\n"},
		turn{"MEAS:CURR?\n", "1.99\n"}, turn{"MEAS:CURR?\n", "2\n"},
		turn{"MEAS:CURR?\n", "2.01\n"}, turn{"MEAS:CURR?\n", "201\n"}, turn{"MEAS:CURR?\n", "2.02\n"},
		turn{"MEAS:CURR?\n", "2.0"},
	)...)
	s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Identify(bg); err != nil {
		t.Fatal(err)
	}
	// 201 A lost its point, and the next one doesn't look like it.
	for _, want := range []float64{0.0123, 5.1e-5, 0, 2, 2.02} {
		if r, err := s.Read(bg, instruments.Current); err != nil || *r.Value != want {
			t.Errorf("%+v, %v, want %v", r, err, want)
		}
	}
	if r, err := s.Read(bg, instruments.Current); !errors.Is(err, instruments.ErrGarbled) || r.Value != nil {
		t.Errorf("cut: %+v, %v", r, err)
	}
}

// Of an annotated reply the groups value and unit of the pattern are read; a unit
// of another quantity makes it no answer.
func TestAnnotatedReplies(t *testing.T) {
	bg := context.Background()
	for reply, want := range map[string]float64{
		"CURR = 12.3 mA": 0.0123, "CURR = 0.0123": 0.0123, "CURR = 12.3 mV": -1, "VOLT = 12.3 mA": -1, "12.3 mA": -1,
		"CURR = 12.3 mA!": -1,
	} {
		c, port, p := with(t, "scpi supply", func(p *profile.Profile) {
			p.Supply.MeasureAmps.Pattern = `CURR = (?P<value>[-+0-9.E]+)(?: (?P<unit>[a-zA-Z]+))?`
		}, append(append([]turn{}, hello...), turn{"MEAS:CURR?\n", reply + "\n"})...)
		s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Identify(bg); err != nil {
			t.Fatal(err)
		}
		r, err := s.Read(bg, instruments.Current)
		if v, ok := r.Float(); want < 0 && !errors.Is(err, instruments.ErrGarbled) || want >= 0 &&
			(!ok || math.Abs(v-want) > 1e-12) {
			t.Errorf("%q: %+v, %v", reply, r, err)
		}
	}
}

// At the end the front panel is given back, of an instrument that was spoken to.
func TestBackToLocal(t *testing.T) {
	for _, spoken := range []bool{true, false} {
		turns := []turn{}
		if spoken {
			turns = append(append(turns, hello...), turn{Sent: "SYST:LOC\n"})
		}
		c, port, p := with(t, "scpi supply", func(p *profile.Profile) { p.Talk.Local = "SYST:LOC" }, turns...)
		s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
		if err != nil {
			t.Fatal(err)
		}
		if spoken {
			if _, err := s.Identify(context.Background()); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

// FETC? hands out what is in memory: the driver waits until that is new.
func TestFetchWaitsForAFreshReading(t *testing.T) {
	bg := context.Background()
	c, port, p := with(t, "scpi meter", func(p *profile.Profile) {
		p.Meter.FromMemory, p.Meter.Current.Read.Send, p.Meter.Current.Configure, p.Talk.Clear = true, "FETC?",
			profile.Point{}, ""
	}, turn{"FETC?\n", "1E-3\n"})
	m, err := made[*driver.Meter](t)(driven(port, "test", c, p))
	if err != nil {
		t.Fatal(err)
	}
	began := c.Now()
	r, err := m.Read(bg, instruments.Current)
	if err != nil || r.At.Add(-r.Window).Before(began) {
		t.Errorf("%+v, %v: asked at %v", r, err, began)
	}
}

func TestWrongInstrumentIsNamed(t *testing.T) {
	c, port, p := with(t, "scpi supply", nil, turn{Sent: "\n*CLS\n"}, turn{Sent: idn, Got: "SPARE,METER,1,1.0\n"})
	p.Identity.Pattern = "^BENCH,SUPPLY,"
	s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Identify(context.Background()); !errors.Is(err, instruments.ErrGarbled) ||
		!strings.Contains(err.Error(), "SPARE") {
		t.Error(err)
	}
}

// An identity has any number of fields; a late answer to another question, and one
// that comes only once, are none.
func TestIdentities(t *testing.T) {
	for answers, want := range map[string]string{
		"BENCH SUPPLY 3005": "BENCH SUPPLY 3005", "BENCH,SUPPLY,1,1.0,2026": "BENCH,SUPPLY,1,1.0,2026",
		"3005 BENCH":               "3005 BENCH",
		"BENCH SUPPLY|BENCH SUPPL": "", "0,No error": "", `0,"No error"`: "", "12.00 mV": "", "ON": "", "OFF": "",
		"12.00":  "",
		"(@1,2)": "", "+9.9E37": "",
	} {
		first, second, differs := strings.Cut(answers, "|")
		if !differs {
			second = first
		}
		turns := []turn{{Sent: "\n*CLS\n"}, {Sent: idn, Got: first + "\n"}}
		if strings.Count(first, ",") != 3 {
			turns = append(turns, turn{Sent: idn, Got: second + "\n"})
		}
		c, port, p := with(t, "scpi supply", nil, turns...)
		s, err := made[*driver.Supply](t)(driven(port, "test", c, p))
		if err != nil {
			t.Fatal(err)
		}
		if id, err := s.Identify(context.Background()); id != want || (err == nil) != (want != "") {
			t.Errorf("%q is %q, %v", answers, id, err)
		}
	}
}
