package blink

// Levels takes a trace of a board with several outputs apart.
func Levels(s []Sample, k Known, o Outputs) Separated { return Separated{Agreement: CantTell} }

// Joint takes a trace of several blinkers apart.
func Joint(s []Sample, k Known, b []Blinker) Parted { return Parted{} }

// Window finds the averaging time of the meter from a slow blink.
func Window(s []Sample, k Known) MeasuredWindow { return MeasuredWindow{} }
