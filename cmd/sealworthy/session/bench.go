package session

import (
	"cmp"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/byhand"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/plainfile"
	"sealworthy/instruments/wire"
)

// World is where instruments are opened and time comes from: the machine's own
// ports and clock, or a simulated bench.
type World struct {
	Clock clock.Clock
	Open  instruments.Opener // opens a port by its name
	// Others lists the ports where an instrument that was pulled may be now; nil:
	// those that the system lists.
	Others func() []string
}

// Machine is the world of this computer.
func Machine() World {
	c := clock.Wall{}
	return World{Clock: c, Open: wire.Serial(c, nil, nil)}
}

// BenchFile is the name of a build's bench.
const BenchFile = "bench.toml"

// mostBench is the longest bench that is read, bytes: some three thousand relays. What a
// mistake makes of it is longer, and finding all that is wrong with that takes minutes.
const mostBench = 128 << 10

// ReadBench reads the bench.toml of a folder; without one it's a bench of nothing.
func ReadBench(dir string) (*bench.Config, error) {
	file := filepath.Join(dir, BenchFile)
	src, err := plainfile.Read(file, mostBench)
	if errors.Is(err, os.ErrNotExist) {
		return bench.Default(), nil
	}
	if err != nil {
		return nil, err
	}
	return bench.Parse(file, src)
}

// LeadsOf are the leads that a bench states.
func LeadsOf(c *bench.Config) compare.Leads {
	return compare.Leads{Ohm: c.Leads.Ohms, HalfOhm: c.Leads.HalfWidthOhm}
}

// The instruments of a bench, as bench.Opened names them.
const (
	theSupply = "supply"
	theMeter  = "meter"
	theRelays = "relays"
)

// Bench is a bench that is open, with what is known of it.
type Bench struct {
	capture.Bench
	Leads  compare.Leads
	Window time.Duration // of one reading of the meter; 0: not known
	MaxA   float64       // of the supply; 0: not known

	opened map[string]*bench.Opened // by "supply", "meter", "relays"
	at     map[string]string        // the port that each is on now
	again  reopener

	changed   capture.Order // where the record says that another meter was taken; 0: it doesn't
	remetered time.Time     // when another meter took the place of the one before; zero: none did
}

// Who says which instruments stand on the bench, as they call themselves.
func (b *Bench) Who() string {
	var out []string
	for _, which := range []string{theSupply, theMeter, theRelays} {
		if o := b.opened[which]; o != nil && o.Identities[which] != "" {
			out = append(out, which+": "+o.Identities[which])
		}
	}
	return strings.Join(out, "; ")
}

// Simulated tells whether time or an instrument is.
func (b *Bench) Simulated() bool {
	for _, x := range []any{b.Supply, b.Meter, b.Relays} {
		if d, ok := x.(instruments.Describer); ok && d.Describe().Simulated {
			return true
		}
	}
	return b.Clock.Simulated()
}

// byHand: nothing here can switch the supply.
func (b *Bench) byHand() bool {
	_, ok := b.Supply.(*byhand.Supply)
	return ok
}

// Close closes its instruments. It switches nothing.
func (b *Bench) Close() error {
	var errs []error
	for _, o := range b.opened {
		errs = append(errs, o.Close())
	}
	return errors.Join(errs...)
}

// Channels maps terminals and buttons to relays: as bench.toml says, else
// feeds in the order of the plan, then buttons.
func Channels(p *plan.Plan, c *bench.Config) (feeds, buttons map[string]int) {
	feeds, buttons = map[string]int{}, map[string]int{}
	if len(c.Relay) > 0 {
		for _, r := range c.Relay {
			if r.Feed != "" {
				feeds[r.Feed] = r.Channel
			} else {
				buttons[r.Button] = r.Channel
			}
		}
		return feeds, buttons
	}
	n := 0
	for _, t := range wiring.Terminals(p) {
		n++
		feeds[t.Name] = n
	}
	for _, b := range p.Boards {
		if b.Button {
			n++
			buttons[b.Name] = n
		}
	}
	return feeds, buttons
}

// only is what a bench and the command line say of one instrument. Each is
// opened by itself, so that each can be closed and opened again by itself.
func only(cfg *bench.Config, over bench.Overrides, which string) (
	one *bench.Config, overOne bench.Overrides, port string) {
	one, overOne = &bench.Config{}, bench.Overrides{ProfileFolder: over.ProfileFolder}
	switch which {
	case theSupply:
		one.Supply, overOne.SupplyPort = cfg.Supply, over.SupplyPort
		port = cmp.Or(over.SupplyPort, cfg.Supply.Port)
	case theMeter:
		one.Meter, overOne.MeterPort = cfg.Meter, over.MeterPort
		port = cmp.Or(over.MeterPort, cfg.Meter.Port)
	default:
		one.Relays, overOne.RelaysPort = cfg.Relays, over.RelaysPort
		port = cmp.Or(over.RelaysPort, cfg.Relays.Port)
	}
	return one, overOne, port
}

// Why a bench can't be opened.
var (
	ErrNotOpened = errors.New("an instrument can't be opened")
	ErrNoSupply  = errors.New("no supply is named")
)

