package bench

import (
	"slices"

	"sealworthy/instruments/profile/place"
)

// tables are the tables of bench.toml, in the order in which they're told.
var tables = []place.Table{
	{Name: "supply", Opened: "[supply]", Says: "the bench supply"},
	{Name: "meter", Opened: "[meter]", Says: "the meter"},
	{Name: "relays", Opened: "[relays]", Says: "the relay board"},
	{Name: "relay", Opened: "[[relay]]", Says: "what one relay does"},
	{Name: "leads", Opened: "[leads]", Says: "the leads and clips, out and back"},
	{Name: "never_above", Opened: "[never_above]", Says: "what no test on this bench goes above"},
}

// keys are all keys of bench.toml.
var keys = []place.Key{
	{In: "supply meter relays", Name: "port", Default: "none", Example: `"/dev/ttyUSB0"`,
		Says: `The serial port: "COM3" on Windows; sealworthy ports lists them. A name under /dev/serial/by-id ` +
			`stays the same on replug. ` +
			"An instrument on the network is tcp://HOST:PORT."},
	{In: "supply meter relays", Name: "profile", Default: `"scpi supply", "scpi meter", "scpi relays"`,
		Example: `"scpi supply"`,
		Says:    "How the instrument speaks: a built-in profile or one of your own; sealworthy ports lists them."},
	{In: "supply meter relays", Name: "identity", Default: "any", Example: `"LANTERN,BENCH 30,0042,1.0"`,
		Says: "What it answered to who it is; another one is refused."},
	{In: "supply meter relays", Name: "address", Default: "as the profile says", Example: "2",
		Says: "Its address on a Modbus line. Modules with an address each may be on one port."},
	{In: "supply", Name: "channel", Default: "1", Example: "2", Says: "The output in use, where it has several."},
	{In: "supply", Name: "output_uF", Default: "not stated", Example: "470",
		Says: "The capacitance across its output: no limit holds that back when a clip touches."},
	{In: "supply", Name: "by_hand", Default: "false", Example: "true",
		Says: "You set it; it can't be switched off from here."},
	{In: "meter", Name: "jack", Default: "any", Example: `"mA"`,
		Says: "Where the red lead is: only ranges of this jack are used."},
	{In: "meter", Name: "fuse_amps", Unit: "A", Default: "as the profile says", Example: "0.5",
		Says: "The fuse behind that jack."},
	{In: "meter", Name: "typed", Default: "false", Example: "true", Says: "You type in what it shows."},
	{In: "meter", Name: "window_ms", Unit: "ms", Default: "as the profile says", Example: "200",
		Says: "How long one reading averages, as sealworthy ports --window finds it."},
	{In: "relay", Name: "channel", Example: "1", Says: "The relay's number on the board."},
	{In: "relay", Name: "feed", Default: "none", Example: `"cabin windows"`,
		Says: "The group or board that it feeds."},
	{In: "relay", Name: "button", Default: "none", Example: `"beacon"`, Says: "The board whose button it presses."},
	{In: "leads", Name: "ohms", Unit: "ohm", Default: "0.2", Example: "0.2",
		Says: "The resistance of both leads and clips together."},
	{In: "leads", Name: "half_width_ohm", Unit: "ohm", Default: "0.15", Example: "0.05",
		Says: "How far that may be off."},
	{In: "never_above", Name: "volts", Unit: "V", Default: "no bound", Example: "12.6", Says: "The highest voltage."},
	{In: "never_above", Name: "amps", Unit: "A", Default: "no bound", Example: "1.0", Says: "The highest current."},
}

// Keys are all keys of bench.toml, with what is to be said of each.
func Keys() []place.Key { return slices.Clone(keys) }

// Tables are the tables of bench.toml, in the order in which they're told.
func Tables() []place.Table { return slices.Clone(tables) }
