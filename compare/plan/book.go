package plan

import (
	"embed"
	"fmt"
	"slices"
	"sort"
	"strings"
	"sync"
)

// Book is parts by name. It doesn't change once made, so any number of
// goroutines may read it.
type Book struct {
	parts map[string]Part
}

//go:embed parts/*.toml
var builtInParts embed.FS

// builtIn reads the built-in parts once; they never change. What can't be read
// is left out: a test reads every file.
var builtIn = sync.OnceValue(func() *Book {
	b, _ := readBuiltIn()
	return b
})

func readBuiltIn() (*Book, []Problem) {
	b := &Book{}
	// The numbers in their names put LEDs before what is made of them.
	files, err := builtInParts.ReadDir("parts")
	if err != nil {
		return b, []Problem{{File: "parts", What: err.Error()}}
	}
	var all []Problem
	for _, f := range files {
		src, err := builtInParts.ReadFile("parts/" + f.Name())
		if err != nil {
			all = append(all, Problem{File: f.Name(), What: err.Error()})
			continue
		}
		more, problems := addParts(b, f.Name(), src)
		if all = append(all, problems...); more != nil {
			b = more
		}
	}
	return b, all
}

// BuiltIn is the book of the built-in parts.
func BuiltIn() *Book { return builtIn() }

// Find returns a built-in part; see Book.Find.
func Find(name string) (Part, error) { return builtIn().Find(name) }

// UnknownPartError names a part that isn't in a book, and the likeliest ones.
type UnknownPartError struct {
	Name    string
	Nearest []string // names of parts, the likeliest first
}

func (e *UnknownPartError) Error() string {
	if len(e.Nearest) == 0 {
		return fmt.Sprintf("no part %q: the book is empty", e.Name)
	}
	return fmt.Sprintf("no part %q; nearest: %s", e.Name, quoted(e.Nearest))
}

// Find returns the part of a name, else an *UnknownPartError.
func (b *Book) Find(name string) (Part, error) {
	if p, ok := b.get(name); ok {
		return p, nil
	}
	return Part{}, &UnknownPartError{Name: name, Nearest: closest(name, b.names(), 4)}
}

func (b *Book) get(name string) (Part, bool) {
	if b == nil {
		return Part{}, false
	}
	p, ok := b.parts[name]
	return p, ok
}

// Parts returns all parts, by kind and name.
func (b *Book) Parts() []Part {
	out := make([]Part, 0, len(b.parts))
	for _, n := range b.names() {
		out = append(out, b.parts[n])
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Kind < out[j].Kind })
	return out
}

// names lists the parts of some kinds, or all.
func (b *Book) names(kinds ...PartKind) []string {
	var out []string
	for n, p := range b.parts {
		if len(kinds) == 0 || slices.Contains(kinds, p.Kind) {
			out = append(out, n)
		}
	}
	sort.Strings(out)
	return out
}

// ParseBook reads a maker's part book: a file with [part."name"] tables as in
// a plan. What it says of a built-in part replaces those values and keeps the
// others; pass the result to ParseWith.
func ParseBook(file string, src []byte) (*Book, []Problem) {
	return addParts(builtIn(), file, src)
}

// addParts makes a book of an older one and the parts of a file. Nil when
// there are problems.
func addParts(old *Book, file string, src []byte) (*Book, []Problem) {
	s := newSource(file, src)
	root, ok := s.read()
	if !ok {
		return nil, inOrder(s.problems)
	}
	top := s.table(root, "the part book", "part")
	b := s.parts(top, old)
	s.checkTexts(root)
	if len(s.problems) > 0 {
		return nil, inOrder(s.problems)
	}
	return b, nil
}

// parts reads the [part."name"] tables of a file on top of a book.
func (s *source) parts(top *section, old *Book) *Book {
	b := &Book{parts: make(map[string]Part, len(old.parts)+8)}
	for n, p := range old.parts {
		b.parts[n] = p
	}
	for _, e := range s.tables(top, "part", `[part."my strip"]`) {
		if !s.checkName(e.keyAt, "part", e.key, false) {
			continue
		}
		if p, ok := s.onePart(e, b); ok {
			b.parts[e.key] = p
		}
	}
	s.checkCurves(top, b)
	return b
}

