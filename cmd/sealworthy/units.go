package main

// onePercent is the usual limit of error of a film resistor (IEC 60062 colour
// brown).
func onePercent(ohms float64) float64 { return ohms / 100 }

func percentOf(fraction float64) float64 { return 100 * fraction }
