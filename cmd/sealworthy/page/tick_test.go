package page

import (
	"strings"
	"testing"

	"sealworthy/compare"
)

// What no test tells of is ticked by a button of its own, until it is; anything else has none.
func TestTickedOnThePage(t *testing.T) {
	w := &fakeWork{name: "launch"}
	x := newSite(t, w)
	c := compare.ClosureFinding{Closure: "deck", Verdict: compare.NotSettled, Items: []compare.Item{
		{Name: "fuse", Kind: compare.ItemThing}, {Name: "weight", Kind: compare.ItemThing, By: compare.ByHand},
		{Name: "bow lamp", Kind: compare.ItemGroup}}}
	src, err := x.s.fill("closure", x.s.cardOf("b1", c, nil, nil, 1))
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(src), "I saw that it is in"); n != 1 ||
		!strings.Contains(string(src), `name="closure" value="deck"`) ||
		!strings.Contains(string(src), `name="name" value="fuse"`) {
		t.Errorf("%d to tick:\n%s", n, src)
	}
	x.send(x.request("POST", "/tell", "build=b1&kind=tick&closure=deck&name=fuse", x.enter()))
	if _, told, _ := w.count(); len(told) != 1 || told[0].Kind != ToldTicked || told[0].Closure != "deck" ||
		strings.Join(told[0].Names, ",") != "fuse" {
		t.Errorf("%+v", told)
	}
}
