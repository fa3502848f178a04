package together

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/fault"
	"sealworthy/compare/words"
)

// words says a cause to a maker, and where to look first.
func (m *model) say(c Cause) (text, look string) {
	switch c.Kind {
	case fault.SupplyOff:
		dir := "below"
		if c.Volts > 0 {
			dir = "above"
		}
		text = fmt.Sprintf("The supply gives about %s V %s what it is set to.", twoDigits(math.Abs(c.Volts)), dir)
		look = "Measure the volts at the clips while a group is lit."
	case fault.MeterOff:
		text = fmt.Sprintf("The meter reads about %s.", percent(c.Factor))
		look = "Measure one group with another meter, or read the supply's own current beside it."
	case fault.PartFigures:
		text = fmt.Sprintf("Every group made of %q draws %s than planned: its figures are off, not so many lights.", c.Part, percent(c.Factor))
		look = fmt.Sprintf("Measure a few loose pieces of %q and put them in the part book, then judge anew.", c.Part)
	default:
		text, look = m.placeWords(c)
	}
	if len(c.Shows) > 0 {
		text += " " + words.Quoted(c.Shows) + show(len(c.Shows)) + "."
	}
	if len(c.CantShow) > 0 {
		text += " " + words.Quoted(c.CantShow) + " can't show it."
	}
	if len(c.Against) > 0 {
		text += " Against it: " + words.Quoted(c.Against) + " should be off as well and isn't. Does it hang where the plan says?"
	}
	if len(c.NotMeasured) > 0 {
		text += " Not measured there yet: " + words.Quoted(c.NotMeasured) + "."
	}
	if len(c.Besides) > 0 {
		text += " Beside it, there's something of its own in " + words.Quoted(c.Besides) + "."
	}
	return text, look
}

func show(n int) string {
	if n == 1 {
		return " shows it"
	}
	return " show it"
}

// placeWords says a resistance and where it can be.
func (m *model) placeWords(c Cause) (text, look string) {
	var names []string
	for _, p := range c.Places {
		names = append(names, p.words())
	}
	where := words.Either(names)
	if c.Open {
		text = "Nothing gets past " + where + "."
	} else {
		text = fmt.Sprintf("There are about %s ohm too many at %s.", twoDigits(c.Ohms), where)
	}
	lit := "a group behind it"
	if len(c.Shows) > 0 {
		lit = words.Quote(c.Shows[0])
	}
	last := c.Places[len(c.Places)-1]
	onlyBench := !slices.ContainsFunc(c.Places, func(p Place) bool { return p.Kind != AtLeads && p.Kind != AtJack })
	switch {
	case onlyBench:
		look = "Clean and press the clips and the plug, then measure one group again."
	case len(c.Places) > 1:
		look = fmt.Sprintf("With %s on, measure volts from the jack down, at %s: it lies where they fall.", lit, strings.Join(names, ", then at "))
	case last.Kind == AtBoard:
		look = fmt.Sprintf("With %s lit, measure volts at both ends of %s; with the output off, solder it anew.", lit, last.words())
	case last.Kind == AtReturn:
		look = fmt.Sprintf("With %s on, measure from %s to the jack's minus: it should be next to 0 V.", lit, last.words())
	default:
		look = fmt.Sprintf("With %s on, measure volts before and after %s; with the output off, solder it anew.", lit, last.words())
	}
	return text, look
}

// words names a place.
func (p Place) words() string {
	switch p.Kind {
	case AtLeads:
		return p.Name
	case AtBoard:
		return "the wire of board " + words.Quote(p.Name)
	}
	return string(p.Kind) + " " + words.Quote(p.Name)
}

// percent says a factor as a maker would.
func percent(f float64) string {
	if f < 1 {
		return fmt.Sprintf("%.0f %% less", (1-f)*100)
	}
	return fmt.Sprintf("%.0f %% more", (f-1)*100)
}

// twoDigits writes no more digits than the figure carries.
func twoDigits(x float64) string {
	if x <= 0 {
		return "0"
	}
	d := 1 - int(math.Floor(math.Log10(x)))
	if d <= 0 {
		p := math.Pow10(-d)
		return fmt.Sprintf("%.0f", math.Round(x/p)*p)
	}
	return fmt.Sprintf("%.*f", d, x)
}
