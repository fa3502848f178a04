package capture

// Choices of a look about who looks: said once, it holds for the looks that follow, of a test
// that goes on with this one, too.
const (
	NoColours = "no colours" // whoever looks can't judge colours
	Colours   = "colours"    // somebody looks who can
)

// ColoursNote names what the record keeps of who looks: its text is NoColours or Colours.
const ColoursNote = "who looks"

// judges takes over whether whoever looks can judge colours, and keeps it.
func (e *engine) judges(colours bool) error {
	e.noColours = !colours
	text, kept := "From now on a look says nothing of colours: let somebody look who can judge them.", NoColours
	if colours {
		text, kept = "From now on a look says whether colours are right, too.", Colours
	}
	e.show(Event{What: Told, Text: text})
	return e.note(Mark{Kind: MarkNote, StepID: ColoursNote, Reason: kept})
}

// question asks what is seen of groups of a part.
func (l *looking) question(p lookPart, groups []string) Question {
	q := lookQuestion(l.s, groups, len(groups) < len(p.groups), l.noColours)
	if l.o.ColoursAsked {
		q.Choices = without(q.Choices, NoColours)
		q.Choices = without(q.Choices, Colours)
	}
	return l.withButtons(q, groups)
}
