package belief

import "math"

// logLook is the logarithm of how probable what was said is, if so many of the
// lights are dark and so many dim or glaring. None of it weighs less than the floor:
// a look can be given without looking, and can't overrule what the current shows.
//
// Each dark light is overlooked with its own small probability, a dim one may
// be called dark, and something dark may be said of a group that is all lit.
func (e EyePriors) logLook(l Look, dark, dim, of int) float64 {
	if l.Saw == NotLooked {
		return 0
	}
	return math.Log(math.Max(e.Floor, e.look(l, dark, dim, of)))
}

func (e EyePriors) look(l Look, dark, dim, of int) float64 {
	dark, dim = max(0, dark), max(0, dim)
	calledDark := 0.0
	if dim > 0 {
		calledDark = e.DimIsDark
	}
	if l.Saw == AllLit {
		return e.allLit(dark) * (1 - calledDark)
	}
	if l.Dark <= 0 {
		return 1 - e.allLit(dark)*(1-calledDark)
	}
	return (1-calledDark)*e.counted(l.Dark, dark, of) + calledDark*e.counted(l.Dark, dark+dim, of)
}

// allLit is how probable it is that all are called lit.
func (e EyePriors) allLit(dark int) float64 {
	if dark == 0 {
		return 1 - e.Invented
	}
	return math.Pow(e.Overlooked, float64(dark))
}

// counted is how probable it is that n are counted where so many are dark.
func (e EyePriors) counted(n, dark, of int) float64 {
	switch {
	case dark == 0:
		// Something that isn't dark is called so: few, rather than many.
		return e.Invented * math.Pow(0.5, float64(n))
	case n > dark:
		// Counted twice.
		return math.Pow(e.Overlooked, float64(n-dark))
	}
	p := 1.0
	for i := range n {
		p *= (1 - e.Overlooked) * float64(dark-i) / float64(i+1)
	}
	return p * math.Pow(e.Overlooked, float64(dark-n))
}

// logLookUnknown is that of a cause which isn't known: it may darken anything.
func (e EyePriors) logLookUnknown(l Look, of int) float64 {
	switch {
	case l.Saw == NotLooked:
		return 0
	case l.Saw == AllLit || l.Dark <= 0:
		return math.Log(0.5)
	}
	return math.Log(0.5 / float64(max(4, of)))
}
