package plan

import (
	"slices"
	"strings"
	"sync"
)

// Key is what may stand in one kind of table of a plan, and what is to be said of it.
// The strict reader knows no other keys than these.
type Key struct {
	In      string `json:"in"`                // tables that take it, by a word each; see tableWords
	Name    string `json:"key"`               // as it's written
	Unit    string `json:"unit,omitempty"`    // of its number; "" text, a list, a table, a count
	Default string `json:"default,omitempty"` // what holds where it isn't said
	Example string `json:"example"`           // its value, as it stands in a plan
	Says    string `json:"says"`              // one or two sentences
}

// Keys are all keys of a plan and of a part book, table by table.
func Keys() []Key {
	return slices.Concat(topKeysOf, treeKeys, wireKeysOf, holdKeys, boardKeysOf, groupKeysOf, lightKeysOf, partKeys)
}

// keysIn are the names of the keys that a kind of table takes, in their order.
func keysIn(table string) []string { return slices.Clone(keysOfTables()[table]) }

var keysOfTables = sync.OnceValue(func() map[string][]string {
	out := map[string][]string{}
	for _, k := range Keys() {
		for _, t := range strings.Fields(k.In) {
			out[t] = append(out[t], k.Name)
		}
	}
	return out
})

// tableWords says what each kind of table is and how it's opened.
var tableWords = []struct{ name, opened, says string }{
	{"plan", "at the top", "the model"},
	{"jack", "[jack.main]", "where the model is fed, by direct current up to 60 V"},
	{"closure", "[closure.hull]", "what hides lights for good once it's glued"},
	{"joint", "[joint.keel]", "a solder point from which wires go on"},
	{"return", "[return.mast]", "a minus that isn't the second wire of its plus"},
	{"wire", "wire = { … }", "two conductors, out and back, unless a return is named"},
	{"diode", "holds = [ { diode = … } ]", "a diode in a joint"},
	{"fuse", "holds = [ { fuse = … } ]", "a fuse in a joint"},
	{"switch", "holds = [ { switch = … } ]", "a switch in a joint"},
	{"plug", "holds = [ { plug = … } ]", "a plug and its socket in a joint"},
	{"converter", "holds = [ { converter = … } ]", "a voltage converter in a joint"},
	{"board", "[board.beacon]", "electronics with outputs, paces and maybe a button"},
	{"output", "outputs = [ { … } ]", "one output of a board"},
	{"pace", "paces = [ { … } ]", "what the outputs of a board do in time"},
	{"group", "[[group]]", "lights that are judged together"},
	{"strip", "lights = [ { part = a strip } ]", "a strip, by the segments that were cut off"},
	{"smd", "lights = [ { part = an smd } ]", "LEDs with their resistor inside"},
	{"led", "lights = [ { part = an LED } ]", "bare LEDs with a resistor of yours"},
	{"load", "lights = [ { behaves = … } ]", "a load without a pace: fire, sound, a motor"},
	{"test", "lights = [ { test_ohms = … } ]", "a resistor across the end of a sealed wire, for its test"},
	{"part", `[part."my strip"]`, "a part of your own, or one that you know better"},
	{"partstrip", "lights or [part]", "what a strip is"},
	{"partsmd", "lights or [part]", "what an SMD with its resistor inside is"},
	{"partled", "lights or [part]", "what a bare LED is"},
	{"partload", "lights or [part]", "what a load without a pace draws"},
	{"partboard", "[board] or [part]", "what a board is"},
}

// TableSays is how a table of a key's In is opened, and what it is.
func TableSays(name string) (opened, says string) {
	for _, t := range tableWords {
		if t.name == name {
			return t.opened, t.says
		}
	}
	return "", ""
}

var topKeysOf = []Key{
	{"plan", "build", "", "", `"Brackwater"`, "The model's name. It becomes part of file names."},
	{"plan", "scale", "", "none", `"1:96"`, "The model's scale, as it is printed."},
	{"plan", "jack", "", "", `[jack.main]`, "Where the model is fed; at least one."},
	{"plan", "joint", "", "", `[joint.keel]`, "A solder point from which wires go on."},
	{"plan", "return", "", "", `[return.mast]`,
		"A minus that isn't the second wire of its plus: a brass mast, one minus for six groups."},
	{"plan", "closure", "", "one called model", `[closure.hull]`, "What hides lights for good once it's glued."},
	{"plan", "board", "", "", `[board.beacon]`, "Electronics that blink or steer lights."},
	{"plan", "group", "", "", `[[group]]`, "Lights that are judged together; at least one."},
	{"plan", "part", "", "", `[part."my strip"]`,
		"A part of your own, or one that you know better than the built-in one."},
}

