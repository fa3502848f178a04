package main

// onePercent is the usual limit of error of a film resistor (IEC 60062 colour
// brown).
func onePercent(ohms float64) float64 { return ohms / 100 }

func percentOf(fraction float64) float64 { return 100 * fraction }

// mostVolts is what a budget can be made for: beyond 60 V DC is no longer
// extra-low voltage (IEC 61140).
const mostVolts = 60.0
