package budget

import (
	"math"

	"sealworthy/compare/scene"
)

// seen is the distance in standard uncertainties at which a loss can be told
// from healthy with 5 % false alarm and 5 % missed, one-sided: twice 1.645.
const seen = 3.29

// perBranch describes a group of equal branches, whatever their number.
type perBranch struct {
	amps   float64 // of one branch
	common float64 // relative variance that all branches share
	own    float64 // relative variance of one branch alone
	perV   float64 // relative change of the draw per V at the source
	perK   float64 // relative change of the draw per kelvin
}

// planU is the standard uncertainty of measured less planned draw of n branches.
func (p perBranch) planU(n int, m scene.Accuracy) float64 {
	i := float64(n) * p.amps
	u := m.U(i)
	return math.Sqrt(i*i*p.common + i*p.amps*p.own + u*u)
}

// comparison is what differs between two readings of the same healthy group,
// as standard uncertainties.
type comparison struct {
	setVolts float64 // of the voltage, each reading
	tempK    float64 // of the difference in temperature
	repeat   float64 // scatter of the meter, fraction of the reading, each reading
	meter    scene.Accuracy
}

// Scatter of a meter that reads the same current again: common practice, no source.
const repeatability = 0.0005

// sameMeter compares with what the same meter read before: its error cancels,
// but for its scatter and the last digit.
func sameMeter(setHalfV, roomHalfK float64, m scene.Accuracy) comparison {
	return comparison{setVolts: setHalfV / math.Sqrt(3), tempK: roomHalfK / math.Sqrt(3), repeat: repeatability,
		meter: scene.Accuracy{ResolutionA: m.ResolutionA}}
}

// otherMeter compares with what another meter of the same accuracy read.
func otherMeter(setHalfV, roomHalfK float64, m scene.Accuracy) comparison {
	return comparison{setVolts: setHalfV / math.Sqrt(3), tempK: roomHalfK / math.Sqrt(3), meter: m}
}

// changeU is the standard uncertainty of the difference of two readings of n branches.
func (p perBranch) changeU(n int, c comparison) float64 {
	i := float64(n) * p.amps
	u := c.meter.U(i)
	v := 2 * (c.repeat*c.repeat + p.perV*p.perV*c.setVolts*c.setVolts)
	return math.Sqrt(i*i*(v+p.perK*p.perK*c.tempK*c.tempK) + 2*u*u)
}

// mostBranches is the largest group in which one dark branch is seen: the
// largest n with amps/u(n) of at least seen. 0: not even a single branch.
// u must not fall with n.
func mostBranches(amps float64, u func(n int) float64) int {
	const cap = 1 << 20
	ok := func(n int) bool { return amps >= seen*u(n) }
	if !(amps > 0) || !ok(1) {
		return 0
	}
	lo, hi := 1, 2
	for hi < cap && ok(hi) {
		lo, hi = hi, 2*hi
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; ok(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
