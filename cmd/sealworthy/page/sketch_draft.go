package page

import (
	"bytes"
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
)

// drafts are plans that are being changed, one a build for all pages.
type drafts struct {
	mu sync.Mutex
	of map[string]*draft
}

// find gives the draft of a build; nil: nobody has opened its plan yet.
func (x *drafts) find(id string) *draft {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.of[id]
}

func (x *drafts) get(id string) *draft {
	x.mu.Lock()
	defer x.mu.Unlock()
	d := x.of[id]
	if d == nil {
		d = &draft{}
		x.of[id] = d
	}
	return d
}

// draft is a plan in the making: the file as it was read, and steps on it. mu is held
// while it's used.
type draft struct {
	mu      sync.Mutex
	version int      // counts all that became of it
	file    PlanFile // as it is now
	known   PlanKnown
	base    []byte // as it was when the first step was made
	steps   []step

	// asks holds one form, as it's filled in, behind another while what comes of it is reckoned: the draft is free
	// for pages meanwhile, and who has gone by his turn gets nothing.
	asks sync.Mutex
}

// step is several changes as one.
type step struct {
	changes []plan.Change
	edit    string // PATH = VALUE, of an offer, in place of changes
	says    string
	after   sketch.Place // what is shown then
	src     []byte       // the plan after it
}

// make makes the step on a plan.
func (s step) make(src []byte, o plan.Options) ([]byte, error) {
	if s.edit == "" {
		return plan.EditAll(src, s.changes, o)
	}
	path, value, err := fault.ParseEdit(s.edit)
	if err != nil {
		return nil, err
	}
	return fault.Amend(src, path, value, o)
}

// read takes the file as it is now. While nothing was changed, the draft is the file.
func (d *draft) read(f PlanFile) {
	d.file = f
	if len(d.steps) == 0 && !bytes.Equal(d.base, f.Src) {
		d.base = f.Src
		d.version++
	}
}

// now is the plan with all steps.
func (d *draft) now() []byte {
	if n := len(d.steps); n > 0 {
		return d.steps[n-1].src
	}
	return d.base
}

// parted: the file isn't what the steps were made on.
func (d *draft) parted() bool { return !bytes.Equal(d.base, d.file.Src) }

// isAt: a form was of this draft as it is now.
func (d *draft) isAt(version string) bool { return version == strconv.Itoa(d.version) }

func (d *draft) plan() (*plan.Plan, plan.Said, error) {
	p, problems := plan.ParseWith(d.file.Where, d.now(), d.file.Options)
	if len(problems) > 0 {
		return nil, plan.Said{}, problems[0]
	}
	said, err := plan.ReadSaid(d.now())
	return p, said, err
}

func (d *draft) says() (out []string) {
	for _, s := range d.steps {
		out = append(out, s.says)
	}
	return out
}

func (d *draft) undo() error {
	if len(d.steps) == 0 {
		return errors.New("nothing was changed that could be taken back")
	}
	d.steps = d.steps[:len(d.steps)-1]
	d.version++
	return nil
}

func (d *draft) forget() error {
	d.steps, d.base = nil, d.file.Src
	d.version++
	return nil
}

func (d *draft) saved() {
	d.base, d.steps = d.now(), nil
	d.version++
}

// again makes the steps on the file as it is now: all, or none.
func (d *draft) again() error {
	src := d.file.Src
	var steps []step
	for _, s := range d.steps {
		next, err := s.make(src, d.file.Options)
		if err != nil {
			return fmt.Errorf("%q can't be made on the file as it is now: %w", s.says, err)
		}
		s.src, src = next, next
		steps = append(steps, s)
	}
	d.base, d.steps = d.file.Src, steps
	d.version++
	return nil
}

// changed is the step that the filled-in form of a place asks for.
func changed(d *draft, p *plan.Plan, said plan.Said, form url.Values) (step, error) {
	at := atOf(form.Get("at"))
	fields, err := sketch.Fields(p, said, at)
	if err != nil {
		return step{}, err
	}
	filled := map[string]string{}
	for _, f := range fields {
		if v, ok := form["f "+f.Path]; ok && len(v) > 0 {
			filled[f.Path] = v[0]
		}
	}
	if unread := sketch.Unread(fields, filled); unread != nil {
		return step{}, errors.New(strings.Join(unread, "; "))
	}
	changes, after := sketch.Changes(fields, said.Book(d.file.Options), at, filled)
	if len(changes) == 0 {
		return step{}, errNothingDiffers
	}
	if n := d.known.Measured[at.Name]; after.Name != at.Name && n > 0 && isFeed(at) && !form.Has("sure") {
		return step{}, fmt.Errorf("%s %s Tick that you want it all the same", capital(readingsUnder(at.Name, n)),
			staysUnder(at.Name))
	}
	return step{changes: changes, says: filledIn(at, fields, filled), after: after}, nil
}

