package suite_test

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig/odd"
	"sealworthy/instruments/suite"
)

// oddFake is an SCPI instrument with oddities.
type oddFake struct {
	scpiFake
	odd odd.Oddities
	// remote: SYST:REM was sent.
	remote   bool
	watchdog string
}

func (s *oddFake) takes() time.Duration { return s.odd.Takes() }

func (s *oddFake) spoil(p []byte) []byte { return bytes.Replace(p, p[:1], []byte("x"), 1) }

func (s *oddFake) answer(f *fake, message []byte) []byte {
	m := string(message)
	setting := !strings.HasSuffix(m, "?")
	var reply []byte
	switch {
	case s.odd.Has(odd.Watchdog) && m == "OUTP:WATC?":
		reply = []byte(s.watchdog + "\n")
	case s.odd.Has(odd.Watchdog) && strings.HasPrefix(m, "OUTP:WATC "):
		s.watchdog = m[len("OUTP:WATC "):]
	case m == "SYST:REM", m == "SYST:LOC":
		s.remote = m == "SYST:REM"
	case s.odd.Has(odd.NoLimiting) && strings.HasPrefix(m, "STAT:"), s.odd.Has(odd.Remote) && setting && !s.remote &&
		m != "" && m != "*CLS":
		f.mu.Lock()
		f.errors = append(f.errors, `-203,"Command protected"`)
		f.mu.Unlock()
	default:
		reply = s.scpiFake.answer(f, message)
	}
	if s.odd.Has(odd.Coarse) {
		f.mu.Lock()
		f.amps = math.Round(f.amps/odd.CoarseA) * odd.CoarseA
		f.mu.Unlock()
	}
	var out []byte
	if s.odd.Has(odd.Echo) {
		out = append(message[:len(message):len(message)], '\n')
	}
	if len(reply) > 0 {
		out = append(out, s.odd.Reply(m, strings.TrimSuffix(string(reply), "\n"))+"\n"...)
	}
	if out = append(out, s.odd.Behind()...); len(out) == 0 {
		return nil
	}
	return out
}

// suits changes a profile as the list of oddities says.
func suits(p *profile.Profile, o odd.Oddities) {
	if o.Has(odd.Prompt) {
		p.Talk.Prompt = odd.Ready
	}
	if o.Has(odd.Echo) {
		p.Talk.Echo = true
	}
	if o.Has(odd.Remote) {
		p.Talk.Remote, p.Talk.Local = "SYST:REM", "SYST:LOC"
	}
	if o.Has(odd.Annotated) {
		const form = `[A-Z]+=(?P<value>\S+)( (?P<unit>[VA]))?`
		if p.Supply != nil {
			p.Supply.MeasureVolts.Pattern, p.Supply.MeasureAmps.Pattern = form, form
		} else if p.Meter != nil {
			p.Meter.Current.Read.Pattern, p.Meter.Voltage.Read.Pattern = form, form
		}
	}
	if p.Supply == nil {
		return
	}
	if o.Has(odd.Watchdog) {
		p.Supply.Watchdog = profile.Point{Send: "OUTP:WATC {seconds}", Scale: 1}
		p.Supply.GetWatchdog = profile.Point{Send: "OUTP:WATC?", Scale: 1}
	}
	if o.Has(odd.Coarse) {
		p.Supply.StepAmps = odd.CoarseA
	}
	if o.Has(odd.NoLimiting) {
		p.Supply.Limiting = profile.Point{}
	}
}

// A Modbus module that knows few functions keeps the contract with the built-in
// profile of one that knows more.
func TestContractOfAModuleThatKnowsLittle(t *testing.T) {
	for name, x := range map[string]struct {
		profile string
		knows   modbusFake
	}{
		"3 and 6, silent to others": {"modbus supply", modbusFake{few: true}},
		"16 instead of 6":           {"modbus supply", modbusFake{many: true}},
		"1 and 5":                   {"modbus relay board", modbusFake{coils: true}},
	} {
		t.Run(name, func(t *testing.T) {
			suite.Run(t, func(t *testing.T) suite.Subject {
				p, knows := load(t, x.profile), x.knows
				f, c := putUp(t, p, &knows, nil)
				return suite.Subject{Clock: f.c, Control: f, Supply: c.Supply, Relays: c.Relays, Timeout: p.Timeout()}
			})
		})
	}
}

