package page

import (
	"sealworthy/compare/sketch"
	"sealworthy/compare/words"
)

// figuresOf says what flows at a place.
func figuresOf(n sketch.Node) string {
	switch {
	case !n.Known:
		return ""
	case n.HighA == 0 && n.Amps == 0 && len(n.Nodes) > 0:
		return "" // what hangs on it is as found: it's measured first
	case n.HighA == 0 && n.Amps == 0:
		return "nothing hangs on it yet"
	}
	text := words.Milliamps(n.Amps, (n.HighA-n.LowA)/4)
	if n.HighA > n.LowA {
		text += ", " + words.MilliampBand(n.LowA, n.HighA)
	}
	return text
}

// dropOf says what is lost on the way to a place.
func dropOf(n sketch.Node) string {
	if !n.Known || n.Kind == "jack" || n.HighA == 0 && n.Amps == 0 {
		return ""
	}
	text := words.Number(n.DropV, 0.002) + " V lost on the way"
	if n.HighDropV-n.LowDropV > 0.005 {
		text += ", " + words.Band(n.LowDropV, n.HighDropV) + " V"
	}
	return text
}

// opensOf says what goes dark if a place opens; "": it goes without saying.
func opensOf(n sketch.Node) string {
	switch {
	case n.Kind == "group" || n.Kind == "jack" || len(n.Dark) == 0:
		return ""
	case n.AllOf:
		return "everything"
	}
	return words.List(n.Dark)
}
