package bench_test

import (
	"context"
	"errors"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/rig/odd"
)

// resistors is an invented load: one resistor behind each terminal.
type resistors map[string]float64

func (r resistors) Terminals() []string { return []string{"cabin", "mast"} }

func (r resistors) Current(s rig.State) float64 {
	i := 0.0
	for n, name := range r.Terminals() {
		if s.On[n] {
			i += s.Volts / r[name]
		}
	}
	return i
}

func (r resistors) NextChange(rig.State) time.Duration { return -1 }

func onRig(t *testing.T, memory bool, load rig.Load, o rig.Options) (*clock.Simulated, *rig.Bench, *bench.Opened) {
	t.Helper()
	if !memory && runtime.GOOS == "windows" {
		t.Skip("no pseudo terminals on Windows; memory ports are tested beside it")
	}
	ctx := context.Background()
	c := clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC))
	o.Seed, o.MemoryPorts = 7, memory
	b, err := rig.New(ctx, c, load, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	p := b.Ports()
	x, err := bench.Open(ctx, c, b.Opener(), bench.Default(), bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter,
		RelaysPort: p.Relays})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { x.Close() })
	return c, b, x
}

// The built-in SCPI profiles drive the simulated bench, over pseudo terminals
// and over memory alike.
func TestSimulatedBench(t *testing.T) {
	for name, memory := range map[string]bool{"memory": true, "pty": false} {
		t.Run(name, func(t *testing.T) {
			ctx := context.Background()
			c, b, x := onRig(t, memory, resistors{"cabin": 470, "mast": 1200}, rig.Options{})
			for _, who := range []string{"supply", "meter", "relays"} {
				if !strings.HasPrefix(x.Identities[who], "SIMULATED BENCH,"+strings.ToUpper(who)) {
					t.Errorf("%s says %q", who, x.Identities[who])
				}
			}
			do := func(what string, err error) {
				t.Helper()
				if err != nil {
					t.Fatalf("%s: %v", what, err)
				}
			}
			do("close", x.Relays.Close(ctx, 1))
			do("protect", x.Supply.(instruments.Protector).Protect(ctx, 13, 0.2))
			do("set", x.Supply.Set(ctx, 12, 0.1))
			r, err := x.Meter.(instruments.Ranger).FixRange(ctx, instruments.Current, 0.03)
			do("range", err)
			if r.Name != "200 mA" || r.BurdenOhm != 1 {
				t.Errorf("range %+v", r)
			}
			do("on", x.Supply.On(ctx))
			if !b.Output().On {
				t.Error("the output is not on")
			}
			do("wait", c.Wait(ctx, nil, c.Now().Add(time.Second)))
			asked := c.Now()
			got, err := x.Meter.Read(ctx, instruments.Current)
			do("read", err)
			v, ok := got.Float()
			// 12 V over 470 ohm, burden 1 ohm and leads 0.1 ohm: ohm's law. The
			// meter's ±(0.2 % + 50 uA) and the supply's ±(0.05 % + 10 mV) add up.
			want := 12 / 471.1
			if !ok || math.Abs(v-want) > got.HalfWidth+want*(0.0005+0.01/12) {
				t.Errorf("read %v ± %v A, want %v", v, got.HalfWidth, want)
			}
			if got.Range != "200 mA" || got.Window != 100*time.Millisecond || got.At.Add(-got.Window).Before(asked) {
				t.Errorf("reading %+v, asked at %v", got, asked)
			}
			limiting, err := x.Supply.Limiting(ctx)
			do("limiting", err)
			if limiting {
				t.Error("25 mA is below the limit of 100 mA")
			}
			back, err := x.Supply.Read(ctx, instruments.Voltage)
			do("read back", err)
			if v, ok := back.Float(); !ok || math.Abs(v-12) > 0.05 {
				t.Errorf("the supply reads %v V", v)
			}
			do("limit", x.Supply.Set(ctx, 12, 0.01))
			do("wait", c.Wait(ctx, nil, c.Now().Add(200*time.Millisecond)))
			if limiting, err = x.Supply.Limiting(ctx); err != nil || !limiting {
				t.Errorf("limiting at 10 mA: %v, %v", limiting, err)
			}
			do("off", x.Supply.Off(ctx))
			if b.Output().On {
				t.Error("the output is on")
			}
			if !x.Meter.(instruments.Describer).Describe().Simulated {
				t.Error("a rig should be told as one")
			}
		})
	}
}

