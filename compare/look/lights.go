package look

import "math"

// What the eye makes of a light by its current against that of a good one (common
// practice, no source: a few per cent pass for dark beside others, a third for dim).
const (
	DarkBelow = 0.03
	DimBelow  = 0.40
	// FaintBelow: between that and DimBelow lights are dimmer beside others, and faintIsDim is how
	// probable it is that somebody says so (our own choice, no source).
	FaintBelow = 0.80
	faintIsDim = 0.10
)

// Lights is how the lights of a group are.
type Lights struct {
	Dark, Dim int // so many of them
	Of        int // lights in it; 0: not known
	Faint     int // fed less, though not so little that they are called dim for sure
	// MayFlicker is how probable it is that they flicker while one looks.
	MayFlicker float64
	// Steady: they are lit but don't blink as they should.
	Steady bool
}

// Fed is how so many lights look that draw a share of what they should.
func Fed(share float64, of int) Lights {
	switch {
	case share < DarkBelow:
		return Lights{Dark: of, Of: of}
	case share < DimBelow:
		return Lights{Dim: of, Of: of}
	case share < FaintBelow:
		return Lights{Faint: of, Of: of}
	}
	return Lights{Of: of}
}

// With is how they look where something else is wrong with them as well.
func (a Lights) With(b Lights) Lights {
	a.Of = max(a.Of, b.Of)
	a.Dark = min(a.Dark+b.Dark, a.Of)
	a.Dim = min(max(a.Dim, b.Dim), a.Of-a.Dark)
	a.Faint = min(max(a.Faint, b.Faint), a.Of-a.Dark-a.Dim)
	a.MayFlicker = max(a.MayFlicker, b.MayFlicker)
	a.Steady = a.Steady || b.Steady
	return a
}

// Shows: somebody who overlooks nothing sees that something is wrong.
func (a Lights) Shows() bool { return a.Dark > 0 || a.Dim > 0 }

// LogSaw is the logarithm of how probable it is that a maker says this of such
// lights; 0 where he can't see them.
func (r Rates) LogSaw(l Look, is Lights) float64 {
	if l.silent() {
		return 0
	}
	return math.Log(math.Max(r.Floor, r.saw(l, is)))
}

// LogHeard is that of a client's words: what he names counts, not how many; of the
// rest he said nothing.
func (r Rates) LogHeard(l Look, is Lights) float64 {
	if l.silent() {
		return 0
	}
	l.Dark = 0
	return math.Log(r.Hearsay + (1-r.Hearsay)*r.saw(l, is))
}

// silent: it says nothing of how well the lights are fed.
func (l Look) silent() bool {
	return l.Saw == NotLooked || l.Saw == Otherwise && l.What != Dim && l.What != Flickers
}

func (r Rates) saw(l Look, is Lights) float64 {
	flickers := is.MayFlicker * (1 - r.FlickerOverlooked)
	switch {
	case l.What == Flickers:
		return flickers + (1-flickers)*r.Invented
	case l.What == Dim:
		switch {
		case is.Dim > 0:
			return (1 - r.DimIsDark) * (1 - r.DimOverlooked) * (1 - flickers)
		case is.Faint > 0:
			return faintIsDim * (1 - flickers)
		case is.Dark > 0:
			return r.Overlooked
		}
		return r.Invented
	case l.Saw == AllLit:
		p := r.of(l, is.Dark, is.Dim, is.Of) * (1 - flickers)
		if is.Steady {
			p /= 2 // that it doesn't blink is seen or not
		}
		return p
	}
	return r.of(l.Counted(is.Of), is.Dark, is.Dim, is.Of) * (1 - flickers)
}
