package words

import (
	"fmt"
	"math"
)

// Excluded says beside a pass how small a fault would still have shown: a loss of
// current, a joint in the group's own wire (0: none would), each by itself, and how probable
// it is that nothing is wrong.
func Excluded(lossA, jointOhm, healthy float64) string {
	s := "Nothing wrong: " + surely(healthy) + "."
	joint := " A bad joint in its wire may not have shown."
	if jointOhm > 0 {
		joint = fmt.Sprintf(" A bad joint in its wire would have shown from %s ohm.", Number(jointOhm, jointOhm/10))
	}
	switch {
	case lossA <= 0:
		return s + " No loss is excluded by current." + joint
	case jointOhm > 0:
		joint = fmt.Sprintf(", a bad joint in its wire from %s ohm.", Number(jointOhm, jointOhm/10))
	default:
		joint = "." + joint
	}
	return s + fmt.Sprintf(" A loss of %s or more would have shown", Milliamps(lossA, 0)) + joint
}

// surely writes a probability near one, never as certain.
func surely(p float64) string {
	switch {
	case p >= 0.9995:
		return "more than 99.9 %"
	case p >= 0.99:
		return fmt.Sprintf("%.1f %%", math.Floor(1000*p)/10)
	}
	return fmt.Sprintf("%.0f %%", math.Floor(100*p))
}

// LackInEach says what it may be where all groups of a reel draw less alike.
func LackInEach(reel string) string {
	return fmt.Sprintf("All groups of %q draw too little by the same share: lights are dark in each of them, or the "+
		"reel's figures are off. Count the lights of one of them, lit.", reel)
}