func TestMeterOverloadOnTheSimulatedBench(t *testing.T) {
	ctx := context.Background()
	_, _, x := onRig(t, true, resistors{"cabin": 100, "mast": 1200}, rig.Options{})
	for _, err := range []error{x.Relays.Close(ctx, 1), x.Supply.Set(ctx, 12, 1), x.Supply.On(ctx)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := x.Meter.(instruments.Ranger).FixRange(ctx, instruments.Current, 0.01); err != nil {
		t.Fatal(err)
	}
	r, err := x.Meter.Read(ctx, instruments.Current)
	if err != nil || r.Status != instruments.Overload || r.Value != nil {
		t.Errorf("120 mA on 20 mA: %+v, %v", r, err)
	}
}

func TestRelaysOfTheSimulatedBench(t *testing.T) {
	ctx := context.Background()
	_, b, x := onRig(t, true, resistors{"cabin": 100, "mast": 1200}, rig.Options{})
	for _, want := range [][]int{{1, 2}, {2}, {}, {1}} {
		if err := x.Relays.Close(ctx, want...); err != nil {
			t.Fatal(err)
		}
		if got := b.Connected(); len(got) != len(want) {
			t.Errorf("%v closed, the rig has %v", want, got)
		}
	}
	if err := x.Relays.Close(ctx, 65); !errors.Is(err, instruments.ErrNotSet) {
		t.Errorf("channel 65: %v", err)
	}
}

func TestUnpluggedMeterOfTheSimulatedBench(t *testing.T) {
	ctx := context.Background()
	_, b, x := onRig(t, true, resistors{"cabin": 470, "mast": 1200}, rig.Options{})
	if err := b.Unplug(rig.Meter); err != nil {
		t.Fatal(err)
	}
	if _, err := x.Meter.Read(ctx, instruments.Current); !errors.Is(err, instruments.ErrPortGone) {
		t.Errorf("read: %v", err)
	}
	if err := x.Supply.Off(ctx); err != nil {
		t.Errorf("off: %v", err)
	}
}

// Each oddity of the simulated bench is met by the profile that its list names,
// from the setting to the reading and off again.
func TestOddInstruments(t *testing.T) {
	ctx := context.Background()
	for _, k := range odd.List() {
		t.Run(string(k.Name), func(t *testing.T) {
			c := clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC))
			o := rig.Options{Seed: 7, MemoryPorts: true}
			o.Supply.Odd, o.Meter.Odd = odd.Oddities{k.Name}, odd.Oddities{k.Name}
			b, err := rig.New(ctx, c, resistors{"cabin": 470, "mast": 1200}, o)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { c.Outside(func() { _ = b.Close() }) })
			if err := b.Connect("cabin"); err != nil {
				t.Fatal(err)
			}
			supply, meter := suited(t, "scpi supply", k.Name), suited(t, "scpi meter", k.Name)
			s, err := bench.Connect(ctx, c, b.Opener(), b.Ports().Supply, supply)
			if err != nil {
				t.Fatal(err)
			}
			m, err := bench.Connect(ctx, c, b.Opener(), b.Ports().Meter, meter)
			if err != nil {
				t.Fatal(err)
			}
			if !s.Supply.(instruments.Describer).Describe().Simulated {
				t.Error("it isn't known as simulated")
			}
			if err := s.Supply.Off(ctx); err != nil {
				t.Fatal(err)
			}
			if err := s.Supply.Set(ctx, 12, 0.1); err != nil {
				t.Fatal(err)
			}
			if err := s.Supply.On(ctx); err != nil {
				t.Fatal(err)
			}
			r, err := m.Meter.Read(ctx, instruments.Current)
			// by hand: 470 ohm, leads, burden
			if v, ok := r.Float(); err != nil || !ok || math.Abs(v-12.0/471.2) > 0.001 {
				t.Errorf("reads %+v, %v", r, err)
			}
			if on, err := s.Supply.Limiting(ctx); err != nil || on {
				t.Errorf("limiting %v, %v", on, err)
			}
			b.Across(0.001)
			if err := c.Wait(ctx, nil, c.Now().Add(300*time.Millisecond)); err != nil {
				t.Fatal(err)
			}
			if on, err := s.Supply.Limiting(ctx); err != nil || !on {
				t.Errorf("clips together, limiting %v, %v", on, err)
			}
			if err := s.Supply.Off(ctx); err != nil || b.Output().On {
				t.Errorf("off: %v", err)
			}
			if err := errors.Join(s.Port.Close(), m.Port.Close()); err != nil {
				t.Error(err)
			}
		})
	}
}

