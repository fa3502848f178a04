// Package bench reads bench.toml, which says what stands on the maker's bench:
// ports and profiles of the instruments, what each relay switches, the leads, and
// what no test may go above.
//
// Start with Parse for the file and Open for the instruments. A mistake in the
// file is a place.Problems: file, line and column. The package knows no plan;
// whoever made the file sees to it that feeds and boards exist.
package bench

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"unicode"

	"github.com/pelletier/go-toml/v2"

	"sealworthy/instruments/profile/place"
)

// Config is what stands on a bench.
type Config struct {
	Supply Supply  `toml:"supply" json:"supply"`
	Meter  Meter   `toml:"meter" json:"meter"`
	Relays Relays  `toml:"relays" json:"relays"`
	Relay  []Relay `toml:"relay,omitempty" json:"relay,omitempty"`
	Leads  Leads   `toml:"leads" json:"leads"`
	// NeverAbove is what the maker lets no test go above, whatever the plan says.
	NeverAbove NeverAbove `toml:"never_above" json:"never_above"`
}

// NeverAbove is a voltage and a current that this bench never goes above: a step
// that wants a higher voltage, or draws more, isn't powered. 0: not stated.
type NeverAbove struct {
	Volts float64 `toml:"volts,omitempty" json:"volts,omitempty"` // V
	Amps  float64 `toml:"amps,omitempty" json:"amps,omitempty"`   // A
}

// Supply is the bench supply. The zero Supply is none.
type Supply struct {
	// the system's name of it, or tcp://host:port
	Port string `toml:"port,omitempty" json:"port,omitempty"`
	// a built-in one or the maker's own
	Profile string `toml:"profile,omitempty" json:"profile,omitempty"`
	Channel int    `toml:"channel,omitempty" json:"channel,omitempty"` // output in use, where it has several
	// what it answered last; another one is refused
	Identity string `toml:"identity,omitempty" json:"identity,omitempty"`
	Address  int    `toml:"address,omitempty" json:"address,omitempty"` // on a Modbus line; 0: as the profile says
	// set by the maker: it can't be switched off from here
	ByHand bool `toml:"by_hand,omitempty" json:"by_hand,omitempty"`
	// OutputUF is the capacitance across its output, uF: no limit holds that back when
	// a clip touches. 0: not stated.
	OutputUF float64 `toml:"output_uF,omitempty" json:"output_uF,omitempty"`
}

// Meter is the meter. The zero Meter is none.
type Meter struct {
	// the system's name of it, or tcp://host:port
	Port string `toml:"port,omitempty" json:"port,omitempty"`
	// a built-in one or the maker's own
	Profile string `toml:"profile,omitempty" json:"profile,omitempty"`
	// what it answered last; another one is refused
	Identity string `toml:"identity,omitempty" json:"identity,omitempty"`
	// on a Modbus line; 0: as the profile says
	Address int `toml:"address,omitempty" json:"address,omitempty"`
	// where the red lead is: only ranges of this jack are used
	Jack string `toml:"jack,omitempty" json:"jack,omitempty"`
	// behind that jack; 0: as the profile says
	FuseAmps float64 `toml:"fuse_amps,omitempty" json:"fuse_amps,omitempty"`
	Typed    bool    `toml:"typed,omitempty" json:"typed,omitempty"` // the maker types its number in
	// WindowMs is how long one reading averages, ms, as found from a slow blinker;
	// 0: as the profile says.
	WindowMs float64 `toml:"window_ms,omitempty" json:"window_ms,omitempty"`
}

// Relays is the relay board. The zero Relays is none.
type Relays struct {
	// the system's name of it, or tcp://host:port
	Port string `toml:"port,omitempty" json:"port,omitempty"`
	// a built-in one or the maker's own
	Profile string `toml:"profile,omitempty" json:"profile,omitempty"`
	Address int    `toml:"address,omitempty" json:"address,omitempty"` // on a Modbus line; 0: as the profile says
	// what it answered last; another one is refused
	Identity string `toml:"identity,omitempty" json:"identity,omitempty"`
}

// Relay is what one relay does: it feeds a feed or presses the button of a board.
type Relay struct {
	Channel int `toml:"channel" json:"channel"` // as the board numbers it
	// a group's or a board's name; empty: it presses Button
	Feed   string `toml:"feed,omitempty" json:"feed,omitempty"`
	Button string `toml:"button,omitempty" json:"button,omitempty"` // a board's name
}