var treeKeys = []Key{
	{"jack", "volts", "V", "", "12.0", "What the model is fed with, at its jack."},
	{"jack", "volts_range", "V", "±5 % for an adapter or USB, more for batteries", "[11.4, 12.6]",
		"The lowest and the highest that the source may really give: ratings must hold over all of it."},
	{"jack", "source", "", `"adapter"`, `"adapter"`, "adapter, usb, coin (a coin cell) or battery."},
	{"jack", "adapter_amps", "A", "not stated", "1.5", "What is printed on the adapter."},
	{"jack", "plug", "", "not stated", `"5.5 x 2.1 mm, centre plus"`,
		"The plug in your words, for the sheet and the client's page."},
	{"joint", "from", "", "the only jack", `"main"`, "The jack or joint that feeds it."},
	{"return", "to", "", "the only jack", `"main"`, "The jack or return that it leads to."},
	{"group board joint return", "wire", "", "0.2 mm, 200 mm, give or take 80 %", `{ mm = 0.2, length_mm = 220 }`,
		"The wire that leads to it, from what feeds it. Two conductors, out and back, unless it has a return of its own."},
	{"joint", "holds", "", "nothing", `[ { fuse = "resettable", amps = 0.75 } ]`,
		"What all behind the joint is fed through: diode, fuse, switch, plug, converter."},
	{"joint return board", "closure", "", "none", `"hull"`, "What closes over it."},
	{"closure", "inside", "", "the outermost", `"hull"`, "The closure inside of which this one closes."},
	{"closure", "must_hold", "", "nothing", `["ballast", "light pipe"]`,
		"What must be in it before it closes and no test shows: you tick it by hand."},
}

var wireKeysOf = []Key{
	{"wire", "awg", "gauge", "mm = 0.2", "30",
		"Its size as an American gauge number, a whole number: 30 is 0.25 mm thick."},
	{"wire", "mm", "mm", "0.2", "0.2", "Its size as the diameter of the copper, without insulation."},
	{"wire", "mm2", "mm2", "mm = 0.2", "0.14", "Its size as the cross-section of the copper."},
	{"wire", "length_mm", "mm", "200, give or take half", "220", "How long it is, one way."},
	{"wire", "solid", "", "true", "true", "One thick strand: its size is what it's called by, within 4 %."},
	{"wire", "stranded", "", "false", "true", "Many thin strands: its size is known to 10 %."},
	{"wire", "enamelled", "", "false", "true", "Lacquered copper, a winding wire: its size is known to 6 %."},
	{"wire", "tolerance", "of one", "from what is said of size and length", "0.1",
		"How far its resistance may be off."},
	{"wire", "colour", "", "not stated", `"red, black"`,
		"The colour of its insulation, plus first; the sheet prints it as a map."},
	{"wire", "pin", "", "not stated", "3",
		"The pin, terminal or number that it ends at, a number or a text; the sheet prints it as a map."},
}

var holdKeys = []Key{
	{"diode", "diode", "", "", `"schottky"`, "silicon or schottky."},
	{"diode", "drop_volts", "V", "0.7 silicon, 0.3 Schottky", "0.3", "What it drops at 20 mA."},
	{"fuse", "fuse", "", "", `"resettable"`, "resettable, glass or blade."},
	{"switch", "switch", "", "", `"slide"`, "What kind of switch, in your words."},
	{"plug", "plug", "", "", `"2 pins"`, "What kind of plug, in your words."},
	{"converter", "converter", "", "", `"step-down"`, "step-down, step-up or linear."},
	{"converter", "out_volts", "V", "", "5.0", "What it gives."},
	{"converter", "efficiency", "of one", "0.85", "0.9", "Power out over power in. A linear one has none of its own."},
	{"converter", "max_amps", "A", "not stated", "1.0", "The most that it gives."},
	{"converter", "lowest_volts", "V", "out_volts and 1 to 1.5 V more", "6.5",
		"The input from which it keeps its output."},
	{"converter", "idle_mA", "mA", "5", "4", "What it draws without a load."},
	{"diode fuse switch plug", "amps", "A", "not stated; a fuse needs it", "0.75", "What it is rated for."},
	{"fuse switch plug", "ohms", "ohm", "0.6 resettable, 0.15 other fuses, 0.06 switch or plug", "0.1",
		"Its resistance."},
	{"diode fuse switch plug converter", "tolerance", "of one", "as usual for its kind", "0.2",
		"How far that is off: the drop of a diode, the ohms of a fuse, switch or plug, the volts of a converter."},
}

