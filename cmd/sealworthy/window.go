package main

import (
	"cmp"
	"fmt"
	"math"

	"sealworthy/compare"
)

// meterWindow says how long a build's meter averages one reading.
func meterWindow(e env, dir string, asJSON bool) (int, error) {
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	h, err := b.history(e)
	if err != nil {
		return exitFailure, err
	}
	w, err := compare.WindowOf(compare.HistoryOf(h))
	if err != nil {
		return exitFailure, withHint(err,
			"measure a board that is lit and dark for half a second or more, ten times or more")
	}
	if asJSON {
		return exitReady, writeJSON(e.stdout, w)
	}
	ms, give := math.Round(1e3*w.WindowS), math.Ceil(2e3*w.U)
	traces := "one trace"
	if w.Traces > 1 {
		traces = fmt.Sprintf("%d traces", w.Traces)
	}
	wrap(e.stdout, "", "  ", fmt.Sprintf("%s averages each reading over %.0f ms, give or take %.0f, by %s of "+
		"blinkers; its profile says %.0f ms.",
		cmp.Or(w.Meter, "The meter"), ms, give, traces, 1e3*w.SaidS))
	if math.Abs(w.WindowS-w.SaidS) <= 2*w.U {
		fmt.Fprintln(e.stdout, "That fits: nothing is to be changed.")
		return exitReady, nil
	}
	fmt.Fprintf(e.stdout, "In bench.toml:\n  [meter]\n  window_ms = %.0f\n", ms)
	return exitReady, nil
}
