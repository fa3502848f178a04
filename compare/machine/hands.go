package machine

import (
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
)

// What a Bench outside this package asks a world.

// Plan is the plan as it stands now, Source its text.
func (w *World) Plan() *plan.Plan { return w.kit.plan }

// Source is the text of the plan as it stands now.
func (w *World) Source() []byte { return []byte(w.kit.source) }

// Model is the model anew, as it is now.
func (w *World) Model() (*load.Load, error) {
	return load.New(w.truth.plan, w.truth.faults, w.truth.pieces, load.Options{})
}

// Seed draws what a bench draws besides.
func (w *World) Seed() uint64 { return w.truth.pieces }

// Stage is the one that tests are made at.
func (w *World) Stage() string { return w.stage }

// Dir is the folder of the record.
func (w *World) Dir() string { return w.dir }

// Now is what the clock on the wall shows.
func (w *World) Now() time.Time { return w.now }

// Until lets the clock go on to a time.
func (w *World) Until(t time.Time) {
	if t.After(w.now) {
		w.now = t
	}
}

// Looks is what a maker says of groups: an honest one what is to be seen, one who
// overlooks that all is right.
func (w *World) Looks(groups []string, how string) string {
	if how == "overlook" {
		return allRight
	}
	return w.truth.looks(groups)
}

// Untold lists what was touched and not told of, since it was last told.
func (w *World) Untold() []string { return w.untold }

// Told tells the oracle that places were said to be touched, and that this is on
// disk.
func (w *World) Told(places ...string) {
	at := w.o.tick()
	for _, place := range places {
		w.o.touched[place] = at
		for _, g := range under(w.built.plan, place) {
			k := w.o.of(g)
			k.reworked = append(k.reworked, at)
		}
	}
	w.untold = nil
}

// behind lists the groups of a place as the command says them; one that the plan
// lost stands for itself.
func (w *World) behind(place string) []string {
	if out := under(w.kit.plan, place); len(out) > 0 {
		return out
	}
	if slices.Contains(w.first.groups(), place) {
		return []string{place}
	}
	return nil
}

// Unsaw tells the oracle that the last look at groups was taken back.
func (w *World) Unsaw(groups []string) {
	for _, g := range groups {
		if k := w.o.of(g); len(k.looked) > 0 {
			k.looked = k.looked[:len(k.looked)-1]
		}
	}
}

// Powers tells that a step puts current through a feed to judge it.
func Powers(s capture.Step) bool { return s.Kind == capture.Power && len(s.Hazards) == 0 }
