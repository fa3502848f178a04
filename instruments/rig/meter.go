package rig

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// meter integrates the current in the plus lead, or the voltage at the jack.
type meter struct {
	device
	o    MeterOptions
	m    *model
	rand *rand.Rand

	function instruments.Quantity
	ranges   map[instruments.Quantity][]instruments.Range
	errs     map[string]deviation // by range name
	at       map[instruments.Quantity]int
	auto     map[instruments.Quantity]bool
	window   time.Duration
	lastFrom time.Time // start of the last reading
	pending  *window   // INIT was sent
	memory   string    // what FETC? hands out; empty is stale
}

const (
	overload = "+9.90000000E+37" // SCPI-1999 volume 1, 7.2.1.4
	plc      = 20 * time.Millisecond
	downAt   = 0.9 // of the range below, at which automatic choice goes down
	// peakRoom is how far above its range the converter can follow; what lies
	// above spoils the mean.
	peakRoom = 1.2
)

func newMeter(c clock.Clock, o Options, m *model, r *rand.Rand) *meter {
	d := &meter{device: device{c: c, name: Meter, opt: o.Meter.LineOptions}, o: o.Meter, m: m, rand: r,
		ranges: map[instruments.Quantity][]instruments.Range{}, errs: map[string]deviation{},
		at: map[instruments.Quantity]int{}, auto: map[instruments.Quantity]bool{}}
	if o.Exact {
		d.o.NoiseSteps = 0
	}
	for _, g := range o.Meter.Ranges {
		d.ranges[g.Quantity] = append(d.ranges[g.Quantity], g)
		// Room for half a count of rounding and a count of noise.
		e := drawn(r, g.Accuracy, 1.5*g.Resolution)
		if o.Exact {
			e = deviation{}
		}
		fix(&e.gain, o.Meter.Gain)
		fix(&e.offset, o.Meter.OffsetSI)
		d.errs[g.Name] = e
	}
	d.defaults()
	d.setBurden()
	d.addCommon(fmt.Sprintf("SIMULATED BENCH,METER,SN%06d,1.0", r.IntN(1e6)), d.reset)
	d.addCommands()
	return d
}

func (d *meter) defaults() {
	d.function, d.window, d.memory = instruments.Current, d.o.Window, ""
	for q, g := range d.ranges {
		d.at[q], d.auto[q] = len(g)-1, true
	}
}

func (d *meter) reset() {
	d.abort()
	d.defaults()
	d.setBurden()
}

// setBurden puts the shunt of the chosen current range into the loop.
func (d *meter) setBurden() {
	if g := d.ranges[instruments.Current]; len(g) > 0 {
		ohm := g[d.at[instruments.Current]].BurdenOhm
		d.m.change(d.c.Now(), func() { d.m.burden = ohm })
	}
}

func (d *meter) setRange(q instruments.Quantity, i int) {
	if d.at[q] != i {
		d.at[q] = i
		if q == instruments.Current {
			d.setBurden()
		}
	}
}

func (d *meter) abort() {
	if d.pending != nil {
		d.m.drop(d.pending)
		d.pending = nil
	}
}

// begin starts a window, not sooner than the meter's own pace allows.
func (d *meter) begin() {
	start := later(d.c.Now(), d.lastFrom.Add(d.o.Interval))
	d.lastFrom = start
	d.pending = d.m.open(start, start.Add(d.window))
}

// finish waits for the window under way and puts the reading into the memory.
// Automatic choice takes further windows until the range fits.
func (d *meter) finish(ctx context.Context) error {
	for {
		w := d.pending
		if err := d.c.Wait(ctx, nil, w.end); err != nil {
			d.abort()
			return err
		}
		d.m.done(w)
		d.pending = nil
		q := d.function
		mean, peak := w.mean(w.amps), w.peakA
		if q == instruments.Voltage {
			mean = w.mean(w.jack)
			peak = mean
		}
		ranges, i := d.ranges[q], d.at[q]
		over := mean > ranges[i].Max || peak > peakRoom*ranges[i].Max
		next := i
		switch {
		case !d.auto[q]:
		case over && i+1 < len(ranges):
			next = i + 1
		case !over && i > 0 && mean < downAt*ranges[i-1].Max && peak < ranges[i-1].Max:
			next = i - 1
		}
		if next != i {
			d.setRange(q, next)
			d.begin()
			continue
		}
		if over {
			d.memory = overload
			return nil
		}
		d.memory = d.shown(mean, ranges[i])
		return nil
	}
}

// shown is the true mean as this meter shows it.
func (d *meter) shown(mean float64, g instruments.Range) string {
	v := d.errs[g.Name].of(mean)
	if d.o.NoiseSteps > 0 {
		noise := d.rand.NormFloat64() * d.o.NoiseSteps
		v += min(1, max(-1, noise)) * g.Resolution
	}
	v = math.Round(v/g.Resolution) * g.Resolution
	if v == 0 {
		v = 0 // no minus zero
	}
	return fmt.Sprintf("%+.6E", v)
}

func (d *meter) read(ctx context.Context) (string, error) {
	d.abort()
	d.begin()
	if err := d.finish(ctx); err != nil {
		return "", err
	}
	return d.memory, nil
}