func (s *source) onePart(e entry, b *Book) (Part, bool) {
	what := fmt.Sprintf("part %q", e.key)
	raw := &section{source: s, n: e.val, what: what}
	base, known := b.get(e.key)
	if like := raw.words("like", "strip warm white 12 V"); like != "" {
		p, err := b.Find(like)
		if err != nil {
			s.fail(raw.at("like"), suggest(like, b.names(), "parts")+" (a part that stands further up)",
				"unknown part %q", like)
			return Part{}, false
		}
		base, known = p, true
		base.Source = "as " + like + "; " + strings.TrimPrefix(p.Source, "as ")
	}
	kind := raw.choice("kind", string(base.Kind), kindNames...)
	if kind == "" {
		if !raw.has("kind") {
			s.fail(e.keyAt,
				`add like = "strip warm white 12 V" (a known part), or kind = "strip", "smd", "led", "board" or `+
					`"load"`,
				"%s doesn't say what it is", what)
		}
		return Part{}, false
	}
	if known && PartKind(kind) != base.Kind {
		s.fail(raw.at("kind"), "leave kind out, or give the part a name of its own", "%s is of kind %q", what,
			base.Kind)
		return Part{}, false
	}
	if !known {
		base = blankPart(PartKind(kind))
	}
	base.Name = e.key
	sec := s.table(e.val, what, append(keysIn("part"), keysOf(base.Kind)...)...)
	p := readPart(sec, base)
	return p, sec.complete(&p)
}

var kindNames = []string{"strip", "smd", "led", "board", "load"}

// blankPart holds what is assumed of a part of which nothing is said.
func blankPart(k PartKind) Part {
	p := Part{Kind: k, Share: 0.5, Source: "the maker's own values"}
	switch k {
	case PartStrip:
		p.Tolerance, p.Share, p.CopperOhms, p.LED = 0.3, 0.9, 0.02, "warm white 0603"
	case PartSMD:
		p.Tolerance, p.InSeries, p.LED = 0.3, 1, "warm white 0603"
	case PartLED:
		p.SpreadVolts, p.TempcoVPerK, p.MaxAmps = 0.3, -0.002, 0.02
	case PartBoard:
		p.Tolerance, p.Run = 0.5, Free
	}
	return p
}

// checkCurves sees that strips and SMDs name an LED that exists.
func (s *source) checkCurves(top *section, b *Book) {
	for _, e := range s.tables(top, "part", "") {
		p, ok := b.get(e.key)
		if !ok || p.Kind != PartStrip && p.Kind != PartSMD {
			continue
		}
		if led, ok := b.get(p.LED); !ok || led.Kind != PartLED {
			at := e.keyAt
			if l := e.val.get("led"); l != nil {
				at = l.val.at
			}
			s.fail(at, suggest(p.LED, b.names(PartLED), "LEDs"), "unknown LED %q", p.LED)
		}
	}
}

// tables lists the sub-tables of [key.*]; what isn't a table is reported, once,
// when an example is given.
func (s *source) tables(top *section, key, example string) []entry {
	e := top.n.get(key)
	if e == nil {
		return nil
	}
	if e.val.shape != tableShape {
		if example != "" {
			s.fail(e.val.at, "write "+example, "%s must be a table with a name, not %s", key, e.val.shape)
		}
		return nil
	}
	var out []entry
	for _, sub := range e.val.entries {
		if sub.val.shape == tableShape {
			out = append(out, sub)
		} else if example != "" {
			s.fail(sub.keyAt, "write "+example, "%s.%s must be a table, not %s", key, sub.key, sub.val.shape)
		}
	}
	if len(out) > maxGroups {
		s.fail(out[maxGroups].keyAt, "make several files of it", "there are %d tables [%s.…], more than %d", len(out), key,
			maxGroups)
		return out[:maxGroups]
	}
	return out
}
