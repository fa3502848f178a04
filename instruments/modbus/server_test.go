//go:build unix

package modbus

import (
	"bufio"
	"context"
	"errors"
	"math"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/creack/pty"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/outside"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

// server starts testdata/server.py on a pty and gives the other end. In CI the
// program must be there; elsewhere the test is left out without it.
func server(t *testing.T, more ...string) instruments.Port {
	t.Helper()
	outside.Need(t, outside.Debian, "pymodbus, serial", "python3-pymodbus")
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cmd := exec.CommandContext(ctx, outside.Debian, append([]string{"testdata/server.py", slave.Name()}, more...)...)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	port := wire.New(clock.Wall{}, master, nil, nil)
	t.Cleanup(func() {
		cancel()
		_ = cmd.Wait()
		_ = slave.Close()
		_ = port.Close()
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil || strings.TrimSpace(line) != "ready" {
		t.Fatalf("the server says %q, %v: %s", line, err, stderr.String())
	}
	return port
}

func builtIn(t *testing.T, name string) *profile.Profile {
	t.Helper()
	p, err := profile.Load(name, "")
	if err != nil {
		t.Fatal(err)
	}
	if p.Talk.TimeoutMs < 300 || p.Kind == profile.MeterKind {
		p.Talk.TimeoutMs = 300
	}
	return p
}

// Every function against a server that others wrote (python3-pymodbus).
func TestIndependentServer(t *testing.T) {
	t.Parallel()
	port := server(t)
	ctx := context.Background()

	t.Run("supply", func(t *testing.T) {
		s, err := made[*driver.Supply](t)(driven(port, "pty", clock.Wall{}, builtIn(t, "modbus supply")))
		if err != nil {
			t.Fatal(err)
		}
		if id, err := s.Identify(ctx); err != nil || id == "" {
			t.Fatalf("%q, %v", id, err)
		}
		for what, err := range map[string]error{
			"protect": s.Protect(ctx, 13.5, 0.25), "set": s.Set(ctx, 12, 0.1), "on": s.On(ctx),
		} {
			if err != nil {
				t.Errorf("%s: %v", what, err)
			}
		}
		r, err := s.Read(ctx, instruments.Current)
		if v, ok := r.Float(); err != nil || !ok || math.Abs(v-0.038) > 1e-9 {
			t.Errorf("%+v, %v", r, err)
		}
		r, err = s.Read(ctx, instruments.Voltage)
		if v, ok := r.Float(); err != nil || !ok || math.Abs(v-11.99) > 1e-9 {
			t.Errorf("%+v, %v", r, err)
		}
		if err := s.Off(ctx); err != nil {
			t.Error(err)
		}
	})
	t.Run("shunt", func(t *testing.T) {
		m, err := made[*driver.Meter](t)(driven(port, "pty", clock.Wall{}, builtIn(t, "modbus shunt")))
		if err != nil {
			t.Fatal(err)
		}
		r, err := m.Read(ctx, instruments.Current)
		if v, ok := r.Float(); err != nil || !ok || math.Abs(v+0.04096) > 1e-9 {
			t.Errorf("%+v, %v", r, err)
		}
		r, err = m.Read(ctx, instruments.Voltage)
		if v, ok := r.Float(); err != nil || !ok || math.Abs(v-12.345) > 1e-9 {
			t.Errorf("%+v, %v", r, err)
		}
	})
	t.Run("two modules on one line", func(t *testing.T) {
		shared := exchange.Share(port)
		other := builtIn(t, "modbus shunt")
		other.Bus.Address = 2
		s, err := made[*driver.Supply](t)(driven(shared, "pty", clock.Wall{}, builtIn(t, "modbus supply")))
		if err != nil {
			t.Fatal(err)
		}
		m, err := made[*driver.Meter](t)(driven(shared, "pty", clock.Wall{}, other))
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []instruments.Identifier{s, m} {
			if _, err := x.Identify(ctx); err != nil {
				t.Fatal(err)
			}
		}
		done := make(chan error, 2)
		for who, want := range map[instruments.Meter]float64{s: 0.038, m: -0.04096} {
			go func() {
				for range 5 { // both at once: they take turns
					if err := reads(ctx, who, want); err != nil {
						done <- err
						return
					}
				}
				done <- nil
			}()
		}
		for range 2 {
			if err := <-done; err != nil {
				t.Error(err)
			}
		}
	})
	t.Run("relays", func(t *testing.T) {
		for _, way := range []string{"all at once", "one by one"} {
			p := builtIn(t, "modbus relay board")
			if way == "one by one" {
				reg, shut := 0, 0
				p.Relays.Exactly = profile.Point{}
				p.Relays.Close = profile.Point{Register: &reg, Function: 5, Of: "channels", Scale: 1}
				p.Relays.Open = profile.Point{Register: &reg, Function: 5, Of: "channels", Scale: 1, Value: &shut}
			}
			r, err := made[*driver.Relays](t)(driven(port, "pty", clock.Wall{}, p))
			if err != nil {
				t.Fatal(err)
			}
			for _, want := range [][]int{{1, 3, 16}, {3, 4}, nil} {
				if err := r.Close(ctx, want...); err != nil {
					t.Errorf("%s: %v", way, err)
				}
				if got, err := r.Closed(ctx); err != nil || !slices.Equal(got, want) {
					t.Errorf("%s: %v closed, %v", way, got, err)
				}
			}
		}
	})
	t.Run("functions 02 and 16, an exception", func(t *testing.T) {
		p := builtIn(t, "modbus supply")
		proto, err := New(port, "pty", clock.Wall{}, p)
		if err != nil {
			t.Fatal(err)
		}
		pr := proto.(*protocol)
		resp, _, err := pr.exchange(ctx, "inputs", Request{Address: 1, Function: ReadInputs, Quantity: 3}, 0, false)
		if err != nil || !slices.Equal(resp.Coils, []bool{true, false, true}) {
			t.Errorf("%+v, %v", resp, err)
		}
		if _, _, err = pr.exchange(ctx, "registers", Request{Address: 1, Function: WriteRegisters, Start: 20,
			Registers: []uint16{7, 8, 9}}, 0, false); err != nil {
			t.Error(err)
		}
		resp, _, err = pr.exchange(ctx, "registers", Request{Address: 1, Function: ReadHolding, Start: 20,
			Quantity: 3}, 0, false)
		if err != nil || !slices.Equal(resp.Registers, []uint16{7, 8, 9}) {
			t.Errorf("%+v, %v", resp, err)
		}
		var e Exception
		_, _, err = pr.exchange(ctx, "nowhere", Request{Address: 1, Function: ReadHolding, Start: 4000, Quantity: 3},
			0, false)
		if !errors.As(err, &e) || e.Code != 2 {
			t.Errorf("illegal data address: %v", err)
		}
	})
}

// Servers that others wrote and that know few functions are driven with the built-in
// profiles of ones that know more, where they say of a function that they don't know it.
// Where one says nothing whether it was carried out can't be known: nothing is set by
// another function then, and it's said. The output is off in the end.
func TestIndependentServerThatKnowsLittle(t *testing.T) {
	t.Parallel()
	for name, x := range map[string]struct {
		knows  []string
		relays bool
		unsaid bool // it says nothing to what its profile sets by
	}{
		"3 and 6":                      {[]string{"3,6"}, false, false},
		"3 and 6, silent to others":    {[]string{"3,6", "silent"}, false, false},
		"3 and 16":                     {[]string{"3,16"}, false, false},
		"3 and 16, silent to others":   {[]string{"3,16", "silent"}, false, true},
		"coils: 1 and 5":               {[]string{"1,5"}, true, false},
		"coils: 1 and 15":              {[]string{"1,15"}, true, false},
		"coils: 1 and 5, else silence": {[]string{"1,5", "silent"}, true, true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			port, ctx := server(t, x.knows...), context.Background()
			if x.relays {
				r, err := made[*driver.Relays](t)(driven(port, "pty", clock.Wall{}, builtIn(t, "modbus relay board")))
				if err != nil {
					t.Fatal(err)
				}
				for _, want := range [][]int{{1, 3}, nil, {2}} {
					err := r.Close(ctx, want...)
					if errors.Is(err, instruments.ErrNotSet) != x.unsaid || err != nil && !x.unsaid {
						t.Error(err)
					}
					if x.unsaid {
						want = nil
					}
					if got, err := r.Closed(ctx); err != nil || !slices.Equal(got, want) {
						t.Errorf("%v closed, %v, want %v", got, err, want)
					}
				}
				return
			}
			s, err := made[*driver.Supply](t)(driven(port, "pty", clock.Wall{}, builtIn(t, "modbus supply")))
			if err != nil {
				t.Fatal(err)
			}
			if _, err := s.Identify(ctx); err != nil {
				t.Fatal(err)
			}
			err = errors.Join(s.Set(ctx, 12, 0.1), s.On(ctx))
			if errors.Is(err, instruments.ErrNotSet) != x.unsaid || err != nil && !x.unsaid {
				t.Error(err)
			}
			if on, err := s.OutputIs(ctx); on == x.unsaid || err != nil {
				t.Errorf("on: %v, %v", on, err)
			}
			if err := s.Off(ctx); err != nil {
				t.Error(err)
			}
			if on, err := s.OutputIs(ctx); on || err != nil {
				t.Errorf("off, and it is on: %v, %v", on, err)
			}
		})
	}
}
