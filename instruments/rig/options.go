package rig

import (
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/rig/odd"
)

// The names of the instruments of a bench.
const (
	Supply = "supply"
	Meter  = "meter"
	Relays = "relays"
)

// Options says what bench to put up. The zero Options is a usable bench; each
// zero field takes the default named beside it. All defaults are invented: they
// are those of ordinary bench gear, of no maker.
type Options struct {
	Seed        uint64 // draws every gain, offset and noise
	MemoryPorts bool   // no pty: ports that only Opener of the same bench opens
	// Folder gets a link to each instrument's pty, named as the instrument. It is the
	// name of the port then, and stays the same when the instrument is plugged in
	// again. "": the ptys' own names, which the system gives anew each time.
	Folder   string
	AmbientC float64
	LeadsOhm float64  // both leads and clips together; 0.1; negative is none
	Buttons  []string // boards whose button a relay can press
	// Channels maps a relay channel to a terminal. Default: channel i+1 is
	// terminal i of Load.Terminals.
	Channels map[int]string
	// ButtonChannels maps a relay channel to a button. Default: the channels
	// after the last terminal, in the order of Buttons.
	ButtonChannels map[int]string
	// Exact makes every instrument right: no gain error, offset or noise. Only
	// the resolution is left.
	Exact bool
	// StrictLine garbles what goes to and comes from a driver that Opener gave a
	// line other than the instrument's, as a wrong speed does.
	StrictLine bool

	Supply SupplyOptions // of the supply alone
	Meter  MeterOptions  // of the meter alone
	Relays RelayOptions  // of the relay board alone
}

// LineOptions is the serial side of an instrument.
type LineOptions struct {
	Line  instruments.Line // 9600 8N1
	End   string           // what ends a reply: "\n"
	Echo  bool             // sends back each byte that it gets
	Chunk int              // bytes that an adapter hands over at once: 16
	Odd   odd.Oddities     // ways in which it differs from the usual instrument
	// Name of the memory port: "memory:meter" and so on. A pty is named by the system.
	Name string
}

// SupplyOptions is the supply.
type SupplyOptions struct {
	LineOptions
	MaxVolts, MaxAmps    float64              // 30 V, 3 A
	VoltStep, AmpStep    float64              // resolution of setting: 10 mV, 1 mA
	SetVolts, SetAmps    instruments.Accuracy // 0.05 % + 10 mV, 0.2 % + 3 mA
	ReadVolts, ReadAmps  instruments.Accuracy // 0.05 % + 10 mV, 0.2 % + 3 mA
	ReadVoltStep         float64              // 10 mV
	ReadAmpStep          float64              // 1 mA
	Slew                 time.Duration        // time constant of the output: 5 ms; negative is none
	OutputF              float64              // output capacitor, farads; 0 is none
	Window               time.Duration        // of a read-back: 20 ms
	NeedsRemote          bool                 // refuses settings before SYST:REM
	VoltGain, VoltOffset *float64             // fixed set errors; nil draws them
	AmpGain, AmpOffset   *float64             // fixed read-back errors of current; nil draws them
}

// MeterOptions is the meter.
type MeterOptions struct {
	LineOptions
	Window time.Duration // integration time of one reading: 100 ms
	// Interval is the least time between the starts of two readings; 0: one
	// follows the other.
	Interval   time.Duration
	Ranges     []instruments.Range // current and voltage; see DefaultRanges
	NoiseSteps float64             // standard deviation in counts: 0.25; negative is none
	FuseAmps   float64             // 2 A; negative is none
	Gain       *float64            // fixed, for every range; nil draws one for each
	OffsetSI   *float64            // fixed; nil draws one for each range
}

// RelayOptions is the relay board.
type RelayOptions struct {
	LineOptions
	Operate time.Duration // until a contact has settled: 5 ms; negative is none
	// ResetOnOpen opens all contacts whenever Opener opens the port, as boards do
	// whose processor is reset by DTR. Another process's opening is not seen.
	ResetOnOpen bool
}

