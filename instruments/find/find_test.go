package find

import (
	"context"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/outside"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/wire"
)

func finder(t *testing.T, c clock.Clock, open instruments.Opener) Finder {
	t.Helper()
	f := Finder{Clock: c, Open: open, Own: map[string]bool{}}
	list, err := profile.List("")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		p, err := profile.Load(e.Name, "")
		if err != nil {
			t.Fatal(err)
		}
		f.Profiles = append(f.Profiles, p)
	}
	return f
}

type nothing struct{}

func (nothing) Terminals() []string       { return []string{"cabin", "mast"} }
func (nothing) Current(rig.State) float64 { return 0 }

// An instrument is found at whatever usual speed its line has; nothing is switched on.
func TestSpeeds(t *testing.T) {
	ctx := context.Background()
	for _, baud := range []int{9600, 115200, 4800} {
		c := clock.NewSimulated(time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC))
		o := rig.Options{MemoryPorts: true, StrictLine: true}
		o.Supply.Line = instruments.Line{Baud: baud, DataBits: 8, StopBits: 1}
		b, err := rig.New(ctx, c, nothing{}, o)
		if err != nil {
			t.Fatal(err)
		}
		x, err := finder(t, c, b.Opener()).Port(ctx, b.Ports().Supply)
		if err != nil || x.Found == nil || x.Found.Kind != profile.SupplyKind {
			t.Fatalf("at %d baud: %+v, %v", baud, x, err)
		}
		want := ""
		if baud != 9600 {
			want = "line.baud = "
		}
		if got := changed(x.Found); !strings.HasPrefix(got, want) || want == "" && strings.Contains(got, "baud") {
			t.Errorf("at %d baud it needs %q", baud, got)
		}
		if len(b.Outputs()) != 0 {
			t.Errorf("the output was switched: %+v", b.Outputs())
		}
		c.Outside(func() { err = b.Close() })
		if err != nil {
			t.Error(err)
		}
	}
}

func changed(x *Found) string {
	var out []string
	for _, c := range x.Changes {
		out = append(out, c.String())
	}
	return strings.Join(out, "; ")
}

// A meter that sends by itself is known by what it sends; chatter of which nothing
// can be made is shown.
func TestSenders(t *testing.T) {
	ctx := context.Background()
	for name, x := range map[string]struct{ sends, profile string }{
		"text":    {"DC  +12.34 mA\r\n", "text meter"},
		"chatter": {"~~ hull 7 ~~\r\n", ""},
		"silence": {"", ""},
	} {
		c := clock.NewSimulated(time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC))
		over := false
		open := func(context.Context, string, instruments.Line) (instruments.Port, error) {
			near, far := wire.Pair(c, name)
			c.Go(func() {
				for !over && x.sends != "" && far.Write(ctx, []byte(x.sends)) == nil {
					_ = c.Wait(ctx, nil, c.Now().Add(400*time.Millisecond))
				}
			})
			return near, nil
		}
		got, err := finder(t, c, open).Port(ctx, name)
		over = true
		switch {
		case err != nil:
			t.Fatal(err)
		case x.profile != "" && (got.Found == nil || got.Found.Profile != x.profile):
			t.Errorf("%s: %+v", name, got)
		case x.profile == "" && (got.Found != nil || got.Why == "" || (got.Heard != "") != (x.sends != "")):
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// A Modbus server that others wrote (python3-pymodbus) is found over a real socket.
func TestModbusServer(t *testing.T) {
	outside.Need(t, outside.Debian, "pymodbus", "python3-pymodbus")
	number := outside.Start(t, false, outside.Debian, "../modbus/testdata/tcp_server.py").Line(t)
	c := clock.Wall{}
	x, err := finder(t, c, wire.Serial(c, nil, nil)).Port(context.Background(),
		"tcp://127.0.0.1:"+number)
	if err != nil || x.Found == nil || x.Found.Speaks != profile.Modbus {
		t.Errorf("%+v, %v", x, err)
	}
}

// Patterns of annotated replies, by hand; a plain number needs none, and what has
// two numbers is none.
func TestPatterns(t *testing.T) {
	for reply, want := range map[string]string{
		"12.003": "", "+1.2E-02": "", "12.3 mV": "", "": "", "ERR": "", "VOLT 12.0, CURR 0.1": "", "CH1 12.0": "",
		"V=12.003 V": "12.003 V", "READ=+1.2E-02": "+1.2E-02", "U: 12V;": "12 V", "[0.038A]": "0.038 A",
	} {
		p := pattern(reply)
		if (p == "") != (want == "") {
			t.Errorf("%q gets %q", reply, p)
			continue
		}
		if p == "" {
			continue
		}
		pt := profile.Point{Pattern: p}
		if got, err := pt.Take(reply); got != want || err != nil {
			t.Errorf("%q by %q is %q, %v", reply, p, got, err)
		}
	}
}

// No answer makes it panic, and what it makes of one is a pattern that takes it.
func FuzzPattern(f *testing.F) {
	for _, s := range []string{"V=12 V", "READ=1", "a1b", "(((1", "\\E1", "12 mV", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, reply string) {
		p := pattern(reply)
		if p == "" {
			return
		}
		pt := profile.Point{Pattern: p}
		if _, err := pt.Take(strings.TrimSpace(reply)); err != nil {
			t.Errorf("%q: %q doesn't take it: %v", reply, p, err)
		}
	})
}

// A port on which nobody answers is given up within a bounded time, and it's said what was
// asked and what wasn't.
func TestNobodyAnswers(t *testing.T) {
	ctx := context.Background()
	c := clock.NewSimulated(time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC))
	began, lines := c.Now(), map[string]bool{}
	open := func(_ context.Context, name string, l instruments.Line) (instruments.Port, error) {
		lines[l.Parity] = true
		near, _ := wire.Pair(c, name)
		return near, nil
	}
	f := finder(t, c, open)
	p, err := profile.Load("modbus shunt", "")
	if err != nil {
		t.Fatal(err)
	}
	own := *p
	own.Name, own.Bus = "mine", &profile.Bus{Address: 17}
	f.Own["mine"], f.Profiles = true, append(f.Profiles, &own)
	x, err := f.Port(ctx, "silent")
	took := c.Now().Sub(began)
	if err != nil || x.Found != nil || x.Why != "nobody answers" || len(x.Asked) != 2 {
		t.Fatalf("%+v, %v", x, err)
	}
	for _, words := range []string{"19200 baud, even parity: address 1 to 8, 17",
		"9600, 2400, 115200, 19200, 57600, 38400, 4800 baud",
		"9600 baud, odd parity: address 1"} {
		if !strings.Contains(x.Asked[0], words) {
			t.Errorf("it doesn't say %q: %s", words, x.Asked[0])
		}
	}
	const most = 50 * time.Second
	if took > most || len(lines) != 3 {
		t.Errorf("it took %v, with parities %v", took, lines)
	}
	t.Logf("a silent port takes %v", took)
	x, err = f.Port(ctx, "tcp://silent:1")
	if err != nil || len(x.Asked) != 2 || !strings.Contains(x.Asked[0], "unit 1, 255") {
		t.Errorf("%+v, %v", x, err)
	}
}
