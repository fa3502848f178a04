package plots

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"sealworthy/compare/words"
)

// FeedTreeData is the feed tree of a model with its currents and drops.
type FeedTreeData struct {
	Title     string     // of the picture
	Nodes     []TreeNode // parents before children
	Simulated bool       // the picture says so
	Notes     []string   // below it, a line each
}

// TreeNode is a jack, a joint, a board or a group, and the wire that leads to it.
type TreeNode struct {
	Name string
	From string // the node it hangs on; empty for a jack
	Kind string // jack, joint, board, group, return
	Wire string // of the way from From, and what sits in it; may be empty

	CurrentA float64 // through it
	VoltageV float64 // there, against the minus of the jack
	DropV    float64 // on the way from From
	// LowA to HighA and LowDropV to HighDropV is what healthy models show; no band where
	// the two are equal.
	LowA, HighA         float64
	LowDropV, HighDropV float64

	// Suspect says why the fault may be here; empty: it isn't suspected.
	Suspect string
}

// check gives the depth of each node.
func (d FeedTreeData) check() ([]int, error) {
	if len(d.Nodes) == 0 {
		return nil, errors.New("a feed tree without nodes can't be drawn")
	}
	at := map[string]int{}
	depth := make([]int, len(d.Nodes))
	for i, n := range d.Nodes {
		if !finite(n.CurrentA, n.VoltageV, n.DropV, n.LowA, n.HighA, n.LowDropV, n.HighDropV) {
			return nil, fmt.Errorf("%s %q has a figure that is no finite number", n.Kind, n.Name)
		}
		if _, twice := at[n.key()]; twice {
			return nil, fmt.Errorf("%s %q stands in the feed tree twice", n.Kind, n.Name)
		}
		if n.From != "" {
			p, ok := d.parent(i)
			if !ok {
				return nil, fmt.Errorf("%s %q hangs on %q, which doesn't stand above it", n.Kind, n.Name, n.From)
			}
			depth[i] = depth[p] + 1
		}
		at[n.key()] = i
	}
	return depth, nil
}

// key tells nodes apart: a group may be called like a joint.
func (n TreeNode) key() string { return n.Kind + "\x00" + n.Name }

// parent finds what node i hangs on: the last one above it of that name which
// can carry something. A board carries groups, a group carries nothing.
func (d FeedTreeData) parent(i int) (int, bool) {
	for p := i - 1; p >= 0; p-- {
		if d.Nodes[p].Name == d.Nodes[i].From && d.Nodes[p].Kind != "group" {
			return p, true
		}
	}
	return 0, false
}

// order walks the tree depth first, so that branches don't cross.
func (d FeedTreeData) order() []int {
	children := map[int][]int{}
	var roots, out []int
	for i, n := range d.Nodes {
		if p, ok := d.parent(i); n.From != "" && ok {
			children[p] = append(children[p], i)
		} else {
			roots = append(roots, i)
		}
	}
	var walk func(i int)
	walk = func(i int) {
		out = append(out, i)
		for _, c := range children[i] {
			walk(c)
		}
	}
	for _, r := range roots {
		walk(r)
	}
	return out
}

// FeedTree draws who hangs on what, with the current through each joint, the
// voltage there and what is lost on the way to it.
func FeedTree(w io.Writer, f Format, s Style, d FeedTreeData) error {
	depth, err := d.check()
	if err != nil {
		return err
	}
	line := 1.35 * s.TextPt
	height := s.TextPt*2 + 3.9*line + float64(len(d.Nodes))*treeRow*s.TextPt + float64(len(d.Notes))*line + 0.6*line
	if d.Simulated {
		height += line
	}
	return s.paint(w, f, height, spoken{d.Title, d.say()}, func(c *canvas) error {
		d.draw(c, depth)
		return nil
	})
}

// treeRow is the height of a row in sizes of text.
const treeRow = 2.4

func (d FeedTreeData) say() string {
	var told []string
	for _, i := range d.order() {
		n := d.Nodes[i]
		s := fmt.Sprintf("%s %s", n.Kind, n.Name)
		if n.From != "" {
			s += " on " + n.From
		}
		s += fmt.Sprintf(": %s, %.2f V", n.current(), n.VoltageV)
		if n.HighA > n.LowA {
			s += ", healthy " + words.MilliampBand(n.LowA, n.HighA)
		}
		if n.Suspect != "" {
			s += ", suspected: " + n.Suspect
		}
		told = append(told, s)
	}
	return strings.Join(told, "; ")
}

