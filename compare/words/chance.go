package words

import (
	"fmt"
	"math"
	"strings"
)

// rarest is the least chance that is put into a number: what the list of faults and
// the device model leave out weighs as much.
const rarest = 1e-4

// OneIn writes a small probability as a maker reads it, with two digits: "1 in 210".
func OneIn(p float64) string {
	switch {
	case math.IsNaN(p):
		return "no telling how many"
	case p >= 0.5:
		return "more than 1 in 2"
	case p < rarest:
		return fmt.Sprintf("less than 1 in %.0f", 1/rarest)
	}
	n := 1 / p
	step := math.Pow(10, math.Max(0, math.Floor(math.Log10(n))-1))
	return fmt.Sprintf("1 in %.0f", math.Round(n/step)*step)
}

// Sureness writes a probability without more digits than it carries; nothing is certain.
func Sureness(p float64) string {
	switch {
	case p > 0.99:
		return "more than 99 %"
	case p < 0.01:
		return "less than 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// Graded says what becomes of the faults that a closure could have, by their
// expected numbers, which add up to all.
func Graded(all, byCurrent, byLook, missed float64) string {
	n, c := math.Round(all), math.Round(byCurrent)
	l := math.Min(math.Round(byLook), n-c)
	rest := n - c - l
	s := fmt.Sprintf("%.0f faults could be in it. Current stops %.0f of them", n, c)
	if l > 0 {
		s += fmt.Sprintf(", only a look %.0f more", l)
	}
	switch {
	case rest > 0:
		return s + fmt.Sprintf("; %.0f can't be seen at all once it's glued.", rest)
	case missed > 0.01:
		return s + "; a slight one can't be seen at all once it's glued."
	}
	return s + "."
}

// StillIn says how often a closure that passed holds a fault, how often if all right
// is said of it without looking, and of which kinds, the likeliest first.
func StillIn(p, unlooked float64, kinds []string) string {
	s := fmt.Sprintf("Of those that pass, %s would hold a fault", OneIn(p))
	if x := OneIn(unlooked); x != OneIn(p) {
		s += fmt.Sprintf(", %s if nobody really looks", x)
	}
	if len(kinds) > 0 {
		s += "; most likely: " + strings.Join(kinds, ", ")
	}
	return s + "."
}

// Closing says what a remedy is, and what it leaves.
func Closing(what string, p float64) string {
	return fmt.Sprintf("What closes most of it for its effort: %s. Then %s.", what, OneIn(p))
}

// ReadToo is the remedy of a reading at one more voltage, V.
func ReadToo(group string, volts float64) string {
	return fmt.Sprintf("read %q at %s V, too", group, Number(volts, 0.2))
}

// SampleOf is the remedy of measuring loose pieces of a reel.
func SampleOf(reel string, pieces int) string {
	return fmt.Sprintf("measure %d loose pieces of %q", pieces, reel)
}

// InParts is the remedy of measuring a group in so many parts.
func InParts(group string, parts int) string {
	return fmt.Sprintf("clip %q in %d parts, before they are joined", group, parts)
}

// NothingCloses says that no remedy is worth its effort.
const NothingCloses = "No single further reading helps much."

// HealthyHeld says that a test holds many groups that nothing is wrong with.
func HealthyHeld(group string, passes float64) string {
	return fmt.Sprintf("%q: of 100 healthy ones %.0f pass, so what current stops there tells little.", group,
		100*passes)
}

// NotGraded says of which groups no draw is planned.
func NotGraded(groups []string) string {
	return "Not counted, for no draw is planned of them: " + strings.Join(groups, ", ") + "."
}

// RatesOf says whose rates figures of faults rest on.
func RatesOf(whose string) string { return "How often faults come, and are overlooked: " + whose + "." }

// Chance is something with its probability.
type Chance struct {
	Name string
	P    float64 // 0 to 1
}

// StillThere says how probable it is that a fault is in what passed, which ones, and
// whose rates that rests on; least: there's more that isn't counted.
func StillThere(p float64, of []Chance, whose string, least bool) string {
	var each []string
	for _, c := range of {
		each = append(each, c.Name+" "+OneIn(c.P))
	}
	s := "Chance that a fault is still in it: "
	switch {
	case least && p >= rarest:
		s += "at least " + OneIn(p)
	case least:
		s += OneIn(p) + " by what is counted"
	default:
		s += OneIn(p)
	}
	if len(each) > 0 {
		s += " (" + strings.Join(each, ", ") + ")"
	}
	return s + ", by the rates of " + whose + "."
}

// MostOfIt names the group that holds the largest part of a chance, and what would make it smaller, if anything would.
func MostOfIt(group string, p float64, lower string) string {
	s := fmt.Sprintf("The largest part is in %s (%s)", Quote(group), OneIn(p))
	if lower != "" {
		s += "; to lower it: " + lower
	}
	return s + "."
}

// Why the chance of groups isn't counted.
const (
	TakenAsItIs    = "taken as it is"
	NoDrawPlanned  = "no draw is planned"
	EnvelopeOnly   = "only the lowest and highest draw are planned"
	WithOthersOnly = "only the draw of several together is known, and the look"
	NoChanceKnown  = "no chance could be worked out"
)

// NotCounted names groups of which no chance is known, and why.
func NotCounted(groups []string, why string) string {
	return fmt.Sprintf("Not counted: %s (%s).", strings.Join(groups, ", "), why)
}
