package profile

import (
	"strings"

	"sealworthy/instruments"
)

func (c check) supply(s *Supply) {
	for _, x := range []struct {
		path         string
		p            *Point
		asks, needed bool
	}{
		{"set_volts", &s.SetVolts, false, true}, {"set_amps", &s.SetAmps, false, true},
		{"get_volts", &s.GetVolts, true, true}, {"get_amps", &s.GetAmps, true, true},
		{"on", &s.On, false, true}, {"off", &s.Off, false, true}, {"get_output", &s.GetOutput, true, true},
		{"measure_volts", &s.MeasureVolts, true, true}, {"measure_amps", &s.MeasureAmps, true, true},
		{"limiting", &s.Limiting, true, false},
		{"protect_volts", &s.ProtectVolts, false, false}, {"protect_amps", &s.ProtectAmps, false, false},
		{"watchdog", &s.Watchdog, false, false}, {"get_watchdog", &s.GetWatchdog, true, false},
		{"get_protect_volts", &s.GetProtectV, true, false}, {"get_protect_amps", &s.GetProtectA, true, false},
	} {
		c.point("supply."+x.path, x.p, x.asks, x.needed)
		for _, of := range []string{"volts", "amps"} {
			if strings.HasSuffix(x.path, of) && !x.asks {
				x.p.Of = of
			}
		}
		if x.asks {
			x.p.Unit = unitOf(x.path)
		}
	}
	s.Watchdog.Of = "seconds"
	def(&s.WatchdogS, defaultWatchdogS)
	c.within("supply.watchdog_s", s.WatchdogS, leastWatchdogS, 3600)
	for _, pair := range []struct {
		path     string
		set, get Point
	}{{"watchdog", s.Watchdog, s.GetWatchdog}, {"protect_volts", s.ProtectVolts, s.GetProtectV},
		{"protect_amps", s.ProtectAmps, s.GetProtectA}} {
		if pair.set.Given() && !pair.get.Given() {
			c.f.Add("supply."+pair.path, "a setting must be read back", "write get_"+pair.path+" as well")
		}
	}
	s.StepVolts = c.step("step_volts", s.StepVolts, s.SetVolts, "volts")
	s.StepAmps = c.step("step_amps", s.StepAmps, s.SetAmps, "amps")
	if !(s.MaxVolts > 0) || !(s.MaxAmps > 0) {
		c.f.Add("supply", "the most that the supply gives is missing", "write max_volts = 30.0 and max_amps = 3.0")
	}
	c.within("supply.integration_ms", s.IntegrationMs, 0, 60_000)
	c.within("supply.settling_ms", s.SettlingMs, 0, 60_000)
	c.within("supply.set_percent", s.SetPercent, 0, 100)
	c.within("supply.set_floor_volts", s.SetFloorVolts, 0, 10)
	c.within("supply.limit_percent", s.LimitPercent, 0, 100)
	c.within("supply.limit_floor_amps", s.LimitFloor, 0, 10)
}

// A watchdog must bear the longest pause between two questions to the supply while
// its output is on, a slow one's and a reading's retries counted in.
const (
	defaultWatchdogS = 30
	leastWatchdogS   = 15
)

// unitOf is the SI unit that a point of a supply is answered in, by its key.
func unitOf(key string) string {
	switch {
	case strings.HasSuffix(key, "_volts"):
		return instruments.Voltage.Unit()
	case strings.HasSuffix(key, "_amps"):
		return instruments.Current.Unit()
	}
	return ""
}

// step is the setting resolution: as given, or what the command can carry.
func (c check) step(key string, given float64, p Point, name string) float64 {
	if given > 0 {
		return given
	}
	if given < 0 {
		c.f.Add("supply."+key, "a step must be above 0", "write the setting resolution, as 0.01")
	}
	if p.Register != nil {
		return p.Scale
	}
	if s := step(p.Send, name); s > 0 {
		return s
	}
	return 0.001
}
