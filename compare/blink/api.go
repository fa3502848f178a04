package blink

// Match judges readings against an expected pace.
func Match(s []Sample, k Known, want Pattern, tol Tolerance) Matched {
	return Matched{Agreement: CantTell}
}

// Levels takes a trace of a board with several outputs apart.
func Levels(s []Sample, k Known, o Outputs) Separated { return Separated{Agreement: CantTell} }

// Joint takes a trace of several blinkers apart.
func Joint(s []Sample, k Known, b []Blinker) Parted { return Parted{} }

// Window finds the averaging time of the meter from a slow blink.
func Window(s []Sample, k Known) MeasuredWindow { return MeasuredWindow{} }