// configure sets function and range: an expected value, or automatic.
func (d *meter) configure(q instruments.Quantity, args []string) error {
	if len(args) > 2 {
		return errNotAllowed
	}
	if len(d.ranges[q]) == 0 {
		return errHardwareMissing
	}
	auto := len(args) == 0
	i := len(d.ranges[q]) - 1
	if !auto {
		switch strings.ToUpper(args[0]) {
		case "AUTO", "DEF", "DEFAULT":
			auto = true
		default:
			var err error
			if i, err = d.rangeFor(q, args[0]); err != nil {
				return err
			}
		}
	}
	d.abort()
	d.function, d.memory = q, ""
	d.auto[q] = auto
	if !auto {
		d.setRange(q, i)
	}
	return nil
}

// rangeFor finds the least range that holds a value.
func (d *meter) rangeFor(q instruments.Quantity, arg string) (int, error) {
	g := d.ranges[q]
	v, err := number(arg, q.Unit(), 0, g[len(g)-1].Max, g[len(g)-1].Max)
	if err != nil {
		return 0, err
	}
	for i := range g {
		if v <= g[i].Max {
			return i, nil
		}
	}
	return len(g) - 1, nil
}

func (d *meter) addCommands() {
	for _, q := range []instruments.Quantity{instruments.Current, instruments.Voltage} {
		word := map[instruments.Quantity]string{instruments.Current: "CURRent", instruments.Voltage: "VOLTage"}[q]
		d.add("CONFigure[:SCALar]:"+word+"[:DC]",
			func(_ context.Context, args []string) error { return d.configure(q, args) }, nil)
		d.add("MEASure[:SCALar]:"+word+"[:DC]", nil, func(ctx context.Context, args []string) (string, error) {
			if err := d.configure(q, args); err != nil {
				return "", err
			}
			return d.read(ctx)
		})
		d.addRange(q, "[SENSe]:"+word+"[:DC]")
	}
	d.add("CONFigure", nil, func(_ context.Context, args []string) (string, error) {
		word := map[instruments.Quantity]string{instruments.Current: "CURR", instruments.Voltage: "VOLT"}[d.function]
		g := d.ranges[d.function][d.at[d.function]]
		return fmt.Sprintf("\"%s %.6E,%.6E\"", word, g.Max, g.Resolution), none(args)
	})
	d.add("READ", nil, func(ctx context.Context, args []string) (string, error) {
		if err := none(args); err != nil {
			return "", err
		}
		return d.read(ctx)
	})
	d.add("INITiate[:IMMediate]", func(_ context.Context, args []string) error {
		if err := none(args); err != nil {
			return err
		}
		d.abort()
		d.memory = ""
		d.begin()
		return nil
	}, nil)
	d.add("FETCh", nil, func(ctx context.Context, args []string) (string, error) {
		if err := none(args); err != nil {
			return "", err
		}
		if d.pending != nil {
			if err := d.finish(ctx); err != nil {
				return "", err
			}
		}
		if d.memory == "" {
			return "", errStale
		}
		return d.memory, nil
	})
	d.add("ABORt", func(_ context.Context, args []string) error {
		d.abort()
		return none(args)
	}, nil)
	d.add("SYSTem:REMote", func(_ context.Context, args []string) error { return none(args) }, nil)
	d.add("SYSTem:LOCal", func(_ context.Context, args []string) error { return none(args) }, nil)
}

// addRange puts in range, automatic choice and integration time of a function.
func (d *meter) addRange(q instruments.Quantity, head string) {
	d.add(head+":RANGe[:UPPer]", func(_ context.Context, args []string) error {
		a, err := one(args)
		if err != nil {
			return err
		}
		i, err := d.rangeFor(q, a)
		if err != nil {
			return err
		}
		d.abort()
		d.memory = ""
		d.auto[q] = false
		d.setRange(q, i)
		return nil
	}, func(_ context.Context, args []string) (string, error) {
		return fmt.Sprintf("%+.6E", d.ranges[q][d.at[q]].Max), none(args)
	})
	d.add(head+":RANGe:AUTO", func(_ context.Context, args []string) error {
		a, err := one(args)
		if err != nil {
			return err
		}
		on, err := boolean(a)
		if err != nil {
			return err
		}
		d.auto[q] = on
		return nil
	}, func(_ context.Context, args []string) (string, error) { return onOff(d.auto[q]), none(args) })
	timing := func(header, unit string, step time.Duration, lo, hi float64) {
		d.add(head+header, func(_ context.Context, args []string) error {
			a, err := one(args)
			if err != nil {
				return err
			}
			v, err := number(a, unit, lo, hi, d.o.Window.Seconds()/step.Seconds())
			if err != nil {
				return err
			}
			d.abort()
			d.window = time.Duration(math.Round(v * float64(step)))
			return nil
		}, func(_ context.Context, args []string) (string, error) {
			return fmt.Sprintf("%+.6E", d.window.Seconds()/step.Seconds()), none(args)
		})
	}
	timing(":NPLCycles", "", plc, 0.05, 100)
	timing(":APERture", "S", time.Second, 0.001, 2)
}
