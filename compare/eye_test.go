package compare_test

import (
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/plan"
)

func TestEyeUnderstandsWhatAMakerSays(t *testing.T) {
	g := plan.Group{Lights: []plan.Light{{Kind: plan.Strip, Count: 1, Segments: 12}}}
	for _, x := range []struct {
		said string
		want compare.Eye
	}{
		{"", compare.Eye{}},
		{"all right", compare.Eye{Said: true}},
		{"All lit.", compare.Eye{Said: true}},
		{"2 of 12 dark", compare.Eye{Said: true, Dark: 2, Of: 12}},
		{"2 out of the 12 are dark", compare.Eye{Said: true, Dark: 2, Of: 12}},
		{"one is dark", compare.Eye{Said: true, Dark: 1}},
		{"3 lights out", compare.Eye{Said: true, Dark: 3}},
		{"one LED is dead", compare.Eye{Said: true, Dark: 1}},
		{"dark", compare.Eye{Said: true, Dark: 12}},
		{"all dark", compare.Eye{Said: true, Dark: 12}},
		{"0 of 12 dark", compare.Eye{Said: true, Of: 12}},
		{"13 of 12 dark", compare.Eye{Said: true, Other: true}},
		{"green, should be red", compare.Eye{Said: true, Other: true}},
		{"99999999999999999999 dark", compare.Eye{Said: true, Other: true}},
		{"it flickers", compare.Eye{Said: true, Other: true}},
	} {
		if got := compare.EyeOf(x.said, g); got != x.want {
			t.Errorf("%q: %+v, want %+v", x.said, got, x.want)
		}
	}
}

func FuzzEye(f *testing.F) {
	f.Add("2 of 12 dark")
	f.Add("all right")
	f.Fuzz(func(t *testing.T, s string) {
		e := compare.EyeOf(s, plan.Group{})
		if e.Dark < 0 || e.Of > 0 && e.Dark > e.Of || !e.Said && (e.Dark > 0 || e.Other) || e.AllLit() && s == "dark" {
			t.Errorf("%q: %+v", s, e)
		}
	})
}
