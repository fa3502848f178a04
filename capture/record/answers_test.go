package record

import (
	"testing"

	"sealworthy/capture"
)

// A head that was lost is answered once: the sitting that keeps the answer makes a
// new head, and says of the old one that it was lost. An answer about something
// else, or in another sitting, doesn't speak of it.
func TestALostHeadIsAnsweredOnce(t *testing.T) {
	before := Damage{Name: HeadFile, Kind: Missing, What: "the head of the chain is missing"}
	said := Damage{Name: HeadFile, Kind: Missing, What: "the head of the chain was missing when sitting 3 began",
		Sitting: 3}
	changed := Damage{Name: HeadFile, Kind: Changed, What: "it names another line", Sitting: 3}
	line := Damage{Name: "readings/a.lp:4", Kind: Changed, What: "it is not what was written", Sitting: 3}
	for _, c := range []struct {
		name     string
		about, d Damage
		sitting  int
		answered bool
	}{
		{"what was seen", before, before, 3, true},
		{"what the answer's own sitting says of it", before, said, 3, true},
		{"what another sitting said", before, said, 4, false},
		{"a line", line, said, 3, false},
		{"a head that names another line", before, changed, 3, false},
	} {
		f := Folded{Damage: []Damage{c.d}, Answers: []ByName{{Name: c.about.Answer("").Check, Reason: "retest",
			Order: capture.OrderAt(c.sitting, 5)}}}
		if f.answer(); (f.Damage[0].Answered != "") != c.answered {
			t.Errorf("%s: answered %q", c.name, f.Damage[0].Answered)
		}
	}
}
