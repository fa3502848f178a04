package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// AllRight is StepRecord.Seen where the maker saw what should be seen, and what
// is said so of one group.
const AllRight = "all right"

// AllRightButColour is what is said of one group that is as it should be, by somebody who can't
// judge colours: those weren't seen.
const AllRightButColour = "all right, colours not judged"

// isAllRight: all is as it should be, with a count of what is lit or without.
func isAllRight(words string) bool {
	return words == AllRight || strings.HasPrefix(words, AllRight+", ") && strings.HasSuffix(words, " lit")
}

// looking is a look under way.
type looking struct {
	*engine
	s       Step
	parts   []lookPart
	said    [][]GroupSeen // answer by answer
	left    []string      // groups that the maker leaves out
	lit     int           // the part that is on; -1: none
	lightAt time.Time     // it's lit again then; zero: that isn't asked for
	drew    []float64     // A, least and most, while it was lit last; nil: it isn't known
	// pressed is how often each board's button was since that part went on.
	pressed map[string]int
}

// lookPart is what is lit at once, and the groups that are asked for then.
type lookPart struct{ on, groups []string }

// look powers what it can and asks what the maker sees. With a relay or one
// clip that is on all of it, as it is once wires were moved, that is one question;
// else one for each terminal: to look alone nobody joins wires. What is answered belongs to the groups that were
// asked for, and to no other.
func (e *engine) look(ctx context.Context, s Step) error {
	if unattended(e.f) {
		return ErrUnattended
	}
	if err := e.prepare(ctx, s, false); err != nil {
		return err
	}
	l := looking{engine: e, s: s, parts: e.lookParts(s), lit: -1}
	for {
		i, groups := l.next()
		if i < 0 {
			break
		}
		err := l.at(ctx, i, groups)
		var skip *skipError
		switch {
		case err == nil:
		case errors.Is(err, errTakenBack) && len(l.said) > 0 && e.undo.in(s):
			l.said = l.said[:len(l.said)-1]
			e.rec.Seen = seenText(s, l.all())
			if err := e.takeBack(); err != nil {
				return err
			}
		case errors.As(err, &skip):
			l.left = append(l.left, groups...)
			e.warn(quoted(groups) + ": not looked at, " + skip.reason)
		default:
			return err
		}
	}
	if len(l.said) == 0 {
		return &skipError{strings.Join(e.rec.Warnings, "; ")}
	}
	return e.off(ctx)
}

// next is the first part with a group of which nothing was said; -1: none.
func (l *looking) next() (part int, groups []string) {
	for i, p := range l.parts {
		groups := slices.DeleteFunc(slices.Clone(p.groups), func(g string) bool {
			return slices.Contains(l.left, g) ||
				slices.ContainsFunc(l.all(), func(x GroupSeen) bool { return x.Group == g })
		})
		if len(groups) > 0 {
			return i, groups
		}
	}
	return -1, nil
}

func (l *looking) all() (out []GroupSeen) {
	for _, a := range l.said {
		out = append(out, a...)
	}
	return out
}

// at powers a part, unless it is lit, and asks what is seen of groups on it.
func (l *looking) at(ctx context.Context, i int, groups []string) error {
	p := l.parts[i]
	if l.lit != i {
		l.lit = -1
		if err := l.off(ctx); err != nil {
			return err
		}
		if _, err := l.connect(ctx, l.s, p.on); err != nil {
			return err
		}
		if err := l.letHandsGo(ctx, l.s, litSoon); err != nil {
			return err
		}
		if err := l.ramp(ctx, l.s); err != nil {
			return err
		}
		if err := l.settle(ctx, l.s); err != nil {
			return err
		}
		l.lit, l.pressed = i, map[string]int{}
	}
	a, err := l.askStepping(ctx, p, groups)
	if err != nil {
		return err
	}
	if a.Choice == "wrong" {
		saw, err := l.understand(ctx, groups, a.Text)
		if err != nil {
			return err
		}
		return l.looked(saw)
	}
	if err := choice(a); err != nil {
		return err
	}
	var right []GroupSeen
	for _, g := range groups {
		right = append(right, GroupSeen{g, AllRight})
	}
	return l.looked(right)
}

// looked marks an answer, with all that was seen so far in this step.
func (l *looking) looked(saw []GroupSeen) error {
	for i := range saw {
		if l.noColours && isAllRight(saw[i].Words) {
			saw[i].Words += strings.TrimPrefix(AllRightButColour, AllRight) // a count stays with it
		}
	}
	l.said = append(l.said, saw)
	all := l.all()
	l.rec.Seen = seenText(l.s, all)
	var of, now []string
	for _, a := range all {
		of = append(of, a.Group)
	}
	for _, a := range saw {
		now = append(now, a.Group)
	}
	if err := l.mark(Mark{Kind: MarkLooked, Seen: l.rec.Seen, Groups: of}); err != nil {
		return err
	}
	l.undo = &undo{what: "what you saw of " + quoted(now), of: []Order{l.lastMark()}, step: l.s.ID, groups: now}
	return nil
}

// seenText is StepRecord.Seen. All right of every group of the step is AllRight;
// else each group that was looked at has its own words.
func seenText(s Step, all []GroupSeen) string {
	right := len(all) == len(s.Groups)
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b GroupSeen) int {
		return slices.Index(s.Groups,
			a.Group) - slices.Index(s.Groups, b.Group)
	})
	var out []string
	for _, a := range all {
		right = right && a.Words == AllRight
		out = append(out, a.Group+": "+strings.ReplaceAll(a.Words, ";", ","))
	}
	if right && len(all) > 0 {
		return AllRight
	}
	return strings.Join(out, "; ")
}

