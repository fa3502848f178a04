package blink

import "testing"

// row is one line of the table of error rates.
type row struct {
	rate, windowMs, spread, span float64
	// What a prototype in another language reached on a population of the same
	// description: the share judged periodic, %, period RMS, %, share with
	// duty shown, %, 95th percentiles of duty and on-level error (absolute, %).
	periodic, period, shown, duty, on float64
}

var table = []row{
	{3, 300, 30, 10, 100, .074, 78, .0211, 5.3}, {3, 300, 30, 20, 100, .019, 85, .0164, 5.8},
	{3, 300, 30, 30, 100, .011, 95, .0106, 3.7},
	{4, 200, 10, 10, 100, .104, 80, .0207, 5.1}, {4, 200, 10, 20, 100, .018, 91, .0111, 4.4},
	{4, 200, 10, 30, 100, .010, 92, .0160, 5.1},
	{4, 250, 0, 10, 72, .254, 84, .1074, 37.8}, {4, 250, 0, 20, 64, .135, 88, .0131, 6.2},
	{4, 250, 0, 30, 66, .028, 94, .0153, 7.5},
	{4, 250, 30, 10, 100, .051, 85, .0172, 5.0}, {4, 250, 30, 20, 100, .015, 92, .0128, 5.3},
	{4, 250, 30, 30, 100, .010, 92, .0121, 5.2},
	{10, 90, 10, 10, 100, .042, 98, .0124, 3.7}, {10, 90, 10, 20, 100, .011, 100, .0044, 3.3},
	{10, 90, 10, 30, 100, .007, 100, .0066, 3.5},
	{10, 100, 0, 10, 100, .036, 90, .0058, 0.8}, {10, 100, 0, 20, 100, .011, 100, .0055, 3.1},
	{10, 100, 0, 30, 100, .008, 100, .0048, 1.2},
	{10, 200, 10, 10, 100, .034, 94, .0130, 4.3}, {10, 200, 10, 20, 100, .011, 96, .0120, 4.5},
	{10, 200, 10, 30, 100, .006, 99, .0060, 2.5},
	{20, 45, 10, 10, 100, .033, 100, .0078, 0.8}, {20, 45, 10, 20, 100, .010, 100, .0042, 0.3},
	{20, 45, 10, 30, 100, .007, 100, .0030, 1.5},
	{20, 100, 10, 10, 100, .025, 99, .0074, 4.3}, {20, 100, 10, 20, 100, .009, 100, .0049, 2.5},
	{20, 100, 10, 30, 100, .004, 100, .0047, 2.4},
	{20, 300, 10, 10, 100, .024, 98, .0082, 2.4}, {20, 300, 10, 20, 100, .008, 100, .0067, 4.4},
	{20, 300, 10, 30, 100, .005, 100, .0083, 4.5},
}

// TestErrorRates runs the population of the table, row by row, and holds the
// rates against the prototype's as far as two samples of 80 allow.
func TestErrorRates(t *testing.T) {
	n := few(3)
	if long() {
		n = 80
	}
	t.Log(heading)
	var all, wrong int
	var whole pooled
	for i, w := range table {
		k := taking{w.rate, w.windowMs / 1000, w.spread / 100, w.span, 0.005, 0.0002}
		o := trials(t, n, uint64(100+i), k, blinkers(w.rate))
		o.log(t, k)
		t.Logf("   prototype: periodic %.0f, period RMS %.3f, shown %.0f, duty 95 %% %.4f, on 95 %% %.1f", w.periodic,
			w.period, w.shown, w.duty, w.on)
		all += o.trials
		wrong += o.wrong
		if long() {
			whole.row(t, i+1, &w, &o)
		}
	}
	t.Logf("wrong but sure: %d of %d", wrong, all)
	if float64(wrong) > 0.005*float64(all) {
		t.Errorf("%d of %d sure of a wrong period", wrong, all)
	}
	if long() {
		whole.judge(t)
	}
}