func (d FeedTreeData) draw(c *canvas, depth []int) {
	margin := c.TextPt
	y := c.h - margin - 1.1*c.TextPt
	c.text(c.head(), margin, y, left, c.fit(c.head(), d.Title, c.w-2*margin))
	y -= 1.5 * c.leading(c.body())
	y = d.legend(c, margin, y)
	x := d.columns(c)
	for i, h := range []string{"current", "volts there", "lost on the way"} {
		c.text(c.small(), x[i+1], y, right, h)
	}
	top := y - 0.6*c.TextPt
	var most float64
	for _, n := range d.Nodes {
		most = max(most, math.Abs(n.CurrentA))
	}
	ys := make([]float64, len(d.Nodes))
	for k, i := range d.order() {
		ys[i] = top - (float64(k)+0.5)*treeRow*c.TextPt
		if k > 0 {
			c.line(c.Colours.Grid, 0.4, margin, ys[i]+treeRow/2*c.TextPt, c.w-margin, ys[i]+treeRow/2*c.TextPt)
		}
	}
	for i, n := range d.Nodes {
		ink := c.Colours.Faint
		if n.Suspect != "" {
			ink = c.Colours.Bad
		}
		// The upright is shared with what hangs beside it: only the way to the side
		// is the suspect's own.
		if p, ok := d.parent(i); n.From != "" && ok {
			// As thick as the root of the current, so that the least is still seen.
			wide := 0.6 + 3.4*math.Sqrt(math.Abs(n.CurrentA)/max(most, 1e-12))
			px := d.x(c, depth[p])
			c.line(c.Colours.Faint, wide, px, ys[p]-0.5*c.TextPt, px, ys[i], px+0.5*wide, ys[i])
			c.line(ink, wide, px, ys[i], d.x(c, depth[i])-0.5*c.TextPt, ys[i])
		}
	}
	for i, n := range d.Nodes {
		d.node(c, n, d.x(c, depth[i]), ys[i], x)
	}
	y = top - float64(len(d.Nodes))*treeRow*c.TextPt - 0.4*c.TextPt
	for _, s := range d.Notes {
		y -= c.leading(c.small())
		c.text(c.small(), margin, y, left, c.fit(c.small(), s, c.w-2*margin))
	}
	if d.Simulated {
		c.simulated(margin, y-c.leading(c.small()))
	}
}

func (d FeedTreeData) x(c *canvas, depth int) float64 {
	return 1.8*c.TextPt + float64(depth)*2.2*c.TextPt
}

// columns gives where names must end and where each column of numbers ends.
func (d FeedTreeData) columns(c *canvas) [4]float64 {
	end := c.w - c.TextPt
	wide := 8.2 * c.TextPt
	return [4]float64{end - 2*wide - 5.2*c.TextPt, end - 2*wide, end - wide, end}
}

func (d FeedTreeData) node(c *canvas, n TreeNode, x, y float64, ends [4]float64) {
	base := y - 0.35*c.TextPt
	s, ink := nodeMark(n.Kind), c.Colours.Ink
	t := c.body()
	if n.Suspect != "" {
		ink, t.ink, t.bold = c.Colours.Bad, c.Colours.Bad, true
	}
	c.mark(s, ink, x, y, 0.42*c.TextPt)
	room := ends[0] - x - 1.2*c.TextPt
	name := c.fit(t, n.Name, room)
	c.text(t, x+c.TextPt, base, left, name)
	more := n.Wire
	small := c.small()
	if n.Suspect != "" {
		more, small.ink = "SUSPECT: "+n.Suspect, c.Colours.Bad
	}
	used := c.width(t, name) + 0.8*c.TextPt
	if more != "" && room-used > 3*c.TextPt {
		c.text(small, x+c.TextPt+used, base, left, c.fit(small, more, room-used))
	}
	// A figure stands above its band.
	figure := func(at typeface, x float64, s, band string) {
		if band == "" {
			c.text(at, x, base, right, s)
			return
		}
		c.text(at, x, base+0.45*c.TextPt, right, s)
		c.text(c.small(), x, base-0.5*c.TextPt, right, band)
	}
	figure(c.body(), ends[1], n.current(), n.currentBand())
	c.text(c.body(), ends[2], base, right, fmt.Sprintf("%.2f V", n.VoltageV))
	if n.From != "" {
		figure(t, ends[3], n.drop(), n.dropBand())
	}
}

// current is what flows, to the last place that its band justifies.
func (n TreeNode) current() string { return words.Milliamps(n.CurrentA, (n.HighA-n.LowA)/4) }

func (n TreeNode) currentBand() string {
	if !(n.HighA > n.LowA) {
		return ""
	}
	return words.MilliampBand(n.LowA, n.HighA)
}

// drop is what is lost, to the last place that its band justifies.
func (n TreeNode) drop() string {
	switch u := (n.HighDropV - n.LowDropV) / 4; {
	case !(u > 0):
		return volts(n.DropV)
	case inMillivolts(n.DropV):
		return words.Number(1e3*n.DropV, 1e3*u) + " mV"
	default:
		return words.Number(n.DropV, u) + " V"
	}
}

// dropBand is in the unit of the drop above it.
func (n TreeNode) dropBand() string {
	switch {
	case !(n.HighDropV > n.LowDropV):
		return ""
	case inMillivolts(n.DropV):
		return words.Band(1e3*n.LowDropV, 1e3*n.HighDropV) + " mV"
	}
	return words.Band(n.LowDropV, n.HighDropV) + " V"
}

func inMillivolts(v float64) bool { return math.Abs(v) < 0.9995 }

// volts writes a drop: millivolts below one volt.
func volts(v float64) string {
	if inMillivolts(v) {
		return fmt.Sprintf("%.0f mV", 1e3*v)
	}
	return fmt.Sprintf("%.2f V", v)
}

func nodeMark(kind string) shape {
	switch kind {
	case "jack":
		return square
	case "board":
		return box
	case "group":
		return ring
	case "return":
		return diamond
	}
	return disc
}

func (d FeedTreeData) legend(c *canvas, x, y float64) float64 {
	seen := map[string]bool{}
	for _, n := range d.Nodes {
		seen[n.Kind] = true
	}
	x += 0.8 * c.TextPt
	for _, kind := range []string{"jack", "joint", "board", "group", "return"} {
		if !seen[kind] {
			continue
		}
		c.mark(nodeMark(kind), c.Colours.Ink, x, y+0.3*c.TextPt, 0.42*c.TextPt)
		c.text(c.small(), x+c.TextPt, y, left, kind)
		x += c.width(c.small(), kind) + 3*c.TextPt
	}
	c.text(c.small(), x, y, left, "the thicker the line, the more current")
	return y - 1.5*c.leading(c.small())
}
