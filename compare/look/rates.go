package look

import "math"

// Rates say how far a look is believed; defaults of common practice, no data
// behind them. A maker's file of priors may change them.
type Rates struct {
	Overlooked float64 `toml:"overlooked" json:"overlooked"` // a dark light that is not noticed
	Invented   float64 `toml:"invented" json:"invented"`     // a lit group of which something dark is said
	// a dim or far too bright light is called dark
	DimIsDark float64 `toml:"dim_is_dark" json:"dim_is_dark"`
	// DimOverlooked and FlickerOverlooked: a group is called all right though it is
	// dim, not taken for dark; though it flickers.
	DimOverlooked     float64 `toml:"dim_overlooked" json:"dim_overlooked"`
	FlickerOverlooked float64 `toml:"flicker_overlooked" json:"flicker_overlooked"`
	// JointFlickers is how probable it is that a bad joint flickers while one looks.
	JointFlickers float64 `toml:"joint_flickers" json:"joint_flickers"`
	// Miscounted is how probable it is that as many lights are counted as the plan has, though
	// more or fewer are there.
	Miscounted float64 `toml:"miscounted" json:"miscounted"`
	// Misread is how probable it is that what the plan says is read on a piece, though it is another.
	Misread float64 `toml:"misread" json:"misread"`
	// Hearsay is how probable anything is that a client says, whatever the lights are.
	Hearsay float64 `toml:"hearsay" json:"hearsay"`
	// Floor is the least that any answer may weigh: a look may be given without looking.
	Floor float64 `toml:"floor" json:"floor"`
}

// DefaultRates suit a maker of whom nothing is known.
func DefaultRates() Rates {
	return Rates{Overlooked: 0.02, Invented: 0.005, DimIsDark: 0.3, DimOverlooked: 0.5, FlickerOverlooked: 0.5,
		JointFlickers: 0.2, Miscounted: 0.03, Misread: 0.005, Hearsay: 0.05, Floor: 0.002}
}

// LogOf is the logarithm of how probable what was said is, if so many of the
// lights are dark and so many dim or glaring. None of it weighs less than the floor:
// a look can be given without looking, and can't overrule what the current shows.
//
// Each dark light is overlooked with its own small probability, a dim one may
// be called dark, dim, or not be noticed, and something dark may be said of a group
// that is all lit.
func (r Rates) LogOf(l Look, dark, dim, of int) float64 {
	if l.What == Flickers {
		return 0 // what flickers isn't known here
	}
	l.Of = 0 // what was counted is of these lights already
	return r.LogSaw(l, Lights{Dark: max(0, dark), Dim: max(0, dim), Of: of})
}

func (r Rates) of(l Look, dark, dim, of int) float64 {
	dark, dim = max(0, dark), max(0, dim)
	calledDark, unseen := 0.0, 1.0
	if dim > 0 {
		calledDark, unseen = r.DimIsDark, r.DimOverlooked
	}
	if l.Saw == AllLit {
		return r.allLit(dark) * (1 - calledDark) * unseen
	}
	if l.Dark <= 0 {
		return 1 - r.allLit(dark)*(1-calledDark)
	}
	return (1-calledDark)*r.counted(l.Dark, dark) + calledDark*r.counted(l.Dark, dark+dim)
}

// allLit is how probable it is that all are called lit.
func (r Rates) allLit(dark int) float64 {
	if dark == 0 {
		return 1 - r.Invented
	}
	return math.Pow(r.Overlooked, float64(dark))
}

// counted is how probable it is that n are counted where so many are dark.
func (r Rates) counted(n, dark int) float64 {
	switch {
	case dark == 0:
		// Something that isn't dark is called so: few, rather than many.
		return r.Invented * math.Pow(0.5, float64(n))
	case n > dark:
		// Counted twice.
		return math.Pow(r.Overlooked, float64(n-dark))
	}
	p := 1.0
	for i := range n {
		p *= (1 - r.Overlooked) * float64(dark-i) / float64(i+1)
	}
	return p * math.Pow(r.Overlooked, float64(dark-n))
}

// LogOfCount is the logarithm of how probable a count of what is lit is, against the same from a
// group that has as many lights as the plan says; more are there beyond those (fewer: negative). Who
// didn't count says nothing of it. What is dark and was overlooked is counted with the rest.
func (r Rates) LogOfCount(l Look, more int) float64 {
	if l.Saw != AllLit || l.Lit <= 0 || more == 0 {
		return 0
	}
	return math.Log(math.Max(r.Floor, r.Miscounted))
}

// LogOfFaint is what is to be added to LogOf for lights that are fed a little less, so many: somebody
// who says dim may mean that.
func (r Rates) LogOfFaint(l Look, dark, dim, faint int) float64 {
	if l.Saw != Otherwise || l.What != Dim || dark > 0 || dim > 0 || faint <= 0 {
		return 0
	}
	return r.LogSaw(l, Lights{Faint: faint, Of: faint}) - r.LogSaw(l, Lights{Of: faint})
}

// LogOfOtherTold is the logarithm of how probable it is that all of it was told where n lights are and so many of the
// figures that were read are others, against a group of which it is so: each light too many or too few is miscounted by
// itself, each figure misread.
func (r Rates) LogOfOtherTold(l Look, n, figures int) float64 {
	p := math.Pow(r.Misread, float64(figures))
	if l.Saw == AllLit && l.Lit > 0 && n > 0 {
		p *= math.Pow(r.Miscounted, math.Abs(float64(n-l.Lit)))
	}
	return math.Log(math.Max(r.Floor, p))
}

// Of causes that aren't known half show to the eye, and a part of all by their colour alone (our
// own choice, no source).
const (
	unknownShows    = 0.5
	unknownColoured = 0.1
)

// LogOfUnknown is that of a cause which isn't known: it may darken anything. All right says
// against it what it says of what would be seen of it.
func (r Rates) LogOfUnknown(l Look, of int) float64 {
	switch {
	case l.Saw == Otherwise && l.What == Dim:
		return math.Log(unknownShows * (1 - r.DimOverlooked))
	case l.Saw == NotLooked || l.Saw == Otherwise:
		return 0
	case l.Saw == AllLit && !l.SaysOf(Colour):
		return math.Log(1 - unknownShows + unknownColoured)
	case l.Saw == AllLit:
		return math.Log(1 - unknownShows)
	case l.Dark <= 0:
		return math.Log(unknownShows)
	}
	return math.Log(unknownShows / float64(max(4, of)))
}
