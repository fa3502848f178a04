package plan

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// shape is what a node of the file is.
type shape int

const (
	tableShape shape = iota
	arrayShape
	textShape
	numberShape
	boolShape
	dateShape
)

func (s shape) String() string {
	return [...]string{"a table", "a list", "text", "a number", "true or false", "a date"}[s]
}

// node is a value of the file with its place. The decoder has no positions for
// values that it accepts, hence a tree of our own.
type node struct {
	shape   shape
	at      int // byte offset of the value; of the name for [tables]
	end     int // just after it; 0 where the value isn't in one piece
	text    string
	number  float64
	whole   bool // written as an integer
	yes     bool
	entries []entry // of a table, in the order of the file
	index   map[string]int
	items   []*node // of a list
	open    bool    // made by [a.b] for a: may still get its own header
	inline  bool    // { … }: nothing can be added to it
	headed  bool    // list made by [[…]]
}

type entry struct {
	key   string
	keyAt int
	val   *node
}

// head is a line in brackets and the table that it opens.
type head struct {
	at    int // byte offset of its first name
	table *node
}

// keyToken is one name of a key as it stands in the file.
type keyToken struct {
	at, end int // byte offsets, quotes included
	in      *node
	name    string
}

func (n *node) get(key string) *entry {
	if i, ok := n.index[key]; ok {
		return &n.entries[i]
	}
	return nil
}

func (n *node) add(key string, keyAt int, val *node) {
	if n.index == nil {
		n.index = map[string]int{}
	}
	n.index[key] = len(n.entries)
	n.entries = append(n.entries, entry{key, keyAt, val})
}

// maxPlanBytes bounds work on a file that is no plan.
const maxPlanBytes = 1 << 20

// read makes the tree. False: the file isn't TOML, a problem says where.
func (s *source) read() (*node, bool) {
	if s.encoding() {
		return nil, false
	}
	root := &node{shape: tableShape}
	here := root
	var p unstable.Parser
	p.Reset(s.text)
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.KeyValue:
			s.put(&p, here, e)
		case unstable.Table, unstable.ArrayTable:
			here = s.header(root, e)
			it := e.Key()
			it.Next()
			s.heads = append(s.heads, head{int(it.Node().Raw.Offset), here})
		}
	}
	if err := p.Error(); err != nil {
		at := len(s.text)
		var pe *unstable.ParserError
		if errors.As(err, &pe) {
			at = int(p.Range(pe.Highlight).Offset)
		}
		s.syntax(at, err.Error())
		return nil, false
	}
	s.settleHeadings()
	if len(s.problems) > 0 {
		return root, true
	}
	// The decoder knows rules of TOML that the parser leaves to its user.
	var all map[string]any
	if err := toml.Unmarshal(s.text, &all); err != nil {
		at := 0
		var de *toml.DecodeError
		if errors.As(err, &de) {
			row, col := de.Position()
			if row >= 1 && row <= len(s.starts) {
				at = s.starts[row-1] + max(col, 1) - 1
			}
		}
		s.syntax(at, strings.TrimPrefix(err.Error(), "toml: "))
		return nil, false
	}
	return root, true
}

// header finds or makes the table that [a.b] or [[a.b]] opens.
func (s *source) header(root *node, e *unstable.Node) *node {
	list := e.Kind == unstable.ArrayTable
	here := root
	if slip := s.bracketSlip(e, list); slip != nil {
		return s.slipped(root, e, *slip)
	}
	it := e.Key()
	for it.Next() {
		k := it.Node()
		at, name := int(k.Raw.Offset), string(k.Data)
		s.tokens = append(s.tokens, keyToken{at, at + int(k.Raw.Length), here, name})
		old := here.get(name)
		if !it.IsLast() {
			if old == nil {
				n := &node{shape: tableShape, at: at, open: true}
				here.add(name, at, n)
				here = n
				continue
			}
			here = s.into(old, at)
			continue
		}
		switch {
		case old == nil && list:
			n := &node{shape: tableShape, at: at}
			l := &node{shape: arrayShape, at: at, headed: true, items: []*node{n}}
			here.add(name, at, l)
			return n
		case old == nil:
			n := &node{shape: tableShape, at: at}
			here.add(name, at, n)
			return n
		case list && old.val.headed:
			n := &node{shape: tableShape, at: at}
			old.val.items = append(old.val.items, n)
			return n
		case !list && old.val.shape == tableShape && old.val.open:
			old.val.open, old.val.at = false, at
			return old.val
		}
		s.again(name, at, old)
		return &node{shape: tableShape, at: at}
	}
	return here
}

