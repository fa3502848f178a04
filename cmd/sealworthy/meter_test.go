//go:build unix

package main

import "testing"

// At a question the maker takes another meter by one word: it's asked for, and the test
// goes on with it, here with one that he reads himself. The word is told with the help; the
// fuse of its jack is asked for.
func TestAnotherMeterByAWord(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	m := attended(t, dir, r, "--only", "stern light")
	m.await("Clip the plus lead to \"stern light\"")
	m.await("q: stop")
	m.enter("?")
	m.await("meter: another meter from now on.")
	m.await("q: stop")
	m.enter("meter")
	m.await("Put the other meter into the plus lead")
	m.await("q: stop")
	m.enter("t")
	m.await("What fuse is behind the jack")
	m.await("q: stop")
	m.enter("500")
	m.await("no meter's jack has a fuse below")
	m.await("q: stop")
	m.enter("400 mA")
	m.await("Another meter now: a meter read by the maker.")
	m.await("q: stop")
	m.enter("q")
	m.status()
	r.mustBeOff()
	mustBeWhole(t, dir)
}
