package words

import (
	"fmt"
	"strings"

	"sealworthy/compare/plan"
)

// Pace says what lights do at a pace of their board, as one sees it: "at its pace 'slow', one
// flash each 2 s, lit for 0.6 s".
func Pace(p plan.Pace) string {
	at := fmt.Sprintf("at its pace %q, ", p.Name)
	switch {
	case p.Steady():
		return at + "lit without a break"
	case len(p.Flashes) > 2:
		var out []string
		for i, s := range p.Flashes {
			out = append(out, fmt.Sprintf("%s %.3g s", [2]string{"lit", "dark"}[i%2], s))
		}
		return at + strings.Join(out, ", ") + ", and so on"
	}
	return at + fmt.Sprintf("one flash each %.3g s, lit for %.3g s", p.PeriodS, p.PeriodS*p.LitShare())
}
