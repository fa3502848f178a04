package main

import "testing"

// What is told of a look passes by the words that pass one in a test, and by no others.
func TestAllLitIsNotAllRight(t *testing.T) {
	t.Parallel()
	p := gig(t).plan
	for seen, want := range map[string]bool{"bow lamps: all right": true,
		"bow lamps: all right, colours not judged": true,
		"bow lamps: all lit":                       false, "bow lamps: none dark": false, "bow lamps: smells odd": true} {
		if got, err := toldLook(p, "", seen); (err == nil) != want {
			t.Errorf("%q: %v, %v", seen, got, err)
		}
	}
}
