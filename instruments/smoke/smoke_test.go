package smoke

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
)

type nothing struct{}

func (nothing) Terminals() []string       { return []string{"cabin", "mast"} }
func (nothing) Current(rig.State) float64 { return 0 }

// watcher keeps what it's told and answers what it's asked.
type watcher struct {
	strings.Builder
	yes   bool
	asked func()
	told  []bool // whether the output is on
}

func (w *watcher) Tell(text string) { w.WriteString(text + "\n") }

func (w *watcher) Ask(context.Context, Question) (bool, error) {
	w.asked()
	return w.yes, nil
}

func (w *watcher) Output(o Output) { w.told = append(w.told, o.On) }

// This is for hardware; the test sees only to it that it does on the
// simulated bench what it says, and nothing without a yes.
func TestOnTheSimulatedBench(t *testing.T) {
	for _, yes := range []bool{true, false} {
		ctx := context.Background()
		c := clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC))
		b, err := rig.New(ctx, c, nothing{}, rig.Options{MemoryPorts: true})
		if err != nil {
			t.Fatal(err)
		}
		for which, port := range map[string]string{"supply": b.Ports().Supply, "meter": b.Ports().Meter,
			"relays": b.Ports().Relays} {
			p, err := profile.Load("scpi "+which, "")
			if err != nil {
				t.Fatal(err)
			}
			if which == "relays" {
				p.Relays.Channels = 2
			}
			x, err := bench.Connect(ctx, c, b.Opener(), port, p)
			if err != nil {
				t.Fatal(err)
			}
			out := watcher{yes: yes, asked: func() {
				if b.Output().On {
					t.Error("asked with the output on")
				}
				if yes && x.Supply != nil { // as if a knob were turned while it's asked
					if err := x.Supply.Set(ctx, 12, 1); err != nil {
						t.Error(err)
					}
				}
			}}
			if found, err := Try(ctx, c, x, p, &out); err != nil || found != (Found{}) {
				t.Errorf("%s: %v\n%s", which, err, out.String())
			}
			if on := slices.Contains(out.told, true); on != (yes && which == "supply") ||
				on && out.told[len(out.told)-1] {
				t.Errorf("%s, yes %v: the output was told to be on: %v", which, yes, out.told)
			}
			if glued := regexp.MustCompile(`\d(ms|s|mV|V|mA|A)\b`).FindString(out.String()); glued != "" {
				t.Errorf("%s: a number without a space before its unit: %q", which, glued)
			}
			want := map[string]string{"supply": "output is ON", "meter": "Range 200 mA is fixed",
				"relays": "Relay 2 is closed"}[which]
			if strings.Contains(out.String(), want) != (yes || which == "meter") {
				t.Errorf("%s, yes %v: %s", which, yes, out.String())
			}
			if o := b.Output(); o.On || which == "supply" && (o.Volts != tryVolts || o.LimitA != tryAmps) {
				t.Errorf("%s left the supply at %+v", which, o)
			}
			if err := x.Port.Close(); err != nil {
				t.Error(err)
			}
		}
		ons := 0
		for _, e := range b.Outputs() {
			if e.On {
				ons++
				if e.Volts != tryVolts || e.LimitA != tryAmps {
					t.Errorf("the output went on at %g V and %g A", e.Volts, e.LimitA)
				}
			}
		}
		if want := map[bool]int{true: 1}[yes]; ons != want {
			t.Errorf("yes %v: the output went on %d times", yes, ons)
		}
		c.Outside(func() { err = b.Close() })
		if err != nil {
			t.Error(err)
		}
	}
}
