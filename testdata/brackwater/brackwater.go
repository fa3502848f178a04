// Package brackwater holds the demo build: the invented lightship Brackwater.
// No such ship, client or model exists.
package brackwater

import _ "embed"

// Plan is the build's plan.toml.
//
//go:embed plan.toml
var Plan []byte

// Bench is the build's bench.toml: leads, and what each relay switches.
//
//go:embed bench.toml
var Bench []byte

// OverloadedGroup is the group whose output the demo overloads.
const OverloadedGroup = "port beacon"

// SecondFaults are those of which the demo hides one, the first where nothing
// else is asked for.
var SecondFaults = []string{
	"cabin windows=dark segment",
	"crew portholes=dark segment",
	"engine room=dark segment",
	"saloon=dark segment",
	"hold lamps=open branch",
	"boiler glow=reversed LED",
	"boiler glow=missing resistor",
	"anchor light=missing resistor",
	"gallery lamps=open branch",
	"masthead light=short",
	"engine room=short",
}

// PlainMeter is the profile of another bench's meter, 0.5 % where the demo's is
// 0.2 %; PlainMeterName is its file's name without .toml.
//
//go:embed "plain meter.toml"
var PlainMeter []byte

// PlainMeterName names that profile.
const PlainMeterName = "plain meter"

// ReturnFaults are those of which the demo of a return hides one: what breaks
// in a finished model, can be seen from its jack, and shows to whoever looks.
var ReturnFaults = []string{
	"cabin windows=dark segment",
	"boiler glow=open branch",
	"gallery lamps=open branch",
	"hold lamps=open branch",
	"lantern=stuck dark",
	"masthead light=open branch",
	"saloon=dark segment",
	"anchor light=open branch",
}
