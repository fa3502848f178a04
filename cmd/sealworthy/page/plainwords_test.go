package page

import (
	"html"
	"testing"

	"sealworthy/compare/words"
)

// What is said with a command to type is said on a page without it, whichever way its quotes are written.
func TestNoCommandIsSaid(t *testing.T) {
	for said, want := range map[string]string{
		words.Anew: "measure it anew", words.GoOn: "go on with the test",
		words.AtService: "measure it at its service voltage", words.SecondVolts: "read it at a second voltage, too",
		words.NextSays:    "measure what tells most of what is in doubt",
		words.TellTouched: "tell what was touched and measure it again", words.LookAtIt: words.LookAtIt,
		words.CountLit("bow lamp"): "count its lights while it is lit, and tell how many at a look, in your own words: " +
			"\"bow lamp: all right, N lit\"",
		words.TellChanged("bow", 3, nil, "all right, 3 lit"): "count its lights while it is lit. Three? Say so at a look, in your own words: " +
			"\"bow: all right, 3 lit\". Another number? Put the plan right",
		words.TellChanged("bow", 0, []string{"470 ohm"}, "all right, 470 ohm read"): "read there what the plan was changed " +
			"in, by no draw: the rings of a resistor, the label of a reel or a board, a rule along a wire, a voltmeter. 470 ohm? " +
			"Say so at a look, in your own words: \"bow: all right, 470 ohm read\". Something else? Put the plan right",
		words.SampleReel("2", 5): "measure a sample of 2, 5 loose pieces", words.SamplePart("x"): "measure x by itself",
		"say what was touched since it was measured and looked at: sealworthy measure BUILD --touched nothing, or " +
			"name the places": "say what was touched since it was measured and looked at, or name the places",
		`If you took it out, say so: sealworthy measure BUILD --touched "no. 3, bow"`: "If you took it out, say so",
		"a new name: sealworthy measure BUILD --touched nothing. Another model: begin a folder of its own": "a " +
			"new name. Another model: begin a folder of its own",
		`see that it is in, no test tells of it; then sealworthy measure BUILD --tick "fuse, 1 A" ` +
			`--closure "deck"`: "see that it is in, no test tells of it; then tick it",
		`Change the plan, or accept it: sealworthy measure BUILD --allow "no resistor" --reason TEXT`: "Change the " +
			"plan, or accept it",
		"the record: line 3: torn; sealworthy check BUILD shows it": "the record: line 3: torn",
		"the sweep against the signature tells more: sealworthy return": "the sweep against the signature tells " +
			"more",
		"note the room at every stage: --room": "note the room at every stage",
		"never solder with the output on; the rest as it was said today: sealworthy help care": "never solder " +
			"with the output on; " +
			"the rest stands on the page of the build",
		// what a maker calls his own stays, wherever it stands
		"/models/sealworthy builds/gig":                       "/models/sealworthy builds/gig",
		`likely: the joint "sealworthy bench" is open, --bow`: `likely: the joint "sealworthy bench" is open, --bow`,
		"Sealworthy names the lightship - Sealworthy":         "Sealworthy names the lightship - Sealworthy",
	} {
		if got := here(said); got != want {
			t.Errorf("%q: %q, want %q", said, got, want)
		}
		if got := html.UnescapeString(here(html.EscapeString(said))); got != want {
			t.Errorf("%q in a page: %q, want %q", said, got, want)
		}
	}
}
