package session

import (
	"slices"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
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
	have := []capture.StepRecord{readWith("old", capture.Whole, "main", "1"), readWith("new", capture.Whole, "main", "2"),
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