// Leads is the resistance of both leads and clips together, out and back.
type Leads struct {
	Ohms         float64 `toml:"ohms" json:"ohms"`                     // ohm
	HalfWidthOhm float64 `toml:"half_width_ohm" json:"half_width_ohm"` // limit of error of Ohms
}

// Leads that nobody measured: 0.1 to 0.3 ohm a pair when good (common practice, no source).
const (
	defaultLeadsOhm     = 0.2
	defaultLeadsHalfOhm = 0.15
)

// Default is a bench without any instrument, with leads as usual.
func Default() *Config {
	return &Config{Leads: Leads{Ohms: defaultLeadsOhm, HalfWidthOhm: defaultLeadsHalfOhm}}
}

// Over is a bench on top of the maker's own: an instrument that it doesn't name is
// that of the maker, and what no test goes above is the lower of both.
func (c *Config) Over(makers *Config) *Config {
	out := *c
	if out.Supply == (Supply{}) {
		out.Supply = makers.Supply
	}
	if out.Meter == (Meter{}) {
		out.Meter = makers.Meter
	}
	if out.Relays == (Relays{}) && len(out.Relay) > 0 {
		out.Relays = makers.Relays
	}
	if out.Leads == Default().Leads {
		out.Leads = makers.Leads
	}
	out.NeverAbove.Volts = lower(out.NeverAbove.Volts, makers.NeverAbove.Volts)
	out.NeverAbove.Amps = lower(out.NeverAbove.Amps, makers.NeverAbove.Amps)
	return &out
}

// lower is the lower of two bounds, of which 0 is none.
func lower(a, b float64) float64 {
	if a == 0 || b > 0 && b < a {
		return b
	}
	return a
}

// Parse reads bench.toml. The error is a place.Problems.
func Parse(file string, src []byte) (*Config, error) {
	c := &Config{}
	f := place.Decode(file, src, c)
	if err := f.Err(); err != nil {
		return nil, err
	}
	c.check(f)
	if err := f.Err(); err != nil {
		return nil, err
	}
	return c, nil
}

func (c *Config) check(f *place.File) {
	if !f.Has("leads.ohms") {
		c.Leads.Ohms = defaultLeadsOhm
		if !f.Has("leads.half_width_ohm") {
			c.Leads.HalfWidthOhm = defaultLeadsHalfOhm
		}
	}
	if !(c.Leads.Ohms >= 0 && c.Leads.Ohms <= 100) {
		f.Add("leads.ohms", "leads can't have this resistance", "write the ohms of both leads together, as 0.2")
	}
	if !(c.Leads.HalfWidthOhm >= 0 && c.Leads.HalfWidthOhm <= 100) {
		f.Add("leads.half_width_ohm", "leads can't be as uncertain as this", "write ohms, as 0.05")
	}
	if c.Meter.WindowMs < 0 || math.IsNaN(c.Meter.WindowMs) || c.Meter.WindowMs > 5000 {
		f.Add("meter.window_ms", "no meter averages for so long",
			"write how many milliseconds one reading lasts, as 200")
	}
	if c.Meter.FuseAmps < 0 || math.IsNaN(c.Meter.FuseAmps) || c.Meter.FuseAmps > 100 {
		f.Add("meter.fuse_amps", "no fuse has this rating", "write what is printed on the fuse, in A")
	}
	if f.Has("never_above.volts") && !(c.NeverAbove.Volts > 0 && c.NeverAbove.Volts <= 60) {
		f.Add("never_above.volts", "no bench for models has this as its highest voltage",
			"write volts, more than 0 and at most 60, as 12.6; leave it out if there is none")
	}
	if f.Has("never_above.amps") && !(c.NeverAbove.Amps > 0 && c.NeverAbove.Amps <= 100) {
		f.Add("never_above.amps", "no bench for models has this as its highest current",
			"write amperes, more than 0 and at most 100, as 1.0; leave it out if there is none")
	}
	if !(c.Supply.OutputUF >= 0 && c.Supply.OutputUF <= 1e5) {
		f.Add("supply.output_uF", "no supply has this capacitance across its output",
			"write microfarads, as 470; leave it out if nobody knows")
	}
	if c.Supply.Channel < 0 || c.Supply.Channel > 99 {
		f.Add("supply.channel", "no supply has this channel", "write 1 for the first output")
	}
	c.checkTexts(f)
	c.checkPorts(f)
	c.checkRelays(f)
}

