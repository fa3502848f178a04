package main

import (
	"fmt"
	"slices"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
)

// mostPast sittings are listed.
const mostPast = 60

// pastOf lists the sittings of a record, the latest first.
func pastOf(f record.Folded) (out []page.Past) {
	for _, s := range slices.Backward(f.Sittings) {
		if len(out) < mostPast {
			out = append(out, page.Past{At: s.At, Stage: s.Stage, What: s.What,
				Lasted: lasted(s.Until.Sub(s.At)), Simulated: s.Simulated, Ended: endOf(s)})
		}
	}
	return out
}

// noEndRecorded: the program died in a sitting, or it goes on still.
const noEndRecorded = "no end recorded"

// endOf says of a sitting what broke it off; "": it came to its end. Those of
// before the chain have none to tell of.
func endOf(s record.SittingState) string {
	switch {
	case s.BrokeOff != "":
		return "it broke off: " + s.BrokeOff
	case s.Whole || !s.Chained:
		return ""
	}
	return noEndRecorded
}

func lasted(d time.Duration) string {
	if d < 2*time.Minute {
		return fmt.Sprintf("%.0f s", max(0, d.Seconds()))
	}
	return fmt.Sprintf("%.0f min", d.Minutes())
}
