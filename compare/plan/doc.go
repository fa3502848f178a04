// Package plan reads the maker's plan file and checks it. A Plan is complete:
// every part is looked up, every default filled in and marked as assumed, every
// reference resolved, so that the packages that follow ask no further questions.
//
// Start with Parse for a file and Starter for a new one; Edit changes one value
// and no other byte, EditAll several things as one. The package knows no instrument and computes no current.
// Units: V, A, ohm, m, m2, s, F, degC; tolerances are half-widths as fractions
// of the nominal unless named otherwise. In the file, units stand in the names
// of the keys: length_mm, draw_mA, period_s.
//
// # The plan file
//
// A plan is TOML: name = value, text in straight quotes, names with blanks in
// quotes too. A key that isn't known is an error with its place and the nearest
// known key. A group needs a name and lights; all else has a default, with a
// wide band where nobody would know.
//
// build, scale: the model. The name becomes part of file names.
//
// [jack.NAME]: where the model is fed, by direct current up to 60 V. volts;
// volts_range (else ±5 % for an adapter or USB, more for batteries); source:
// adapter, usb, coin, battery; adapter_amps; plug.
//
// [closure.NAME]: what hides lights for good when it's glued; inside: what it
// closes inside of; must_hold: names of what must be in it before it closes and
// that no test shows, ticked by hand. A group that names no closure takes that of
// its board or joint, else the only one, else "model".
//
// [joint.NAME]: a solder point. from: a jack or joint; wire; closure; holds, a
// list of what all behind it is fed through, each with what is known of it:
// diode (silicon, schottky; drop_volts), fuse (resettable, glass, blade; amps,
// ohms), switch, plug (amps, ohms), converter (step-down, step-up, linear;
// out_volts, efficiency, max_amps, lowest_volts, idle_mA).
//
// wire: awg, mm (copper diameter) or mm2; length_mm; solid, stranded or
// enamelled = true; tolerance; colour of its insulation and the pin that it ends at,
// which the sheet prints as a map. It is two conductors, out and back, unless a
// return is named. Unsaid: 0.2 mm, 200 mm, with a band of ±80 %; a thickness that
// nobody said sets no limit to a test.
//
// [return.NAME]: a minus that isn't the twin of its plus: a brass mast, one
// minus for six groups. to: a jack or return; wire; closure. LEDs with a common
// plus are the same thing with the return on the minus side: the joint is the
// common plus, each group has a return of its own.
//
// [board.NAME]: part, or own values; joint, return, closure, wire. standing_mA,
// tolerance; outputs, each with max_mA (above it the output stays lit), ohms (its
// own resistor), volts or follows_supply; outputs_run: alternate, together, free;
// paces, each with name and period_s and duty, or flashes = [lit, dark, …] in
// seconds, or steady = true, and how far that may be off: tolerance of the period,
// duty_tolerance; button = true when it steps the paces (several
// paces imply it); lowest_volts, highest_volts, capacitor_uF.
//
// [[group]]: name; joint, or board and output; return, closure, wire; see (what
// the maker should see); lights: "as found", or a list of
//   - strips: part, segments, count (pieces); those whose segments hold a
//     regulator in place of a resistor have holds_from_volts, the voltage of a
//     segment from which segment_mA flow and no more, whatever the voltage;
//   - pre-resistored SMDs: part, count;
//   - LEDs with a resistor: part and in_series, or leds = [ … ] for a mixed
//     series; ohms, ohms_tolerance, watts; count (such branches in parallel);
//   - loads without a pace: behaves (flicker, welding, sound, motor, dimmer,
//     pixels), state, low_mA, mean_mA, high_mA.
//
// sealed_wire = true: a wire that is sealed in for a part still to come. Its
// lights are the lamp, or test_ohms (with ohms_tolerance, else 5 %, and watts) the
// resistor, that is clipped across its end for the test and for that alone: the
// test shows the wire open, shorted or with a bad joint. With test_ohms it goes
// without saying. Such a wire hangs on a joint or jack, not on a board.
//
// Any value of the part can be said anew in the light: segment_mA, draw_mA,
// tolerance, volts_at_mA, spread_volts, max_mA, share. Pieces of one part in one plan are taken
// for one reel, whose deviations they share; reel = "bag 3" keeps them apart,
// reel = "mixed" says they have little in common.
//
// [part."NAME"]: a part of one's own: like = a known part, or kind = strip, smd,
// led, board, load, and its values: colour, volts_per_K, conducts_reversed of an
// LED; led, leds_in_series and chips in each of a strip or SMD, copper_ohms of a
// strip. "sealworthy
// explain KEY" tells each. A part book is a file of these; what it says
// of a built-in part narrows that part's spread.
//
// Names are at most 64 characters, without backslash, invisible characters or #
// in front, since the record of readings couldn't hold them; builds and closures
// without / : * ? " < > | too. No other text has invisible characters or a
// backslash either: all of it is shown, drawn or printed. Groups and boards have names that differ.
//
//	build = "Brackwater"
//	scale = "1:96"
//
//	[part."window strip"]
//	like = "strip warm white 12 V"
//	segment_mA = 16.4
//	tolerance = 0.06
//
//	[jack.main]
//	volts = 12.0
//	volts_range = [11.4, 12.6]
//	source = "adapter"
//	adapter_amps = 1.5
//
//	[closure.hull]
//	must_hold = ["ballast", "light pipe of the name plate"]
//
//	[closure.deckhouse]
//	[closure."lantern house"]
//	inside = "deckhouse"
//
//	[joint.keel]
//	from = "main"
//	wire = { awg = 26, length_mm = 350, stranded = true }
//	holds = [ { diode = "schottky" }, { fuse = "resettable", amps = 0.75 } ]
//
//	[return."brass mast"]
//	to = "main"
//	wire = { mm2 = 0.4, length_mm = 480 }
//
//	[board.beacon]
//	part = "two-output blinker"
//	joint = "keel"
//	closure = "deckhouse"
//	paces = [ { name = "slow", period_s = 2.0, duty = 0.3 }, { name = "fast", period_s = 0.8, duty = 0.3 } ]
//
//	[[group]]
//	name = "cabin windows"
//	closure = "hull"
//	joint = "keel"
//	wire = { mm = 0.2, length_mm = 220 }
//	lights = [ { part = "window strip", segments = 6 } ]
//	see = "14 windows, warm"
//
//	[[group]]
//	name = "port beacon"
//	board = "beacon"
//	output = 1
//	lights = [ { part = "red 1.8 mm", ohms = 470 } ]
//
//	[[group]]
//	name = "masthead light"
//	closure = "lantern house"
//	joint = "keel"
//	return = "brass mast"
//	lights = [ { leds = ["red 1.8 mm", "amber 1.8 mm"], ohms = 680 } ]
//
//	[[group]]
//	name = "wire for the searchlight"
//	closure = "hull"
//	joint = "keel"
//	wire = { mm = 0.2, length_mm = 400 }
//	lights = [ { test_ohms = 470, watts = 0.5 } ]
//
//	[[group]]
//	name = "galley stove"
//	closure = "deckhouse"
//	joint = "keel"
//	lights = [ { behaves = "flicker", low_mA = 4, mean_mA = 9, high_mA = 16 } ]
package plan