var errNothingDiffers = errors.New("nothing differs from what the plan says already")

func isFeed(at sketch.Place) bool { return at.Kind == "group" || at.Kind == "board" }

func readingsUnder(name string, n int) string {
	if n == 1 {
		return fmt.Sprintf("one reading is kept under the name %q.", name)
	}
	return fmt.Sprintf("%d readings are kept under the name %q.", n, name)
}

// staysUnder says what becomes of the readings of something that gets another name, or
// is taken out.
func staysUnder(name string) string {
	return fmt.Sprintf("They stay there: under another name it counts as not measured, and what it closes under "+
		"waits until you have said that you touched %q.", name)
}

// removed is the step that takes a place out.
func removed(_ *draft, p *plan.Plan, said plan.Said, form url.Values) (step, error) {
	at := atOf(form.Get("at"))
	changes, err := sketch.Remove(p, said, at)
	return step{changes: changes, says: at.Kind + " " + at.Name + " taken out"}, err
}

// addedPlace is the step that adds one.
func addedPlace(d *draft, p *plan.Plan, said plan.Said, form url.Values) (step, error) {
	n := sketch.New{Place: sketch.Place{Kind: form.Get("kind"), Name: strings.Join(strings.Fields(form.Get("name")),
		" ")}, On: form.Get("on"), Part: form.Get("part"),
		Closure: form.Get("closure"), Count: strings.TrimSpace(form.Get("count"))}
	if n.Name == "" {
		return step{}, fmt.Errorf("the new %s needs a name", n.Kind)
	}
	c, err := sketch.Added(p, said, said.Book(d.file.Options), n)
	return step{changes: []plan.Change{c}, says: n.Kind + " " + n.Name + " added", after: n.Place}, err
}

// addedItem is the step that adds to a list of a place.
func addedItem(d *draft, p *plan.Plan, said plan.Said, form url.Values) (step, error) {
	at, filled := atOf(form.Get("at")), map[string]string{}
	for k := range form {
		if key, ok := strings.CutPrefix(k, "i "); ok {
			filled[key] = form.Get(k)
		}
	}
	changes, err := sketch.Listed(p, said, said.Book(d.file.Options), at, form.Get("list"), filled)
	return step{changes: changes, says: saysOf(at, changes), after: at}, err
}

// takenOut is the step that takes out of one.
func takenOut(_ *draft, p *plan.Plan, said plan.Said, form url.Values) (step, error) {
	at := atOf(form.Get("at"))
	c, err := sketch.TakeOut(p, said, at, form.Get("item"))
	return step{changes: []plan.Change{c}, says: saysOf(at, []plan.Change{c}), after: at}, err
}

// saysOf says what changes do to a place.
func saysOf(at sketch.Place, changes []plan.Change) string {
	var says []string
	for _, c := range changes {
		path, value, _ := strings.Cut(strings.TrimPrefix(c.String(), at.Path()+"."), " = ")
		if path = counted(path); value != "" {
			path += " = " + value
		}
		says = append(says, path)
	}
	return at.Kind + " " + at.Name + ": " + strings.Join(says, "; ")
}

// filledIn says in the words of its form what it does to a place.
func filledIn(at sketch.Place, fields []sketch.Field, filled map[string]string) string {
	var says []string
	for _, f := range fields {
		v, ok := f.Filled(filled)
		if !ok {
			continue
		}
		for _, c := range f.Choices {
			if c.Value == v {
				v = c.Says
			}
		}
		switch _, err := strconv.ParseFloat(v, 64); {
		case v == "":
			v = "not said any more"
		case err == nil && f.Unit != "" && f.Unit != "gauge":
			v += " " + f.Unit
		}
		says = append(says, f.Label+" "+v)
	}
	return at.Kind + " " + at.Name + ": " + strings.Join(says, "; ")
}

// counted names an entry of a list as one counts them: lights[0].ohms is lights 1: ohms.
func counted(path string) string {
	return listEntry.ReplaceAllStringFunc(path, func(x string) string {
		n, err := strconv.Atoi(strings.Trim(x, "[]."))
		if err != nil { // too many digits for a place in a list
			return x
		}
		if strings.HasSuffix(x, ".") {
			return fmt.Sprintf(" %d: ", n+1)
		}
		return fmt.Sprintf(" %d", n+1)
	})
}

var listEntry = regexp.MustCompile(`\[\d+\]\.?`)
