package returns

import (
	"fmt"
	"slices"
)

// Rests is the least that the naming of one place rests on. The zero Rests is that of none.
type Rests string

// What a named place may rest on.
const (
	ByReadings Rests = "readings"
	ByLook     Rests = "look"   // the readings didn't name it, with what the maker saw they do
	ByClient   Rests = "client" // without the client's words it isn't named
	ByOdds     Rests = "odds"   // of places that look alike it's the one that fails most often
)

// restsOn finds that of a named place: by gives what is named with so much of what was seen, and
// nothing where only the odds name it.
func restsOn(named *Cause, all []Seen, by func([]Seen) (*Cause, error)) (Rests, error) {
	if named == nil {
		return "", nil
	}
	own := slices.DeleteFunc(slices.Clone(all), func(s Seen) bool { return s.Client })
	for _, x := range []struct {
		rests Rests
		seen  []Seen
	}{{ByReadings, nil}, {ByLook, own}, {ByClient, all}} {
		if x.rests != ByReadings && len(x.seen) == 0 || x.rests == ByClient && len(own) == len(all) {
			continue
		}
		c, err := by(x.seen)
		if err != nil {
			return "", err
		}
		if c != nil && c.Place == named.Place && c.Second == named.Second {
			return x.rests, nil
		}
	}
	return ByOdds, nil
}

// byOdds: a named place has twins, and were each of them as frequent as it is, it wouldn't be named.
func (l *Library) byOdds(named *Cause, twins []Twin, post *posterior) bool {
	if named == nil || len(twins) == 0 {
		return false
	}
	// How well the likeliest of a place fits, whatever its prior; up to a factor.
	fits := func(place string) float64 {
		best, fit := 0.0, 0.0
		for i, h := range l.Hypotheses {
			if h.at() == place && post.single[i] > best {
				best, fit = post.single[i], post.single[i]/h.Prior
			}
		}
		return fit
	}
	own := fits(named.Place)
	all := own
	for _, t := range twins {
		switch named.Place {
		case t.A:
			all += fits(t.B)
		case t.B:
			all += fits(t.A)
		}
	}
	return own <= nameAbove*all
}

// Known reports whether the place at fault is known by what was read and seen here: not only by what a client
// told, nor by how often such a place fails.
func (d *Diagnosis) Known() bool {
	return d.Verdict == OnePlace && (d.Rests == ByReadings || d.Rests == ByLook)
}

// LookBeforeOpening is what to do where a place is likely, and not by what was read or seen.
const LookBeforeOpening = "look at it lit before anything is opened"

// AlikeText says behind places that look alike what decided between them.
func (d *Diagnosis) AlikeText() string {
	switch {
	case d.Named == nil:
		return " look alike from the jack: nothing measured there decides between them"
	case d.Rests == ByReadings:
		return " look nearly alike from the jack: the readings decided all the same"
	case d.Rests == ByLook:
		return " look alike from the jack: it was the look that decided"
	case d.Rests == ByClient:
		return " look alike from the jack: it was what the client said that decided"
	}
	return " look alike from the jack: " + LookBeforeOpening
}

// RestsOn says in a sentence what the verdict rests on; client: as it's told to the client.
func (d *Diagnosis) RestsOn(client bool) string {
	said, ours := "what the client said", "nobody looked at its lights here"
	if client {
		said = "what you told"
	}
	looked := slices.ContainsFunc(d.Seen, func(s Seen) bool { return !s.Client })
	if looked {
		ours = "what was seen of its lights here doesn't decide it"
	}
	heard := slices.ContainsFunc(d.Seen, func(s Seen) bool { return s.Client })
	switch {
	case d.Verdict == OnePlace && d.Rests == ByReadings:
		return "It rests on what was read at its jack."
	case d.Verdict == OnePlace && d.Rests == ByLook:
		return "It rests on what was read at its jack and seen of its lights."
	case d.Verdict == OnePlace && d.Rests == ByOdds:
		return "Read from its jack it's one of several that look alike; this one fails most often."
	case d.Verdict == OnePlace:
		return fmt.Sprintf("It rests on what was read at its jack and on %s: %s.", said, ours)
	case looked && heard:
		return fmt.Sprintf("It rests on what was read at its jack, seen of its lights, and on %s.", said)
	case looked:
		return "It rests on what was read at its jack and seen of its lights."
	case heard:
		return fmt.Sprintf("It rests on what was read at its jack and on %s.", said)
	}
	return "It rests on what was read at its jack."
}
