package fault

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"sealworthy/compare/plan"
)

// mostParts is how many other parts a light may be.
const mostParts = 10

// candidate is a part that may have been taken for the planned one.
type candidate struct {
	name   string
	weight float64
}

// parts lists the parts of the same kind that a light may be made of instead:
// those of this plan first, for they lie on the same table, then the maker's
// book and the built-in ones; of parts that draw alike the one with the likest name.
func (f finder) parts(li int) []Suspect {
	if f.src == nil {
		return nil
	}
	l := f.p.Groups[f.gi].Lights[li]
	kind := map[plan.LightKind]plan.PartKind{plan.Strip: plan.PartStrip, plan.SMD: plan.PartSMD, plan.LEDs: plan.PartLED}[l.Kind]
	type place struct {
		path string
		now  string
	}
	var places []place
	if l.Kind != plan.LEDs {
		places = []place{{f.path(li, "part"), l.Part}}
	} else if _, err := plan.EditWith(f.src, f.path(li, "part"), l.Series[0].Part, f.o); err == nil {
		places = []place{{f.path(li, "part"), l.Series[0].Part}}
	} else {
		for k, x := range l.Series {
			places = append(places, place{f.path(li, fmt.Sprintf("leds[%d]", k)), x.Part})
		}
	}
	var out []Suspect
	for _, at := range places {
		var some []Suspect
		seen := map[string]bool{}
		total := 0.0
		for _, c := range f.candidates(kind, at.now, l) {
			if len(some) == mostParts {
				break
			}
			for _, s := range f.suspect(OtherPart, li, at.path, c.name, at.now, c.name, c.weight, nil) {
				key := draws(s.Plan.Groups[f.gi].Lights[li])
				if !seen[key] {
					seen[key] = true
					some = append(some, s)
					total += c.weight
				}
			}
		}
		for i := range some {
			some[i].Prior *= PriorOtherPart / total / float64(len(places))
		}
		out = append(out, some...)
	}
	return out
}

// candidates are the parts of one kind, likeliest first, one for each way to draw.
func (f finder) candidates(kind plan.PartKind, now string, l plan.Light) []candidate {
	book := f.o.Book
	if book == nil {
		book = plan.BuiltIn()
	}
	var out []candidate
	own := partsOfFile(f.src, book)
	for _, n := range sortedKeys(own) {
		if own[n] == kind && n != now {
			out = append(out, candidate{n, 3 + alike(n, now)})
		}
	}
	best := map[string]int{}
	for _, p := range book.Parts() {
		if p.Kind != kind || p.Name == now {
			continue
		}
		if _, ok := own[p.Name]; ok {
			continue
		}
		c := candidate{p.Name, 1 + alike(p.Name, now)}
		if l.RatedVolts > 0 && p.RatedVolts != l.RatedVolts {
			c.weight *= .2 // it would have been seen at once
		}
		key := fmt.Sprint(p.RatedVolts, p.Amps, p.InSeries, p.Points, p.LED)
		if kind != plan.PartLED {
			if led, err := book.Find(p.LED); err == nil {
				key = fmt.Sprint(p.RatedVolts, p.Amps, p.InSeries, led.Points)
			}
		}
		i, ok := best[key]
		switch {
		case !ok:
			best[key] = len(out)
			out = append(out, c)
		case c.weight > out[i].weight:
			out[i] = c
		}
	}
	slices.SortStableFunc(out, func(a, b candidate) int { return -cmp.Compare(a.weight, b.weight) })
	return out
}

// alike is the share of words that two names have in common.
func alike(a, b string) float64 {
	x, y := strings.Fields(a), strings.Fields(b)
	n := 0
	for _, w := range x {
		if slices.Contains(y, w) {
			n++
		}
	}
	return float64(n) / float64(max(len(x), len(y), 1))
}

// partsOfFile lists the parts that a plan's file describes itself, with their kinds.
func partsOfFile(src []byte, book *plan.Book) map[string]plan.PartKind {
	var file struct {
		Part map[string]struct {
			Like string        `toml:"like"`
			Kind plan.PartKind `toml:"kind"`
		} `toml:"part"`
	}
	out := map[string]plan.PartKind{}
	if toml.Unmarshal(src, &file) != nil {
		return out
	}
	for name := range file.Part {
		at := name
		for range len(file.Part) + 1 {
			p, ok := file.Part[at]
			if ok && p.Kind != "" {
				out[name] = p.Kind
				break
			}
			if !ok || p.Like == "" {
				if b, err := book.Find(at); err == nil {
					out[name] = b.Kind
				}
				break
			}
			at = p.Like
		}
	}
	return out
}

func sortedKeys(m map[string]plan.PartKind) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
