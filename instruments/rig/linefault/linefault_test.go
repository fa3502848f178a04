package linefault_test

import (
	"context"
	"errors"
	"math/bits"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig/linefault"
	"sealworthy/instruments/wire"
)

var (
	background = context.Background()
	start      = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
)

// talk sends 200 replies through a line with one fault and gives what came,
// and when. Each reply has a second of its own.
func talk(t *testing.T, o linefault.Options) (got []string, at []time.Duration, f *linefault.Port, end error) {
	t.Helper()
	c := clock.NewSimulated(start)
	a, b := wire.Pair(c, "memory:1")
	f = linefault.New(c, a, o)
	buf := make([]byte, 4096)
	for n := range 200 {
		if err := b.Write(background, []byte{byte(n), 'x', 'y', 'z'}); err != nil {
			t.Fatal(err)
		}
		until := start.Add(time.Duration(n+1) * time.Second)
		for {
			k, err := f.ReadUntil(background, buf, until)
			if errors.Is(err, clock.ErrDeadline) {
				break
			}
			if err != nil {
				return got, at, f, err
			}
			if k == 0 {
				t.Fatal("0, nil")
			}
			got = append(got, string(buf[:k]))
			at = append(at, c.Now().Sub(start))
		}
		if !c.Now().Equal(until) {
			t.Fatalf("left at %v, the deadline was %v", c.Now(), until)
		}
	}
	return got, at, f, nil
}

func TestWithoutFaultsAllIsAsItWas(t *testing.T) {
	got, at, _, err := talk(t, linefault.Options{})
	if err != nil || len(got) != 200 {
		t.Fatalf("%d runs, %v", len(got), err)
	}
	for n, g := range got {
		if g != string([]byte{byte(n), 'x', 'y', 'z'}) || at[n] != time.Duration(n)*time.Second {
			t.Errorf("run %d: %q at %v", n, g, at[n])
		}
	}
}

func total(runs []string) (n int) {
	for _, g := range runs {
		n += len(g)
	}
	return n
}

func TestEachFaultDoesWhatItSays(t *testing.T) {
	for kind, check := range map[linefault.Kind]func(t *testing.T, got []string, at []time.Duration, struck int){
		linefault.Drop: func(t *testing.T, got []string, _ []time.Duration, struck int) {
			if total(got) != 800-struck {
				t.Errorf("%d bytes, %d struck", total(got), struck)
			}
		},
		linefault.Double: func(t *testing.T, got []string, _ []time.Duration, struck int) {
			if total(got) != 800+struck {
				t.Errorf("%d bytes, %d struck", total(got), struck)
			}
		},
		linefault.Flip: func(t *testing.T, got []string, _ []time.Duration, struck int) {
			wrong := 0
			for n, g := range got {
				for i, want := range []byte{byte(n), 'x', 'y', 'z'} {
					wrong += bits.OnesCount8(g[i] ^ want)
				}
			}
			if wrong != struck {
				t.Errorf("%d bits, %d struck", wrong, struck)
			}
		},
		linefault.Delay: func(t *testing.T, got []string, at []time.Duration, struck int) {
			late := 0
			for _, a := range at {
				if a%time.Second != 0 {
					late++
				}
			}
			if late != struck || len(got) != 200 {
				t.Errorf("%d late, %d struck", late, struck)
			}
		},
		linefault.Split: func(t *testing.T, got []string, _ []time.Duration, struck int) {
			if len(got) != 200+struck || total(got) != 800 {
				t.Errorf("%d runs, %d struck", len(got), struck)
			}
		},
		linefault.Stale: func(t *testing.T, got []string, _ []time.Duration, struck int) {
			seen, again := map[string]bool{}, 0
			for _, g := range got {
				if seen[g] {
					again++
				}
				seen[g] = true
			}
			if again != struck || len(got) != 200+struck {
				t.Errorf("%d again of %d, %d struck", again, len(got), struck)
			}
		},
		linefault.Swap: func(t *testing.T, got []string, _ []time.Duration, struck int) {
			back := 0
			for n := 1; n < len(got); n++ {
				if got[n] < got[n-1] {
					back++
				}
			}
			if back < struck-1 || back > struck {
				t.Errorf("%d in the wrong order, %d struck", back, struck)
			}
		},
		linefault.Endless: func(t *testing.T, got []string, _ []time.Duration, struck int) {
			if total(got) < 800+struck*1000 {
				t.Errorf("%d bytes, %d struck", total(got), struck)
			}
		},
		linefault.Silence: func(t *testing.T, got []string, _ []time.Duration, struck int) {
			if len(got) > 200-struck || len(got) < 200-2*struck-2 {
				t.Errorf("%d runs, %d struck", len(got), struck)
			}
		},
	} {
		t.Run(string(kind), func(t *testing.T) {
			o := linefault.Options{Seed: 5, Rates: map[linefault.Kind]float64{kind: 0.05}}
			got, at, f, err := talk(t, o)
			struck := f.Struck()[kind]
			if err != nil || struck == 0 {
				t.Fatalf("struck %d times, %v", struck, err)
			}
			check(t, got, at, struck)
			again, _, _, _ := talk(t, o)
			if len(again) != len(got) || total(again) != total(got) {
				t.Error("the same seed did something else")
			}
		})
	}
}

func TestHangUpIsALostPort(t *testing.T) {
	_, _, f, err := talk(t, linefault.Options{Seed: 1, Rates: map[linefault.Kind]float64{linefault.HangUp: 0.05}})
	if !errors.Is(err, instruments.ErrPortGone) {
		t.Fatal(err)
	}
	if err := f.Write(background, []byte("x")); !errors.Is(err, instruments.ErrPortGone) {
		t.Error(err)
	}
}

func TestOutwardSpoilsWhatIsSent(t *testing.T) {
	c := clock.NewSimulated(start)
	a, b := wire.Pair(c, "memory:1")
	open := linefault.Faulty(c, func(context.Context, string, instruments.Line) (instruments.Port, error) {
		return a, nil
	},
		linefault.Options{Outward: true, Rates: map[linefault.Kind]float64{linefault.Drop: 1}})
	p, err := open(background, "memory:1", instruments.Line{})
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Write(background, []byte("OUTP ON")); err != nil {
		t.Fatal(err)
	}
	if _, err := b.ReadUntil(background, make([]byte, 8), c.Now()); !errors.Is(err, clock.ErrDeadline) {
		t.Errorf("something came: %v", err)
	}
	if err := p.Close(); err != nil {
		t.Error(err)
	}
}