// A supply with a watchdog switches off by itself when the program is gone, and not
// while it is spoken to. A watchdog that isn't confirmed keeps the output off.
func TestWatchdogOfASupply(t *testing.T) {
	ctx := context.Background()
	c := clock.NewSimulated(time.Date(2026, 11, 27, 6, 45, 0, 0, time.UTC))
	o := rig.Options{Seed: 7, MemoryPorts: true}
	o.Supply.Odd = odd.Oddities{odd.Watchdog}
	b, err := rig.New(ctx, c, resistors{"cabin": 470, "mast": 1200}, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Outside(func() { _ = b.Close() }) })
	p := suited(t, "scpi supply", odd.Watchdog)
	x, err := bench.Connect(ctx, c, b.Opener(), b.Ports().Supply, p)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(x.Supply.Set(ctx, 12, 0.1), x.Supply.On(ctx)); err != nil {
		t.Fatal(err)
	}
	for range 10 { // 100 s, spoken to every 10 s
		_ = c.Wait(ctx, nil, c.Now().Add(10*time.Second))
		if _, err := x.Supply.Read(ctx, instruments.Voltage); err != nil || !b.Output().On {
			t.Fatalf("while it is spoken to: on %v, %v", b.Output().On, err)
		}
	}
	_ = c.Wait(ctx, nil, c.Now().Add(29*time.Second))
	if !b.Output().On {
		t.Error("off too soon")
	}
	_ = c.Wait(ctx, nil, c.Now().Add(3*time.Second))
	if b.Output().On {
		t.Error("nobody spoke to it for 32 s, and the output is on")
	}
	p.Supply.GetWatchdog.Send = "VOLT?" // never the seconds that were set
	if err := x.Supply.On(ctx); !errors.Is(err, instruments.ErrNotSet) || b.Output().On {
		t.Errorf("a watchdog that isn't confirmed: %v, on %v", err, b.Output().On)
	}
	if err := x.Port.Close(); err != nil {
		t.Error(err)
	}
}

// suited is a built-in profile with what an oddity needs.
func suited(t *testing.T, name string, o odd.Name) *profile.Profile {
	t.Helper()
	p, err := profile.Load(name, "")
	if err != nil {
		t.Fatal(err)
	}
	const form = `[A-Z]+=(?P<value>\S+)( (?P<unit>[VA]))?`
	switch {
	case o == odd.Prompt:
		p.Talk.Prompt = odd.Ready
	case o == odd.Echo:
		p.Talk.Echo = true
	case o == odd.Remote:
		p.Talk.Remote, p.Talk.Local = "SYST:REM", "SYST:LOC"
	case o == odd.Annotated && p.Meter != nil:
		p.Meter.Current.Read.Pattern = form
	case o == odd.Annotated:
		p.Supply.MeasureVolts.Pattern, p.Supply.MeasureAmps.Pattern = form, form
	case o == odd.Watchdog && p.Supply != nil:
		p.Supply.Watchdog = profile.Point{Send: "OUTP:WATC {seconds}", Scale: 1}
		p.Supply.GetWatchdog = profile.Point{Send: "OUTP:WATC?", Scale: 1}
	case o == odd.Coarse && p.Supply != nil:
		p.Supply.StepAmps = odd.CoarseA
	case o == odd.NoLimiting && p.Supply != nil:
		p.Supply.Limiting = profile.Point{}
	}
	return p
}
