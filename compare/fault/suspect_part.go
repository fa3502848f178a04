package fault

import (
	"bytes"
	"cmp"
	"fmt"
	"maps"
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
	kind := map[plan.LightKind]plan.PartKind{plan.Strip: plan.PartStrip, plan.SMD: plan.PartSMD,
		plan.LEDs: plan.PartLED}[l.Kind]
	type place struct {
		path string
		now  string
	}
	var places []place
	if l.Kind != plan.LEDs {
		places = []place{{f.path(li, "part"), l.Part}}
	} else if f.has(li, "part", l.Series[0].Part) {
		places = []place{{f.path(li, "part"), l.Series[0].Part}}
	} else {
		for k, x := range l.Series {
			places = append(places, place{f.path(li, fmt.Sprintf("leds[%d]", k)), x.Part})
		}
	}
	var out []Suspect
	for _, at := range places {
		out = append(out, f.others(kind, li, at.path, at.now, 1/float64(len(places)))...)
	}
	return out
}

// has tells whether a light has a key with that text.
func (f finder) has(li int, key, text string) bool {
	_, err := plan.EditWith(f.src, f.path(li, key), text, f.o)
	return err == nil
}

// others lists the other parts at one place of a light.
func (f finder) others(kind plan.PartKind, li int, path, now string, share float64) []Suspect {
	l := f.p.Groups[f.gi].Lights[li]
	candidates := f.candidates(kind, now, l)
	at, ok := f.spot(path, now, candidates)
	if !ok {
		return nil
	}
	var out []Suspect
	seen := map[string]bool{draws(l): true}
	total := 0.0
	for _, c := range candidates {
		if len(out) == mostParts {
			break
		}
		src := slices.Concat(f.src[:at], []byte(tomlValue(c.name)), f.src[at+len(tomlValue(now)):])
		q, problems := plan.ParseWith("plan.toml", src, f.o)
		if len(problems) > 0 || q == nil {
			continue
		}
		key := draws(q.Groups[f.gi].Lights[li])
		if seen[key] {
			continue
		}
		seen[key] = true
		total += c.weight
		out = append(out, Suspect{Kind: OtherPart, Group: f.p.Groups[f.gi].Name, Light: li, Path: path, Value: c.name,
			Was: now, Is: c.name, Prior: c.weight, Plan: q})
	}
	for i := range out {
		out[i].Prior *= f.pr.OtherPart * share / total
	}
	return out
}

// spot is where in the file a part's name stands as the value of a path. It is
// found by changing it: of all places where the name stands, the one that gives
// the same file. Not ok where the path isn't in the file.
func (f finder) spot(path, now string, others []candidate) (at int, ok bool) {
	was := []byte(tomlValue(now))
	for _, c := range others[:min(len(others), 3)] {
		out, err := plan.EditWith(f.src, path, c.name, f.o)
		if err != nil {
			continue
		}
		is := []byte(tomlValue(c.name))
		for at = 0; at < len(f.src); at++ {
			k := bytes.Index(f.src[at:], was)
			if k < 0 {
				return 0, false
			}
			at += k
			if bytes.Equal(out, slices.Concat(f.src[:at], is, f.src[at+len(was):])) {
				return at, true
			}
		}
	}
	return 0, false
}

// candidates are the parts of one kind, likeliest first, one for each way to draw.
func (f finder) candidates(kind plan.PartKind, now string, l plan.Light) []candidate {
	book := f.o.Book
	if book == nil {
		book = plan.BuiltIn()
	}
	var out []candidate
	own := partsOfFile(f.src, book)
	for _, n := range slices.Sorted(maps.Keys(own)) {
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
		key := fmt.Sprint(p.RatedVolts, p.Amps, p.InSeries, p.Chips, p.Points, p.LED)
		if kind != plan.PartLED {
			if led, err := book.Find(p.LED); err == nil {
				if len(l.Series) > 0 && led.Colour != l.Series[0].Colour {
					c.weight *= .5 // a colour is seen, though nobody looks twice
				}
				key = fmt.Sprint(p.RatedVolts, p.Amps, p.InSeries, p.Chips, led.Points)
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
