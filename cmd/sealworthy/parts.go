package main

import (
	"fmt"
	"reflect"

	"sealworthy/compare/plan"
)

// partKinds are the kinds of part in the order of the list, with a maker's
// words for each.
var partKinds = []struct {
	kind plan.PartKind
	says string
}{
	{plan.PartStrip, "strips, by segment"},
	{plan.PartSMD, "SMD with a resistor inside"},
	{plan.PartLED, "bare LEDs, each needs a resistor"},
	{plan.PartBoard, "boards"},
	{plan.PartLoad, "loads without a pace: flicker, sound, motor"},
}

// listedPart is a part as it is listed for programs.
type listedPart struct {
	Name string        `json:"name"`
	Kind plan.PartKind `json:"kind"`
	Own  bool          `json:"own"` // from the maker's part book
}

// listParts names the parts that a plan can name, by kind, the maker's own
// first.
func listParts(e env, asJSON bool) (int, error) {
	book, err := partBook(e)
	if err != nil {
		return exitFailure, err
	}
	if book == nil {
		book = plan.BuiltIn()
	}
	list := []listedPart{}
	var own []string
	byKind := map[plan.PartKind][]string{}
	for _, p := range book.Parts() {
		old, err := plan.Find(p.Name)
		mine := err != nil || !reflect.DeepEqual(old, p)
		list = append(list, listedPart{p.Name, p.Kind, mine})
		if mine {
			own = append(own, p.Name)
		} else {
			byKind[p.Kind] = append(byKind[p.Kind], p.Name)
		}
	}
	if asJSON {
		return exitReady, writeJSON(e.stdout, list)
	}
	if own != nil {
		fmt.Fprintln(e.stdout, "your own part book:")
		filled(e.stdout, "  ", "  ", own)
	}
	for _, k := range partKinds {
		if byKind[k.kind] != nil {
			fmt.Fprintf(e.stdout, "%s:\n", k.says)
			filled(e.stdout, "  ", "  ", byKind[k.kind])
		}
	}
	fmt.Fprintln(e.stdout, "\nIn a plan: part = \"NAME\". To measure some of yours: sealworthy part NAME")
	return exitReady, nil
}