var boardKeysOf = []Key{
	{"board", "part", "", "own values", `"two-output blinker"`,
		"Which board it is; sealworthy part lists them. What you know better goes beside it."},
	{"board", "joint", "", "the only jack", `"keel"`, "The joint or jack that feeds it."},
	{"board", "return", "", "the second wire of its plus", `"mast"`,
		"The minus that it uses, where that isn't the twin of its plus."},
	{"board partboard", "standing_mA", "mA", "5, give or take 80 %; or the part's", "4",
		"What it draws with every output dark."},
	{"board partboard", "tolerance", "of one", "0.5; or the part's", "0.3", "How far standing_mA may be off."},
	{"board partboard", "outputs", "", "one of 20 mA; or the part's", `[ { max_mA = 25, ohms = 470 } ]`,
		"Its outputs, a table each."},
	{"board partboard", "outputs_run", "", `"free"; or the part's`, `"together"`,
		"alternate (one lit at a time, in turn), together or free."},
	{"board partboard", "paces", "", "steady; or the part's", `[ { name = "slow", period_s = 2.0, duty = 0.4 } ]`,
		"What its outputs do in time; several are stepped by its button."},
	{"board partboard", "button", "", "true where it has several paces", "true",
		"It has a button that steps its paces."},
	{"board partboard", "lowest_volts", "V", "not stated", "7", "It works from here."},
	{"board partboard", "highest_volts", "V", "not stated", "15", "It is rated up to here."},
	{"board partboard", "capacitor_uF", "uF", "not stated", "47",
		"The capacitor at its input: it tells for how long the draw is high at first."},
	{"output", "max_mA", "mA", "20", "25", "Above this the output stays lit instead of blinking."},
	{"output", "ohms", "ohm", "0", "470", "A resistor that the board has in the output itself; yours comes on top."},
	{"output", "volts", "V", "the board's supply", "5",
		"What it gives without a load, where it doesn't follow the supply."},
	{"output", "follows_supply", "", "true", "true", "It gives what the board is fed with."},
	{"output", "tolerance", "of one", "0.05", "0.05", "How far its volts and ohms may be off."},
	{"pace", "name", "", "pace 1, pace 2", `"slow"`, "What you call it."},
	{"pace", "period_s", "s", "", "2.0", "The time from one lighting up to the next."},
	{"pace", "duty", "of one", "0.5", "0.3", "The part of a period for which it's lit."},
	{"pace", "flashes", "s", "", "[0.4, 0.6, 0.4, 3.6]",
		"Flashes in groups: lit, dark, lit, dark…, in seconds, in place of period_s and duty."},
	{"pace", "steady", "", "false", "true", "It doesn't blink."},
	{"pace", "tolerance", "of one", "0.15", "0.1", "How far the period may be off."},
	{"pace", "duty_tolerance", "of one", "0.08", "0.05", "How far the duty may be off."},
}

var groupKeysOf = []Key{
	{"group", "name", "", "", `"cabin windows"`, "What you call it; groups and boards have names that differ."},
	{"group", "closure", "", "that of its board or joint, else the only one", `"hull"`, "What closes over it."},
	{"group", "joint", "", "the only jack", `"keel"`,
		"The joint or jack that feeds it; a board's output instead: board and output."},
	{"group", "board", "", "none", `"beacon"`, "The board that feeds it."},
	{"group", "output", "", "the only one", "1", "Which output of the board, from 1."},
	{"group", "return", "", "the second wire of its plus", `"mast"`,
		"The minus that it uses, where that isn't the twin of its plus."},
	{"group", "lights", "", "", `[ { part = "strip warm white 12 V", segments = 6 } ]`,
		`What it is made of, a table for each kind; "as found" where nobody knows: then it's measured, not judged.`},
	{"group", "see", "", "nothing", `"14 windows, warm"`,
		"What you should see when it's lit: it's asked at the look."},
	{"group", "sealed_wire", "", "false", "true",
		"A wire that is sealed in for a part still to come: its lights are what is clipped across its end for the test."},
}