// into steps into what a dotted name leads through.
func (s *source) into(old *entry, at int) *node {
	v := old.val
	if v.headed {
		return v.items[len(v.items)-1]
	}
	if v.shape == tableShape && !v.inline {
		return v
	}
	s.again(old.key, at, old)
	return &node{shape: tableShape, at: at}
}

func (s *source) again(name string, at int, old *entry) {
	s.fail(at, "give one of them another name, or put both together",
		"%q stands here a second time; the first is on line %d", name, s.place(old.keyAt).Line)
}

// put adds key = value to a table.
func (s *source) put(p *unstable.Parser, here *node, e *unstable.Node) {
	it := e.Key()
	var lastEnd int
	for it.Next() {
		k := it.Node()
		at, name := int(k.Raw.Offset), string(k.Data)
		lastEnd = at + int(k.Raw.Length)
		s.tokens = append(s.tokens, keyToken{at, lastEnd, here, name})
		old := here.get(name)
		if it.IsLast() {
			v := s.value(p, e.Value(), s.afterEquals(lastEnd))
			v.end = int(e.Raw.Offset + e.Raw.Length)
			if old != nil {
				s.again(name, at, old)
				return
			}
			here.add(name, at, v)
			return
		}
		if old == nil {
			n := &node{shape: tableShape, at: at}
			here.add(name, at, n)
			here = n
			continue
		}
		here = s.into(old, at)
	}
}

// afterEquals is where the value of a key that ends at i begins.
func (s *source) afterEquals(i int) int {
	for i < len(s.text) && (s.text[i] == ' ' || s.text[i] == '\t' || s.text[i] == '=') {
		i++
	}
	return i
}

func (s *source) value(p *unstable.Parser, v *unstable.Node, at int) *node {
	n := &node{at: at}
	if v.Raw.Length > 0 {
		n.at = int(v.Raw.Offset)
		n.end = n.at + int(v.Raw.Length)
	}
	switch v.Kind {
	case unstable.InlineTable:
		n.shape, n.inline, n.end = tableShape, true, 0
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				s.put(p, n, it.Node())
			}
		}
	case unstable.Array:
		n.shape, n.end = arrayShape, 0
		for it := v.Children(); it.Next(); {
			n.items = append(n.items, s.value(p, it.Node(), at))
		}
	case unstable.String:
		n.shape, n.text = textShape, string(v.Data)
	case unstable.Bool:
		n.shape, n.yes = boolShape, string(v.Data) == "true"
	case unstable.Integer, unstable.Float:
		n.shape = numberShape
		n.number, n.whole = numberOf(string(v.Data), v.Kind == unstable.Integer)
	default:
		n.shape, n.text = dateShape, string(v.Data)
	}
	return n
}

func numberOf(text string, integer bool) (float64, bool) {
	text = strings.ReplaceAll(text, "_", "")
	if integer {
		if i, err := strconv.ParseInt(text, 10, 64); err == nil {
			return float64(i), true
		}
		if i, err := strconv.ParseInt(text, 0, 64); err == nil {
			return float64(i), true
		}
	}
	// Out of range gives Inf, which no check of a range lets pass.
	f, _ := strconv.ParseFloat(text, 64)
	return f, false
}

// show is the value as a maker would write it, for messages.
func (n *node) show() string {
	switch n.shape {
	case textShape, dateShape:
		return fmt.Sprintf("%q", n.text)
	case numberShape:
		return plainNumber(n.number)
	case boolShape:
		return strconv.FormatBool(n.yes)
	}
	return n.shape.String()
}

// plainNumber prints a number as a maker would write it.
func plainNumber(f float64) string { return strconv.FormatFloat(f, 'g', 6, 64) }