// notOpened are the errors of the instruments that can't be opened, in their own words.
type notOpened struct{ error }

func (e notOpened) Is(target error) bool { return target == ErrNotOpened }
func (e notOpened) Unwrap() error        { return e.error }

// OpenBench opens what cfg and over name, and switches the supply's output off
// before anything else; f is shown if it was found on. f asks where the maker is
// the instrument. p is what relays switch; nil: nothing.
func OpenBench(ctx context.Context, w World, p *plan.Plan, cfg *bench.Config, over bench.Overrides,
	f capture.Face) (*Bench, error) {
	w.Open = bench.Sharing(w.Open, cfg)
	s := &Bench{opened: map[string]*bench.Opened{}, at: map[string]string{}, Leads: LeadsOf(cfg)}
	var errs []error
	for _, which := range []string{theSupply, theMeter, theRelays} {
		one, overOne, port := only(cfg, over, which)
		o, err := bench.Open(ctx, w.Clock, w.Open, one, overOne)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		s.opened[which], s.at[which] = o, port
	}
	if errs != nil {
		return nil, notOpened{errors.Join(append(errs, s.Close())...)}
	}
	o := bench.Opened{
		Supply: s.opened[theSupply].Supply, Meter: s.opened[theMeter].Meter, Relays: s.opened[theRelays].Relays,
	}
	s.Bench = capture.Bench{
		Clock: w.Clock, Supply: o.Supply, Meter: o.Meter, Relays: o.Relays,
		SupplyName: compare.SupplyName, MeterName: compare.MeterName,
		OutputF: cfg.Supply.OutputUF * 1e-6, MeterFuseAmps: cfg.Meter.FuseAmps,
		Leads:     &capture.Leads{Ohm: cfg.Leads.Ohms, HalfOhm: cfg.Leads.HalfWidthOhm},
		MostVolts: cfg.NeverAbove.Volts, MostAmps: cfg.NeverAbove.Amps,
	}
	switch {
	case o.Supply == nil && cfg.Supply.ByHand:
		s.Supply = &byhand.Supply{Face: f}
	case o.Supply == nil:
		return nil, errors.Join(ErrNoSupply, s.Close())
	}
	found, err := capture.NewGuard(w.Clock).Quiet(ctx, s.Supply)
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	if found {
		f.Show(capture.Event{At: w.Clock.Now(), What: capture.Warning, Text: capture.FoundOn})
	}
	if n, ok := s.Supply.(instruments.Noter); ok {
		for _, note := range n.Notes() {
			f.Show(capture.Event{At: w.Clock.Now(), What: capture.Warning, Text: note})
		}
	}
	if o.Meter == nil && cfg.Meter.Typed {
		s.Meter = &byhand.Meter{Face: f, Clock: w.Clock, JackFuseAmps: cfg.Meter.FuseAmps}
	}
	if o.Relays != nil && p != nil {
		s.Channels, s.Buttons = Channels(p, cfg)
	}
	s.described()
	r := reopener{set: s, w: w, cfg: cfg, over: over}
	s.again = r
	s.ReopenMeter, s.ReopenSupply, s.ReopenRelays = r.meter, r.supply, r.relays
	return s, nil
}

// described takes over what the instruments say of themselves, and has a supply set by hand
// tell its settings with the meter's question only where the meter in use asks one.
func (b *Bench) described() {
	if hand, ok := b.Supply.(*byhand.Supply); ok {
		hand.Meter, _ = b.Meter.(*byhand.Meter)
	}
	if d, ok := b.Meter.(instruments.Describer); ok && b.Meter != nil {
		x := d.Describe()
		b.Window = x.Window
		if b.MeterFuseAmps == 0 {
			b.MeterFuseAmps = x.JackFuseAmps
		}
	}
	if d, ok := b.Supply.(instruments.Describer); ok {
		b.MaxA = d.Describe().MaxAmps
	}
}

// OpenAwake is OpenBench for somebody who is there: an instrument that says
// nothing is asleep or switched off more often than not, so it is asked for and
// tried again.
func OpenAwake(ctx context.Context, w World, p *plan.Plan, cfg *bench.Config, over bench.Overrides,
	f capture.Face, g *capture.Guard) (*Bench, error) {
	for {
		s, err := OpenBench(ctx, w, p, cfg, over, f)
		if err == nil || !errors.Is(err, instruments.ErrNoReply) || nobody(f) {
			return s, err
		}
		asking, done := g.Context(ctx) // a signal ends the question
		a, aerr := f.Ask(asking, capture.Question{
			Kind: capture.AskPlug, Text: err.Error() + ". When it is ready, it is tried again.",
			Choices: []string{"done", "stop"},
		})
		done()
		switch {
		case GivenUp(aerr): // whichever is there now is tried
		case aerr != nil:
			return nil, aerr
		case a.Choice == "stop":
			return nil, err
		}
	}
}

// nobody: questions have nobody to go to.
func nobody(f capture.Face) bool {
	n, ok := f.(interface{ Nobody() bool })
	return ok && n.Nobody()
}
