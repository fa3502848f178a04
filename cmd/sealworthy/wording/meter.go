package wording

import (
	"fmt"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/words"
)

// Remetered says what another meter means for the rest of a test.
func Remetered(m session.NewMeter) []string {
	who := m.Is
	if who == "" {
		who = "it can't say who it is"
	}
	out := []string{fmt.Sprintf("Another meter now: %s. It has its own error.", who)}
	if !m.Stated {
		out[0] += " Its limits aren't stated: those of a plain hand-held meter are taken, 1.5 % and five counts."
	}
	if m.FuseA > 0 {
		out = append(out, fmt.Sprintf("The fuse of its jack isn't stated: limits stay below that of the meter before, "+
			"%g A.", m.FuseA))
	}
	switch m.Anew {
	case session.AnewModel:
		return append(out, "The whole model is measured with one meter from beginning to end: it begins anew.")
	case session.AnewPiece:
		return append(out, "A piece is measured with one meter: the one under way begins anew, those before it stand.")
	}
	if len(m.Stands) > 0 {
		out = append(out, "What the old one settled stands: "+words.List(m.Stands)+".")
	}
	switch {
	case len(m.Unseen) > 0:
		out = append(out, "By current it can't settle any more what the old one could: "+words.List(m.Unseen)+
			". There a dead light is within its error: look at each of them.")
	default:
		out = append(out, "What is left it can settle as well as the old one.")
	}
	return out
}
