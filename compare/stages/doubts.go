package stages

import (
	"cmp"
	"math"
	"slices"

	"sealworthy/compare"
)

// What is not known of two readings; half-widths taken as rectangular, but for
// the first, which is a standard deviation. Common practice, no source. What isn't known of
// a supply and a room is the scene's.
const (
	sameMeterRel   = 0.0005 // one meter in one range against itself
	readBackV      = 0.002  // one supply's read-back against itself
	closedK        = 2.0    // warmer inside once a part is closed over it
	tempcoRel      = 0.3    // of the plan's temperature coefficients
	curveRel       = 0.1    // of the plan's slope over volts and ohms
	clipOhm        = 0.020  // clips and plug put on anew, one bench
	otherOhm       = 0.100  // another bench with leads of its own, a plug that has aged
	warmRel        = 0.015  // by how much a draw may creep while it warms up
	warmFast       = 60.0   // s, time constants of that
	warmSlow       = 600.0  // s
	ageRelPerYear  = 0.003  // of the draw: forward voltages creep up
	boardRel       = 0.005  // of a board's step against itself, standard deviation
	secondsPerYear = 365.25 * 86400
)

// What doubts are called.
const (
	doubtScatter = "scatter of the readings"
	doubtMeter   = "the meter"
	doubtMeters  = "two meters"
	doubtVolts   = "voltage at the jack"
	doubtRoom    = "room temperature"
	doubtRoomUnk = "room temperature, not noted"
	doubtClip    = "clips, plug and leads"
	doubtWarm    = "warming up"
	doubtAge     = "age"
	doubtBoard   = "the board's own"
)

// doubts lists what the difference of a part is uncertain by.
func (p *pair) doubts(x Part, scale float64, of func([]float64) float64, base bool) []Doubt {
	var out []Doubt
	add := func(what string, u float64) {
		if u = math.Abs(u); u > 0 {
			out = append(out, Doubt{what, u})
		}
	}
	rect := func(half float64) float64 { return half / math.Sqrt(3) }
	amps := math.Max(math.Abs(x.NowA), math.Abs(x.BeforeA))
	ratio := 1.0
	if x.BeforeA > 0 {
		ratio = x.ExpectedA / x.BeforeA
	}
	add(doubtScatter, math.Hypot(ratio*x.BeforeU, x.NowU))
	if sameMeter(p.before, p.now) {
		res := 0.0
		if g, ok := p.now.rangeInUse(); ok {
			res = g.Resolution
		}
		add(doubtMeter, math.Hypot(sameMeterRel*amps, res*math.Sqrt(2.0/12)))
	} else {
		what := doubtMeters
		if p.now.MeterIs.Identity == "" || p.before.MeterIs.Identity == "" {
			what = "meters that don't say which they are"
		} else if p.now.MeterIs.Identity == p.before.MeterIs.Identity {
			what = "two ranges of the meter"
		}
		add(what, rect(math.Hypot(p.before.meterHalf(x.BeforeA, base), p.now.meterHalf(x.NowA, base))))
	}
	if !base {
		add(doubtBoard, boardRel*amps)
	}
	add(doubtVolts, scale*of(p.perVolt)*p.voltsU())
	add(doubtVolts+", by the plan's slope", scale*curveRel*of(p.atVolts))
	add("burden and leads, by the plan's slope", scale*curveRel*of(p.atOhms))
	room, what := rect(math.Max(p.before.RoomOr().HalfC, p.now.RoomOr().HalfC)), doubtRoomUnk
	if p.before.Room != nil && p.now.Room != nil {
		what = doubtRoom
	}
	if open(p.before.Stage) != open(p.now.Stage) {
		room = math.Hypot(room, rect(closedK))
	}
	add(what, scale*of(p.perKelvin)*room)
	add(doubtRoom+", by the plan's coefficient", scale*tempcoRel*of(p.atKelvin))
	ohms := clipOhm
	if !sameBench(p.before, p.now) {
		ohms = otherOhm
	}
	own := rect(ohms)
	if p.before.LeadsHalfOhm != p.now.LeadsHalfOhm || ohms == otherOhm {
		own = math.Hypot(own, rect(math.Hypot(p.before.LeadsHalfOhm, p.now.LeadsHalfOhm)))
	}
	add(doubtClip, scale*of(p.perOhm)*own)
	add(doubtWarm, rect(warmRel)*amps*math.Max(warming(p.before.OnS, p.now.OnS),
		warming(p.before.warmest(), p.now.warmest())))
	add(doubtAge, rect(ageRelPerYear)*amps*math.Abs(p.now.At.Sub(p.before.At).Seconds())/secondsPerYear)
	slices.SortStableFunc(out, func(a, b Doubt) int { return cmp.Compare(b.U, a.U) })
	return out
}

// meterHalf is a meter's limit of error on a part of its reading: a floor drops
// out of a step.
func (x Reading) meterHalf(amps float64, base bool) float64 {
	if x.Sum != nil && x.Sum.MeanA > 0 {
		// Each group by its own range; the floors add up.
		return x.HalfWidthA * math.Abs(amps) / x.Sum.MeanA
	}
	if g, ok := x.rangeInUse(); ok {
		if base {
			return g.Accuracy.HalfWidth(amps)
		}
		return g.Accuracy.OfReading * math.Abs(amps)
	}
	if x.HalfWidthA > 0 {
		return x.HalfWidthA
	}
	return 0.01 * math.Abs(amps) // nothing is known of it
}

// voltsU is what the difference of the two voltages is uncertain by.
func (p *pair) voltsU() float64 {
	if sameSupply(p.before, p.now) && p.before.VoltsRead && p.now.VoltsRead {
		return math.Sqrt2 * readBackV
	}
	return math.Hypot(p.before.SetHalfV(), p.now.SetHalfV()) / math.Sqrt(3)
}

func (x Reading) warmest() float64 { return math.Max(x.OnS, x.WarmS) }

// warming is what two times since switch-on differ by, as a share of the whole
// warm-up, for the time constant at which it matters most.
func warming(a, b float64) float64 {
	most := 0.0
	for tau := warmFast; tau <= warmSlow; tau *= 1.2 {
		most = math.Max(most, math.Abs(math.Exp(-a/tau)-math.Exp(-b/tau)))
	}
	return most
}

// open tells whether the parts still lie open at a stage.
func open(stage string) bool { return stage == compare.Loose || stage == compare.Fitted }