var lightKeysOf = []Key{
	{"strip smd led load", "part", "", "", `"strip warm white 12 V"`, "What it is; sealworthy part lists them."},
	{"strip", "segments", "", "", "6", "How many segments: the pieces between two marks to cut at."},
	{"led", "leds", "", "", `["red 1.8 mm", "amber 1.8 mm"]`,
		"Different LEDs in series, in place of part and in_series."},
	{"led", "in_series", "", "1", "2", "How many LEDs share one resistor, in series."},
	{"led", "ohms", "ohm", "", "470", "The resistor of each branch; 0 only if there is none on purpose. On a " +
		"board's output it comes on top of the board's."},
	{"led test", "ohms_tolerance", "of one", "0.05", "0.01",
		"How far the resistor may be off: gold 0.05, brown 0.01."},
	{"led test", "watts", "W", "not stated", "0.25", "What the resistor is rated for; then its heat is checked."},
	{"strip smd led", "count", "", "1", "3", "How many such pieces, or branches with a resistor each, in parallel."},
	{"strip smd led", "reel", "", "one reel for each part", `"bag 3"`,
		`Pieces of one reel share what they deviate by. Another name keeps them apart; "mixed" says that they have ` +
			`little in common.`},
	{"test", "test_ohms", "ohm", "", "470",
		"The resistor that you clip across the end of a sealed wire for its test."},
}

var partKeys = []Key{
	{"part", "kind", "", "that of like", `"strip"`, "strip, smd, led, board or load."},
	{"part", "like", "", "none", `"strip warm white 12 V"`,
		"The known part that it is like: what isn't said here is as there."},
	{"partstrip partsmd", "volts", "V", "", "12", "What the part is made for."},
	{"partstrip", "segment_mA", "mA", "", "16", "What one segment draws at its volts."},
	{"partstrip", "holds_from_volts", "V", "a resistor in each segment", "10.5",
		"A regulator sits in each segment: from this voltage on it draws segment_mA and no more."},
	{"partsmd", "draw_mA", "mA", "", "10", "What one piece draws at its volts."},
	{"partstrip partsmd", "tolerance", "of one", "0.3; or the part's", "0.1",
		"How far one piece or segment may be off its current."},
	{"partled", "colour", "", "the part's", `"red"`, "The colour of its light."},
	{"partled", "volts_at_mA", "V and mA", "the part's", "[[1.9, 5], [2.1, 20]]",
		"Its forward voltage at one or more currents, rising."},
	{"partled", "spread_volts", "V", "0.3; or the part's", "0.15",
		"How far the forward voltage of a piece may be off."},
	{"partled", "volts_per_K", "V/K", "-0.002", "-0.002", "How its forward voltage changes with warmth."},
	{"partled", "max_mA", "mA", "20; or the part's", "20", "What it stands for hours."},
	{"partled", "conducts_reversed", "", "false", "true",
		"A diode lies across it: it draws a current when it's reversed, too."},
	{"partload", "behaves", "", "", `"flicker"`, "flicker, welding, sound, motor, dimmer or pixels."},
	{"partload", "state", "", `"running"`, `"full volume"`, "The state in which it draws this."},
	{"partload", "low_mA", "mA", "0", "4", "The least that it draws in that state."},
	{"partload", "mean_mA", "mA", "", "9", "What it draws on average."},
	{"partload", "high_mA", "mA", "", "16", "The most that it draws."},
	{"partstrip partsmd partled partload", "share", "of one", "0.9 strips, 0.5 others", "0.5",
		"How much of the spread one reel has in common; 0 nothing, 1 all."},
	{"partstrip partsmd", "led", "", "the part's", `"warm white 0603"`, "The LED whose curve those inside follow."},
	{"partstrip partsmd", "leds_in_series", "", "as fits its volts", "3", "How many LEDs are in series inside."},
	{"partstrip partsmd", "chips", "", "1", "3",
		"How many chips stand side by side in each LED, of which led is one: three in a 5050."},
	{"partstrip", "copper_ohms", "ohm", "0.02", "0.02", "The copper from one segment to the next, both conductors."},
	{"partstrip partsmd partled partload partboard board", "source", "", "none", `"measured on three pieces"`,
		"Where you have these values from."},
}
