package plan

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
)

// Options is what a plan is read with besides the file.
type Options struct {
	// Book replaces the built-in parts, see ParseBook; nil: the built-in ones.
	Book *Book
}

// Parse reads a plan with the built-in parts. File is for messages only. With
// any problem there is no plan; all problems that could be found are returned,
// in the order of the file. Warnings are in the plan.
func Parse(file string, src []byte) (*Plan, []Problem) {
	return ParseWith(file, src, Options{})
}

// ParseWith is Parse with options.
func ParseWith(file string, src []byte, o Options) (*Plan, []Problem) {
	s := newSource(file, bytes.TrimPrefix(src, byteOrderMark))
	root, ok := s.read()
	if !ok {
		return nil, inOrder(s.problems)
	}
	book := o.Book
	if book == nil {
		book = builtIn()
	}
	// Lists are never null in JSON.
	empty := &Plan{Joints: []Joint{}, Returns: []Return{}, Boards: []Board{}}
	p := &parser{source: s, plan: empty, terminals: newNameBook(s), unsure: map[string]bool{}}
	p.top(root, book)
	s.checkTexts(root)
	if len(s.problems) > 0 {
		return nil, inOrder(s.problems)
	}
	sum := sha256.Sum256(src)
	p.plan.Revision = hex.EncodeToString(sum[:])[:12]
	p.plan.Warnings = inOrder(s.warnings)
	return p.plan, nil
}

// parser holds a plan in the making.
type parser struct {
	*source
	plan      *Plan
	book      *Book
	terminals nameBook // groups and boards: what a clip or relay is called

	jackOf   map[string]string // jack of each jack and joint
	returnTo map[string]string // jack of each jack and return
	inside   map[string]string // closure to the one that it closes inside
	unsure   map[string]bool   // boards whose part is unknown
}

func (p *parser) top(root *node, book *Book) {
	top := p.table(root, "the plan", keysIn("plan")...)
	if top.must("build", `"Brackwater"`) {
		if v := top.value("build", textShape, `"Brackwater"`); v != nil {
			p.plan.Build = v.text
			p.checkName(v.at, "build", v.text, true)
		}
	}
	p.plan.Scale = top.words("scale", "1:96")
	p.book = p.parts(top, book)
	p.jacks(top)
	p.joints(top)
	p.returns(top)
	p.closures(top)
	p.boards(top)
	p.groups(top)
	p.crossChecks()
}

// part looks a part up, or reports it with the nearest known name.
func (p *parser) part(s *section, key, name string, kinds ...PartKind) (Part, bool) {
	return p.partAt(s.at(key), name, kinds...)
}

func (p *parser) partAt(at int, name string, kinds ...PartKind) (Part, bool) {
	found, ok := p.book.get(name)
	if !ok {
		p.fail(at, suggest(name, p.book.names(kinds...), "parts"), "unknown part %q", name)
		return Part{}, false
	}
	for _, k := range kinds {
		if k == found.Kind {
			return found, true
		}
	}
	p.fail(at, suggest(name, p.book.names(kinds...), "parts"), "part %q is of kind %q, it can't stand here", name,
		found.Kind)
	return Part{}, false
}

// known reports a reference to something that isn't there.
func (p *parser) known(s *section, key, what string, names []string) string {
	v := s.value(key, textShape, fmt.Sprintf("%q", "keel"))
	if v == nil {
		return ""
	}
	if !contains(names, v.text) {
		p.fail(v.at, suggest(v.text, names, what+"s"), "unknown %s %q", what, v.text)
	}
	return v.text
}
