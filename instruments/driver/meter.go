package driver

import (
	"context"
	"fmt"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
)

// Meter is a meter that is asked.
type Meter struct {
	base
	m    *profile.Meter
	lock clock.Lock // over configuring and reading

	// guarded by lock
	function instruments.Quantity
	fixed    map[instruments.Quantity]instruments.Range
	rests    time.Time // a reading may begin; zero: at once
}

var (
	_ instruments.Meter      = (*Meter)(nil)
	_ instruments.Identifier = (*Meter)(nil)
	_ instruments.Ranger     = (*Meter)(nil)
	_ instruments.Describer  = (*Meter)(nil)
)

func (m *Meter) functionOf(q instruments.Quantity) (*profile.MeterFunction, error) {
	var f *profile.MeterFunction
	switch q {
	case instruments.Current:
		f = &m.m.Current
	case instruments.Voltage:
		f = &m.m.Voltage
	}
	if f == nil || !f.Read.Given() {
		return nil, fmt.Errorf("%s: profile %q can't read %q", m.name, m.profile.Name, q)
	}
	return f, nil
}

// Read asks for one reading and waits for it.
func (m *Meter) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	f, err := m.functionOf(q)
	if err != nil {
		return instruments.Reading{}, err
	}
	if err := m.lock.Acquire(ctx, m.clk, time.Time{}); err != nil {
		return instruments.Reading{}, err
	}
	defer m.lock.Release(m.clk)
	if err := m.configure(ctx, q, f); err != nil {
		return instruments.Reading{}, err
	}
	if m.rests.After(m.clk.Now()) {
		if err := m.clk.Wait(ctx, nil, m.rests); err != nil {
			return instruments.Reading{}, err
		}
	}
	if m.m.FromMemory {
		// What it hands out may have begun before we were called: wait until
		// one reading has begun and ended since.
		if err := m.clk.Wait(ctx, nil, m.clk.Now().Add(2*m.profile.Window())); err != nil {
			return instruments.Reading{}, err
		}
	}
	a, err := m.proto.Ask(ctx, "read "+string(q), &f.Read, profile.Args{}, false)
	if err != nil {
		return instruments.Reading{}, err
	}
	if r, ok := m.fixed[q]; ok {
		return m.reading(q, a, &r)
	}
	return m.reading(q, a, nil)
}

// configure chooses the quantity where the meter measured another one, and its
// range once more: choosing the quantity gives the choice of range back.
func (m *Meter) configure(ctx context.Context, q instruments.Quantity, f *profile.MeterFunction) error {
	if m.function == q {
		return nil
	}
	m.function = ""
	if f.Configure.Given() {
		op := "choose " + string(q)
		if err := m.proto.Tell(ctx, op, &f.Configure, profile.Args{}, false); err != nil {
			return err
		}
		if err := m.proto.Check(ctx, op); err != nil {
			return err
		}
	}
	if r, ok := m.fixed[q]; ok {
		if err := m.fix(ctx, f, r); err != nil {
			return err
		}
	} else {
		m.settles()
	}
	m.function = q
	return nil
}

// FixRange fixes the smallest range that holds peak (SI). peak <= 0 gives the
// choice back to the meter.
func (m *Meter) FixRange(ctx context.Context, q instruments.Quantity, peak float64) (instruments.Range, error) {
	f, err := m.functionOf(q)
	if err != nil {
		return instruments.Range{}, err
	}
	if err := m.lock.Acquire(ctx, m.clk, time.Time{}); err != nil {
		return instruments.Range{}, err
	}
	defer m.lock.Release(m.clk)
	if peak <= 0 {
		return instruments.Range{}, m.auto(ctx, q, f)
	}
	ranges := m.profile.RangesOf(q)
	want, ok := holding(ranges, peak)
	if !ok {
		return instruments.Range{}, fmt.Errorf("%s: no range holds %.4g %s; the largest is %.4g %s", m.name, peak,
			q.Unit(), largest(ranges), q.Unit())
	}
	if !f.Fix.Given() && len(ranges) == 1 {
		return want, nil // it has no other
	}
	if !f.Fix.Given() {
		return want, fmt.Errorf("%s: %w: the profile can't fix a range; fix %s by its key", m.name,
			instruments.ErrNotSet, want.Name)
	}
	if old, ok := m.fixed[q]; ok && old == want && m.function == q {
		return want, nil
	}
	delete(m.fixed, q)
	if err := m.configure(ctx, q, f); err != nil {
		return instruments.Range{}, notSet(err)
	}
	if err := m.fix(ctx, f, want); err != nil {
		return instruments.Range{}, err
	}
	m.fixed[q] = want
	return want, nil
}

func (m *Meter) fix(ctx context.Context, f *profile.MeterFunction, want instruments.Range) error {
	op := "fix range " + want.Name
	ask := ""
	for _, r := range m.profile.Ranges {
		if r.SI() == want {
			ask = r.Ask
		}
	}
	if err := m.proto.Tell(ctx, op, &f.Fix, profile.Args{Range: ask}, false); err != nil {
		return notSet(err)
	}
	if err := m.proto.Check(ctx, op); err != nil {
		return notSet(err)
	}
	if f.GetRange.Given() {
		err := confirmed(ctx, func() error {
			a, err := m.proto.Ask(ctx, op+": read back", &f.GetRange, profile.Args{}, false)
			if err != nil {
				return err
			}
			// Some answer with the nominal end of the range, some with its true end.
			got, ok := holding(m.profile.RangesOf(want.Quantity), a.Number.Value*0.999)
			if a.Number.Mark != Finite || !ok || got != want {
				m.proto.Doubt()
				return fmt.Errorf("%s: %s: %w: the meter says %q", m.name, op, instruments.ErrNotSet, a.Raw)
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	m.settles()
	return nil
}

func (m *Meter) auto(ctx context.Context, q instruments.Quantity, f *profile.MeterFunction) error {
	if _, was := m.fixed[q]; !was && m.function == q {
		return nil
	}
	delete(m.fixed, q)
	if f.Auto.Given() {
		if err := m.proto.Tell(ctx, "free range", &f.Auto, profile.Args{}, false); err != nil {
			return notSet(err)
		}
		if err := m.proto.Check(ctx, "free range"); err != nil {
			return notSet(err)
		}
		m.settles()
		return nil
	}
	m.function = "" // choosing the quantity anew frees the range
	return m.configure(ctx, q, f)
}

// settles says that what was chosen now has to come to rest before the next reading; the supply
// may be set meanwhile.
func (m *Meter) settles() {
	if m.m.SettlingMs > 0 {
		m.rests = m.clk.Now().Add(time.Duration(m.m.SettlingMs * float64(time.Millisecond)))
	}
}

func holding(ranges []instruments.Range, peak float64) (instruments.Range, bool) {
	for _, r := range ranges {
		if peak <= r.Max {
			return r, true
		}
	}
	return instruments.Range{}, false
}
