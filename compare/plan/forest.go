package plan

import "strings"

// forest orders things that hang on each other, and finds circles.
type forest struct {
	p     *parser
	what  string // joint
	key   string // from
	roots map[string]string
	names []string
	up    []string // what each hangs on
	at    []int
	index map[string]int
}

// newForest: roots maps what the trees grow from to the root that each belongs
// to; members are entered as they are reached.
func newForest(p *parser, what, key string, roots map[string]string) *forest {
	return &forest{p: p, what: what, key: key, roots: roots, index: map[string]int{}}
}

func (f *forest) add(name, up string, at int) {
	f.index[name] = len(f.names)
	f.names, f.up, f.at = append(f.names, name), append(f.up, up), append(f.at, at)
}

// order lists all members, each after what it hangs on, else in the order of
// the file. Each circle is reported once.
func (f *forest) order() []int {
	const (
		unseen = iota
		under
		done
	)
	state := make([]int, len(f.names))
	var out []int
	for i := range f.names {
		var path []int
		n, ok := i, true
		for ok && state[n] == unseen {
			state[n] = under
			path = append(path, n)
			n, ok = f.index[f.up[n]]
		}
		if ok && state[n] == under {
			f.circle(path, n)
		}
		for k := len(path) - 1; k >= 0; k-- {
			m := path[k]
			state[m] = done
			out = append(out, m)
			if root, known := f.roots[f.up[m]]; known {
				f.roots[f.names[m]] = root
			}
		}
	}
	return out
}

func (f *forest) circle(path []int, from int) {
	var names []string
	for _, n := range path {
		if n == from || len(names) > 0 {
			names = append(names, f.names[n])
		}
	}
	names = append(names, f.names[from])
	instead := "let one of them have " + f.key + " = a jack: " + quoted(f.p.jackNames())
	if f.what == "closure" {
		instead = "leave out inside for the outermost of them"
	}
	last := path[len(path)-1]
	f.p.fail(f.at[last], instead, "the %ss go round in a circle: %s", f.what, strings.Join(names, ", "))
}
