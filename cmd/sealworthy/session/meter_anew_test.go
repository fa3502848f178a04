package session

import (
	"slices"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/byhand"
	"sealworthy/compare"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
)

// readWith is a step of a feed that a meter read; "": the supply's own reading.
func readWith(meter string, k capture.Kind, feed, id string) capture.StepRecord {
	r := capture.StepRecord{Step: capture.Step{ID: id, Feed: feed, Kind: k}, Outcome: capture.Measured}
	if meter != "" {
		r.Instruments = map[string]instruments.Description{compare.MeterName: {Identity: meter}}
	}
	return r
}

func ids(rs []capture.StepRecord) (out []string) {
	for _, r := range rs {
		out = append(out, r.Step.ID)
	}
	return out
}

// With another meter a whole model begins anew, what was seen stands; groups each stand by
// themselves. Of loose pieces those that are whole stand.
func TestWhatBeginsAnew(t *testing.T) {
	b := &Bench{opened: map[string]*bench.Opened{theMeter: {Identities: map[string]string{theMeter: "new"}}}}
	have := []capture.StepRecord{readWith("old", capture.Whole, "main", "1"),
		readWith("new", capture.Whole, "main", "2"),
		readWith("old", capture.Look, "main", "look"), readWith("", capture.Whole, "main", "3"),
		readWith("old", capture.Power, "bow", "bow")}
	for _, c := range []struct {
		t    Sitting
		want []string
	}{
		{Sitting{Whole: &compare.WholeOptions{}}, []string{"2", "look", "3", "bow"}},
		{Sitting{}, []string{"1", "2", "look", "3", "bow"}},
	} {
		if got := ids(b.sameMeter(c.t, have)); !slices.Equal(got, c.want) {
			t.Errorf("%+v: %q, want %q", c.t, got, c.want)
		}
	}
	var steps []capture.Step
	for _, x := range []string{"a1", "a2", "b1", "b2", "c1", "c2"} {
		steps = append(steps, capture.Step{ID: x, Feed: x[:1]})
	}
	done := []capture.StepRecord{readWith("old", capture.Power, "a", "a1"), readWith("old", capture.Power, "a", "a2"),
		readWith("old", capture.Power, "b", "b1"), readWith("new", capture.Power, "c", "c1")}
	if got, want := ids(b.wholePieces(steps, done)), []string{"a1", "a2", "c1"}; !slices.Equal(got, want) {
		t.Errorf("of pieces %q stand, want %q", got, want)
	}
	done = append(done, readWith("new", capture.Power, "b", "b1"), readWith("new", capture.Power, "b", "b2"))
	if got, want := ids(b.wholePieces(steps, done)), []string{"a1", "a2", "c1", "b1", "b2"}; !slices.Equal(got, want) {
		t.Errorf("of pieces %q stand, want %q", got, want)
	}
}

// Two meters that answer alike, or that the maker reads, are told by the moment of the change:
// what was read before it was read by another.
func TestMetersThatAnswerAlike(t *testing.T) {
	change := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		profile, was, is string
		changed          time.Time
		another          bool
	}{
		{"", "Dunlin,METER,00000000,1.0", "Dunlin,METER,00000000,1.0", change, true},
		{"", "Dunlin,METER,,1.0", "Dunlin,METER,,1.0", change, true},
		{"plain", "plain", "plain", change, true},
		{byhand.Profile, "a meter read by the maker", "", change, true}, // typed, then typed
		{"", "", "Dunlin,METER,SN4,1.0", change, true},
		{"", "Dunlin,METER,SN4,1.0", "Dunlin,METER,SN4,1.0", change, false}, // the first one is back
		{"", "Dunlin,METER,00000000,1.0", "Dunlin,METER,00000000,1.0", time.Time{}, false},
		{byhand.Profile, "a meter read by the maker", "", time.Time{}, false},
	} {
		r := readWith("", capture.Whole, "main", "1")
		r.Began = change.Add(-time.Minute)
		r.Instruments = map[string]instruments.Description{compare.MeterName: {Profile: c.profile, Identity: c.was}}
		b := &Bench{opened: map[string]*bench.Opened{theMeter: {Identities: map[string]string{theMeter: c.is}}},
			remetered: c.changed}
		if c.is == "" {
			b.Meter = &byhand.Meter{}
		}
		if b.readByAnother(r) != c.another {
			t.Errorf("%q, then %q: another %v, want %v", c.was, c.is, !c.another, c.another)
		}
		if r.Began = change.Add(time.Minute); c.was == c.is && b.readByAnother(r) {
			t.Errorf("%q: what was read after the change counts as another's", c.was)
		}
	}
	b := &Bench{opened: map[string]*bench.Opened{}}
	b.Clock = clock.NewSimulated(change)
	b.metered(nil)
	if !b.remetered.Equal(change) {
		t.Errorf("the meter changed at %v, want %v", b.remetered, change)
	}
}