// DefaultRanges is an ordinary bench meter's: current by shunt with its burden,
// and voltage. Invented data.
func DefaultRanges() []instruments.Range {
	cur := func(name string, max, step, burden float64) instruments.Range {
		return instruments.Range{Name: name, Quantity: instruments.Current, Max: max, Resolution: step,
			BurdenOhm: burden,
			Accuracy:  instruments.Accuracy{OfReading: 0.002, Floor: 5 * step}}
	}
	volt := func(name string, max, step float64) instruments.Range {
		return instruments.Range{Name: name, Quantity: instruments.Voltage, Max: max, Resolution: step,
			Accuracy: instruments.Accuracy{OfReading: 0.001, Floor: 5 * step}}
	}
	return []instruments.Range{
		cur("20 mA", 0.022, 1e-6, 5), cur("200 mA", 0.22, 10e-6, 1), cur("2 A", 2.2, 100e-6, 0.1),
		volt("2 V", 2.2, 100e-6), volt("20 V", 22, 1e-3), volt("200 V", 220, 10e-3),
	}
}

func orDuration(d *time.Duration, v time.Duration) {
	if *d == 0 {
		*d = v
	} else if *d < 0 {
		*d = 0
	}
}

func orFloat(f *float64, v float64) {
	if *f == 0 {
		*f = v
	} else if *f < 0 {
		*f = 0
	}
}

func orAccuracy(a *instruments.Accuracy, ofReading, floor float64) {
	if *a == (instruments.Accuracy{}) {
		*a = instruments.Accuracy{OfReading: ofReading, Floor: floor}
	}
}

// filled gives the options with every default put in.
func (o Options) filled(terminals []string) Options {
	orFloat(&o.LeadsOhm, 0.1)
	if o.Channels == nil {
		o.Channels = map[int]string{}
		for i, t := range terminals {
			o.Channels[i+1] = t
		}
	}
	if o.ButtonChannels == nil {
		o.ButtonChannels = map[int]string{}
		for i, b := range o.Buttons {
			o.ButtonChannels[len(terminals)+1+i] = b
		}
	}
	s := &o.Supply
	orFloat(&s.MaxVolts, 30)
	orFloat(&s.MaxAmps, 3)
	orFloat(&s.VoltStep, 0.01)
	if s.Odd.Has(odd.Coarse) {
		orFloat(&s.AmpStep, odd.CoarseA)
	}
	s.NeedsRemote = s.NeedsRemote || s.Odd.Has(odd.Remote)
	orFloat(&s.AmpStep, 0.001)
	orFloat(&s.ReadVoltStep, 0.01)
	orFloat(&s.ReadAmpStep, 0.001)
	orAccuracy(&s.SetVolts, 0.0005, 0.01)
	orAccuracy(&s.SetAmps, 0.002, 0.003)
	orAccuracy(&s.ReadVolts, 0.0005, 0.01)
	orAccuracy(&s.ReadAmps, 0.002, 0.003)
	orDuration(&s.Slew, 5*time.Millisecond)
	orDuration(&s.Window, 20*time.Millisecond)
	m := &o.Meter
	orDuration(&m.Window, 100*time.Millisecond)
	orFloat(&m.NoiseSteps, 0.25)
	orFloat(&m.FuseAmps, 2)
	if len(m.Ranges) == 0 {
		m.Ranges = DefaultRanges()
	}
	orDuration(&o.Relays.Operate, 5*time.Millisecond)
	for name, l := range map[string]*LineOptions{Supply: &s.LineOptions, Meter: &m.LineOptions,
		Relays: &o.Relays.LineOptions} {
		if l.Line.Baud == 0 {
			l.Line = instruments.Line{Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1}
		}
		if l.End == "" {
			l.End = "\n"
		}
		if l.Chunk <= 0 {
			l.Chunk = 16
		}
		if l.Name == "" {
			l.Name = "memory:" + name
		}
	}
	return o
}