// A supply that doesn't know the function by which its profile switches off is switched
// off by another, though that is the first that is said to it.
func TestOffByAnotherFunction(t *testing.T) {
	f, x := putUp(t, load(t, "modbus supply"), &modbusFake{many: true}, nil)
	f.mu.Lock()
	f.on = true
	f.mu.Unlock()
	if err := x.Supply.Off(context.Background()); err != nil {
		t.Error(err)
	}
	if _, _, on := f.Settings(); on {
		t.Error("the output is on")
	}
}

// Each oddity, and all at once, keeps the contract with the profile that the list
// of oddities names for it.
func TestContractOfOddInstruments(t *testing.T) {
	all := odd.Oddities{odd.Prompt, odd.Annotated, odd.Shortest, odd.Unquoted, odd.OneField, odd.Coarse,
		odd.NoLimiting,
		odd.Remote}
	tries := map[string]odd.Oddities{"all at once": all}
	for _, k := range odd.List() {
		tries[string(k.Name)] = odd.Oddities{k.Name}
	}
	for name, o := range tries {
		for _, kind := range []string{"scpi supply", "scpi meter", "scpi relays"} {
			if o.Has(odd.Slow) && kind == "scpi relays" {
				continue // a board of contacts takes its time anyway
			}
			t.Run(name+", "+kind, func(t *testing.T) {
				suite.Run(t, func(t *testing.T) suite.Subject {
					p := load(t, kind)
					suits(p, o)
					f, x := putUp(t, p, &oddFake{scpiFake: scpiFake{id: "BENCH,ODD,2,1.0"}, odd: o}, nil)
					return suite.Subject{Clock: f.c, Control: f, Meter: x.Meter, Supply: x.Supply, Relays: x.Relays,
						Timeout: p.Timeout(), Takes: o.Takes()}
				})
			})
		}
	}
}

// Over a line with faults no oddity lets more wrong values pass than the usual
// instrument's own form does: a byte that was lost is seen in shortest form, too, and
// an annotation or a prompt makes a spoiled reply easier to tell.
func TestFaultsOnOddInstruments(t *testing.T) {
	rate := map[string]float64{}
	for _, name := range []odd.Name{"", odd.Shortest, odd.Prompt, odd.Annotated, odd.OneField, odd.NoLimiting} {
		for _, kind := range []profile.Kind{profile.MeterKind, profile.SupplyKind} {
			called := "scpi " + string(kind)
			t.Run(strings.TrimSpace(called+" "+string(name)), func(t *testing.T) {
				p, o := load(t, called), odd.Oddities{name}
				suits(p, o)
				inject := newInjector(20261127, 0.1, p.Timeout())
				f, x := putUp(t, p, &oddFake{scpiFake: scpiFake{id: "BENCH,ODD,2,1.0"}, odd: o}, inject)
				r := &run{t: t, tally: tally{after: map[string]int{}}, f: f, x: x, rng: rand.New(rand.NewPCG(11, 27)),
					bound: 20*p.Timeout() + time.Second}
				for r.asked < exchanges() {
					r.step(kind)
				}
				r.report(nil)
				if r.wrongSets+r.wrongOffs > 0 || r.good == 0 {
					t.Errorf("%d good, %d wrong settings, %d wrong offs", r.good, r.wrongSets, r.wrongOffs)
				}
				rate[called+string(name)] = float64(r.wrong) / float64(r.asked)
				// A draw of a tenth of the runs' size more is chance.
				if usual := rate[called]; rate[called+string(name)] > 2*usual+0.005 {
					t.Errorf("%.4f of the replies are wrong and accepted, %.4f of a usual instrument's: %s",
						rate[called+string(name)], usual, r.firstWrong)
				}
				f.HangUp()
				_ = f.c.Wait(context.Background(), nil, f.c.Now().Add(10*time.Second))
			})
		}
	}
}
