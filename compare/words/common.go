package words

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/fault"
)

// InCommon says what several groups have in common to a maker, and where to look first.
func InCommon(c fault.Common) (text, look string) {
	switch {
	case c.Lack:
		text = LackInEach(c.Reel)
	case c.Kind == fault.SupplyOff:
		dir := "below"
		if c.Volts > 0 {
			dir = "above"
		}
		text = fmt.Sprintf("The supply gives about %s V %s what it is set to.", roughly(math.Abs(c.Volts)), dir)
		look = "Measure the volts at the clips while a group is lit."
	case c.Kind == fault.MeterOff:
		text = fmt.Sprintf("The meter reads about %s.", percentOff(c.Factor))
		look = "Measure one group with another meter, or read the supply's own current beside it."
	case c.Kind == fault.PartFigures:
		text = fmt.Sprintf("Every group made of %q draws %s than planned: its figures are off, not so many lights.",
			c.Reel, percentOff(c.Factor))
		look = fmt.Sprintf("Measure a few loose pieces of %q and put them in the part book, then judge anew.", c.Reel)
	default:
		text, look = tooManyOhms(c)
	}
	return text + witnesses(c), look
}

// witnesses says which groups show a cause, and which don't.
func witnesses(c fault.Common) string {
	text := ""
	if len(c.Shows) > 0 {
		show := " show it."
		if len(c.Shows) == 1 {
			show = " shows it."
		}
		text += " " + Quoted(c.Shows) + show
	}
	if len(c.CantShow) > 0 {
		text += " " + Quoted(c.CantShow) + " can't show it."
	}
	if len(c.Against) > 0 {
		text += " Against it: " + Quoted(c.Against) + " should be off as well, and "
		if len(c.Against) == 1 {
			text += "isn't. Does it hang where the plan says?"
		} else {
			text += "aren't. Do they hang where the plan says?"
		}
	}
	if len(c.NotMeasured) > 0 {
		text += " Not measured there yet: " + Quoted(c.NotMeasured) + "."
	}
	if len(c.Besides) > 0 {
		text += " Beside it, there's something of its own in " + Quoted(c.Besides) + "."
	}
	return text
}

// tooManyOhms says a resistance and where it can be.
func tooManyOhms(c fault.Common) (text, look string) {
	var names []string
	for _, s := range c.Spots {
		names = append(names, Spot(s))
	}
	if len(names) == 0 {
		return "", ""
	}
	where := Either(names)
	if c.Open {
		text = "Nothing gets past " + where + "."
	} else {
		text = fmt.Sprintf("There are about %s ohm too many at %s.", roughly(c.Ohms), where)
	}
	lit := "a group behind it"
	if len(c.Shows) > 0 {
		lit = Quote(c.Shows[0])
	}
	last := c.Spots[len(c.Spots)-1]
	inModel := func(s fault.Spot) bool { return s.Kind != fault.SpotLeads && s.Kind != fault.SpotJack }
	switch at := names[len(names)-1]; {
	case !slices.ContainsFunc(c.Spots, inModel):
		look = "Clean and press the clips and the plug, then measure one group again."
	case len(c.Spots) > 1:
		look = fmt.Sprintf("With %s on, measure volts from the jack down, at %s: it lies where they fall.",
			lit, strings.Join(names, ", then at "))
	case last.Kind == fault.SpotBoard:
		look = fmt.Sprintf("With %s lit, measure volts at both ends of %s; with the output off, solder it anew.",
			lit, at)
	case last.Kind == fault.SpotReturn:
		look = fmt.Sprintf("With %s on, measure from %s to the jack's minus: it should be next to 0 V.", lit, at)
	default:
		look = fmt.Sprintf("With %s on, measure volts before and after %s; with the output off, solder it anew.",
			lit, at)
	}
	return text, look
}

// Spot names a place above the groups.
func Spot(s fault.Spot) string {
	switch s.Kind {
	case fault.SpotLeads:
		return s.Name
	case fault.SpotBoard:
		return "the wire of board " + Quote(s.Name)
	}
	return string(s.Kind) + " " + Quote(s.Name)
}

// percentOff says a factor as a maker would.
func percentOff(f float64) string {
	if f < 1 {
		return fmt.Sprintf("%.0f %% less", (1-f)*100)
	}
	return fmt.Sprintf("%.0f %% more", (f-1)*100)
}

// roughly writes two digits.
func roughly(x float64) string {
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
