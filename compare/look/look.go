// Package look holds what a maker's eye says of lights, and how far it is
// believed. A look has one answer a group: all is lit, or so many of so many are
// dark. Segments of a strip count as one light each, of other lights every LED.
//
// Start with Read for what was typed at a look at several groups, Of and Parse for
// what was kept. It decides nothing: Rates weigh an answer against what a fault
// would darken.
package look

// Saw is what a look said.
type Saw uint8

// The zero Saw is "not looked".
const (
	NotLooked Saw = iota
	AllLit
	SomeDark
	Otherwise // something else is wrong, as a wrong colour; no light is counted dark
)

// Look is what the maker saw of the lights of a group. The zero Look is none.
type Look struct {
	Saw  Saw
	Dark int // SomeDark: how many; 0: not said
	Of   int // lights that were counted; 0: not said
	Lit  int `json:",omitempty"` // AllLit: so many were counted, as many as the plan has; 0: nobody counted
	// Read is what was read on the pieces, or measured at them with nothing on, apart by ", ": "470 ohm";
	// empty: nothing.
	Read string `json:",omitempty"`
	// What else it is where that was understood, and of how many lights; 0: of all.
	What  What
	Count int // of the lights that are What; 0: all
	// NoColours: whoever looked can't judge colours, so those weren't seen. It's of AllLit: what
	// is wrong is looked at again anyway.
	NoColours bool
}

// What is what is wrong with lights, as the eye sees it. The zero What is nothing
// that was understood.
type What string

// What the eye tells.
const (
	Dark     What = "dark"
	Dim      What = "dim"
	Flickers What = "flickers"
	Colour   What = "wrong colour"
	Place    What = "wrong place"
	NotSeen  What = "not seen"
)

// What a look says when all is right; when it is as far as somebody can tell who can't judge
// colours.
const (
	Right          = "all right"
	RightNoColours = "all right, colours not judged"
)

// Counted brings what was counted to so many lights: of 4 branches with 3 LEDs
// each, 1 of 4 is 3 of 12.
func (l Look) Counted(of int) Look {
	if l.Saw != SomeDark || l.Dark <= 0 || of <= 0 {
		return l
	}
	switch {
	case l.Of > 0 && l.Dark >= l.Of:
		l.Dark = of
	case l.Of > 0 && of%l.Of == 0:
		l.Dark *= of / l.Of
	}
	l.Dark = min(l.Dark, of)
	return l
}

// SaysOf tells whether a look says anything, for or against, of one thing that the eye would see.
// Whoever can't judge colours says nothing of those; of what is dark, dim or flickers he says
// what anybody does. It's the one rule of that, at the bench and at a return.
func (l Look) SaysOf(w What) bool {
	switch {
	case l.Saw == NotLooked || l.What == NotSeen:
		return false
	case w == Colour:
		return !l.NoColours
	}
	return true
}

// ColoursAside is the same look by somebody who can't judge colours.
func (l Look) ColoursAside() Look {
	l.NoColours = l.NoColours || l.Saw == AllLit
	return l
}

// Words say a look of a group in plain words: "2 of 12 dark".
func (l Look) Words() string {
	switch {
	case l.Saw == NotLooked:
		return ""
	case l.Saw == AllLit:
		return l.rightWords()
	case l.Saw == Otherwise && l.What == "":
		return "not all right"
	case l.Saw == Otherwise:
		return clause{What: l.What, Count: l.Count, All: l.Count == 0}.Words()
	}
	return clause{What: Dark, Count: l.Dark, Of: l.Of}.Words()
}