func (e *engine) lookParts(s Step) []lookPart {
	if _, rest := e.channels(s.On); len(rest) <= 1 || s.Way == Joined || e.clip == clipOn(rest, s.Outputs) {
		return []lookPart{{s.On, s.Groups}}
	}
	var out []lookPart
	for _, t := range s.On {
		p := lookPart{on: []string{t}}
		for _, g := range s.GroupsBy[t] {
			if slices.Contains(s.Groups, g) {
				p.groups = append(p.groups, g)
			}
		}
		if s.GroupsBy == nil {
			p.groups = p.on
		}
		if len(p.groups) > 0 {
			out = append(out, p)
		}
	}
	return out
}

// understand makes out what the maker's words say of which group. What isn't
// understood whole is asked again, with what was understood; the words stay as
// they were typed where the maker says that this is it.
func (l *looking) understand(ctx context.Context, groups []string, text string) ([]GroupSeen, error) {
	for range understandTries {
		u := l.readLook(groups, text)
		u.Seen = slices.DeleteFunc(u.Seen, func(x GroupSeen) bool { return !slices.Contains(groups, x.Group) })
		if u.Whole && len(u.Seen) > 0 {
			l.show(Event{What: Told, Text: "Understood: " + u.Text + "."})
			return u.Seen, nil
		}
		a, err := l.askLit(ctx, understoodQuestion(l.s, groups, u))
		if errors.Is(err, errFirstPace) {
			continue // it's asked as before
		}
		if err != nil {
			return nil, err
		}
		switch {
		case a.Choice == "right" && len(u.Seen) > 0:
			return u.Seen, nil
		case a.Choice == "wrong":
			text = a.Text
		default:
			if err := choice(a); err != nil {
				return nil, err
			}
		}
	}
	return nil, &skipError{"what was seen could not be understood"}
}

// understandTries is how often what was seen is asked for before the look is left
// out: a face that answers anything must not go on for ever.
const understandTries = 20

// readLook asks the guide. One that knows no words takes what was typed at one
// group for that group, and at several only what begins with a name.
func (e *engine) readLook(groups []string, text string) Understood {
	if l, ok := e.g.(Looker); ok {
		return l.Understand(groups, text)
	}
	group, words := "", strings.TrimSpace(text)
	if name, rest, ok := strings.Cut(text, ":"); ok && slices.Contains(groups, strings.TrimSpace(name)) {
		group, words = strings.TrimSpace(name), strings.TrimSpace(rest)
	} else if len(groups) == 1 {
		group = groups[0]
	}
	if group == "" || words == "" {
		return Understood{}
	}
	return Understood{Seen: []GroupSeen{{group, words}}, Whole: true, Text: group + ": " + words}
}

func understoodQuestion(s Step, groups []string, u Understood) Question {
	q := Question{Kind: AskUnderstood, Groups: groups, Step: &s, Choices: []string{"right", "wrong", "skip", "stop"}}
	switch {
	case u.Text != "":
		q.Text = "I understood: " + u.Text + "."
	case len(u.Seen) > 0:
		q.Text = "I understood only that something is wrong with " + quoted(groups) + "."
	default:
		q.Text = "Which of them is that? Lit are " + quoted(groups) + "."
		q.Choices = []string{"wrong", "skip", "stop"}
	}
	q.Help = "Say the group, how many, and what: dark, dim, flickers, wrong colour, wrong place. As: " + groups[0] +
		": 2 dark"
	return q
}

// lookQuestion asks for groups that are lit; rest: of others beside them
// something was said already.
// noColours: whoever looks can't judge them.
func lookQuestion(s Step, groups []string, rest, noColours bool) Question {
	text := "Look at " + quoted(groups) + ": all lit as it should be?"
	if rest {
		text = "And the rest, " + quoted(groups) + ": all lit as it should be?"
	}
	eye, colours, change := "look at their colour and at their place", "", NoColours
	if noColours {
		eye, colours, change = "look at their place", " Colours aside: whoever looks can't judge them.", Colours
	}
	should := "You should see: " + strings.Join(seeOf(s, groups), "; ") + "."
	if slices.ContainsFunc(groups, func(g string) bool { return slices.Contains(s.Flash, g) }) {
		should += " Some lights flash."
	}
	return Question{Kind: AskLook, Text: text + " " + should + colours,
		Groups: groups, Step: &s, Choices: []string{"right", "wrong", change, "skip", "stop"}, NoColours: noColours,
		Help: fmt.Sprintf("%s Count them, %s. All of it right: say so. Else say the "+
			"group, how many, and what: dark, dim, flickers, wrong colour, wrong place. As: %s: 2 dark",
			should, eye, groups[0])}
}

// seeOf is what should be seen of groups.
func seeOf(s Step, groups []string) []string {
	if len(s.GroupsBy) == 0 && len(s.See) > 0 {
		return s.See
	}
	var out []string
	for _, t := range s.On {
		for i, g := range s.GroupsBy[t] {
			if slices.Contains(groups, g) && i < len(s.SeeBy[t]) {
				out = append(out, s.SeeBy[t][i])
			}
		}
	}
	if out == nil {
		return groups
	}
	return out
}