// checkTexts refuses what nobody sees in a name: it stands in messages, and a
// line feed in it would look like a line of the program's own. What an
// instrument answered may hold anything: it's quoted wherever it's shown.
func (c *Config) checkTexts(f *place.File) {
	texts := map[string]string{
		"supply.port": c.Supply.Port, "supply.profile": c.Supply.Profile, "meter.port": c.Meter.Port,
		"meter.profile": c.Meter.Profile,
		"meter.jack":    c.Meter.Jack, "relays.port": c.Relays.Port, "relays.profile": c.Relays.Profile,
	}
	for i, r := range c.Relay {
		texts[fmt.Sprintf("relay.%d.feed", i)], texts[fmt.Sprintf("relay.%d.button", i)] = r.Feed, r.Button
	}
	for at, text := range texts {
		if i := strings.IndexFunc(text, func(r rune) bool { return !unicode.IsGraphic(r) }); i >= 0 {
			f.Add(at, fmt.Sprintf("an invisible character (%U) in a name", []rune(text[i:])[0]), "write the name anew")
		}
	}
}

// mostAddress is the highest unit over a network; on a serial line it is 247.
const mostAddress = 255

// sharedPorts are the ports that several instruments with addresses are on.
func (c *Config) sharedPorts() []string {
	n := map[string]int{}
	for _, s := range c.seats() {
		if *s.address > 0 {
			n[s.port]++
		}
	}
	var out []string
	for port, users := range n {
		if users > 1 {
			out = append(out, port)
		}
	}
	return out
}

func (c *Config) checkPorts(f *place.File) {
	type user struct {
		at      string
		address int
	}
	used := map[string][]user{}
	for _, x := range []struct {
		at, port, profile string
		address           int
		instead           bool
	}{
		{"supply", c.Supply.Port, c.Supply.Profile, c.Supply.Address, c.Supply.ByHand},
		{"meter", c.Meter.Port, c.Meter.Profile, c.Meter.Address, c.Meter.Typed},
		{"relays", c.Relays.Port, c.Relays.Profile, c.Relays.Address, false},
	} {
		if x.address < 0 || x.address > mostAddress {
			f.Add(x.at+".address", "no Modbus line has this address",
				"write the address that the module is set to, 1 to 247")
		}
		switch {
		case x.instead && (x.port != "" || x.profile != ""):
			f.Add(x.at, "either a port or the maker's own hand, not both", "take one of them out")
		case x.port != "" && x.profile == "":
			f.Add(x.at+".port", "the profile is missing: how does it speak?", `write profile = "scpi `+x.at+
				`", or another one`)
		}
		for _, other := range used[x.port] {
			if x.port == "" || x.address > 0 && other.address > 0 && x.address != other.address {
				continue
			}
			f.Add(x.at+".port", "this port belongs to the "+other.at+" already",
				"each instrument has a port of its own; Modbus modules on one line need an address each, as address = 2")
			break
		}
		used[x.port] = append(used[x.port], user{x.at, x.address})
	}
}

func (c *Config) checkRelays(f *place.File) {
	channels, does := map[int]bool{}, map[string]bool{}
	for i, r := range c.Relay {
		at := fmt.Sprintf("relay.%d", i)
		if !f.Has(at + ".channel") {
			f.Add(at, "which channel?", "write channel = 1")
		} else if channels[r.Channel] {
			f.Add(at+".channel", fmt.Sprintf("channel %d is used twice", r.Channel), "")
		}
		channels[r.Channel] = true
		if r.Channel < 0 || r.Channel > 65535 {
			f.Add(at+".channel", "no board has this channel", "")
		}
		what := "feed " + r.Feed
		switch {
		case (r.Feed == "") == (r.Button == ""):
			f.Add(at, "a relay switches a feed or presses a button", `write feed = "…" or button = "…"`)
			continue
		case r.Button != "":
			what = "button " + r.Button
		}
		if does[what] {
			f.Add(at, fmt.Sprintf("%s has a relay already", what), "")
		}
		does[what] = true
	}
}

// Encode writes a Config as bench.toml. Parse reads back the same.
func (c *Config) Encode() ([]byte, error) {
	out := *c
	out.Relay = append([]Relay{}, c.Relay...)
	sort.Slice(out.Relay, func(i, j int) bool { return out.Relay[i].Channel < out.Relay[j].Channel })
	body, err := toml.Marshal(out)
	if err != nil {
		return nil, fmt.Errorf("bench.toml: %w", err)
	}
	return append([]byte(header), body...), nil
}

const header = `# What stands on the bench: ports and profiles of the instruments, what each
# relay switches, the resistance of leads and clips together. Under [never_above]
# volts = 12.6 and amps = 1.0 are what no test on this bench goes above.

`
