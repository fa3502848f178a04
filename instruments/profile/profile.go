// Package profile describes instruments in TOML files: how the line is set, how
// the instrument is asked and how it answers, its ranges and their accuracy. A
// driver takes nearly any serial instrument by its profile instead of by code.
//
// Start with Load for a profile by name, built in or from the maker's folder,
// and Parse for the text of one. The built-in profiles are named by what an
// instrument speaks. A mistake in a file is a place.Problems: file, line, column.
//
// Units in a file stand in the key's name; numbers that an instrument sends are
// brought to SI by scale. The accuracy figures of the built-in profiles are
// generic (common practice, no source): put your instrument's own in a profile
// of your own before relying on a narrow band.
package profile

import (
	"fmt"
	"regexp"
	"time"

	"sealworthy/instruments"
)

// Kind is what an instrument is.
type Kind string

// The kinds of instrument.
const (
	SupplyKind Kind = "supply"
	MeterKind  Kind = "meter"
	RelaysKind Kind = "relays"
)

// Speaks is the protocol of an instrument.
type Speaks string

// The protocols.
const (
	SCPI   Speaks = "scpi"        // commands and replies with line ends, IEEE 488.2
	Terse  Speaks = "terse"       // short ASCII commands, replies of fixed length
	Modbus Speaks = "modbus"      // Modbus RTU
	Text   Speaks = "text stream" // sends lines of text by itself
	LCD    Speaks = "lcd stream"  // sends 14-byte frames of display segments by itself
)

// Profile is one kind of instrument. It is complete after Parse: defaults are
// filled in. Treat it as read-only.
type Profile struct {
	Name string `toml:"-"` // what Load finds it by
	File string `toml:"-"` // where it was read from

	Kind   Kind   `toml:"kind"`
	Speaks Speaks `toml:"speaks"`
	// in one line, what it is for and where its values come from
	About    string    `toml:"about"`
	Line     LineSet   `toml:"line"` // of a serial port
	Talk     Talk      `toml:"talk"`
	Identity Identity  `toml:"identity"`
	Channel  Channel   `toml:"channel"`
	Supply   *Supply   `toml:"supply"`
	Meter    *Meter    `toml:"meter"`
	Relays   *Relays   `toml:"relays"`
	Ranges   []Range   `toml:"range"`
	Bus      *Bus      `toml:"modbus"`
	Text     *TextForm `toml:"text"` // of a stream of lines; nil: it's none
	LCD      *LCDForm  `toml:"lcd"`  // of a stream of frames of a display; nil: it's none
}

// LineSet is how the serial line is set.
type LineSet struct {
	Baud   int    `toml:"baud"`   // bits a second
	Bits   int    `toml:"bits"`   // of data, 7 or 8
	Parity string `toml:"parity"` // none, even, odd
	Stop   int    `toml:"stop"`   // bits, 1 or 2
	DTR    *bool  `toml:"dtr"`    // absent: as the system sets it
	RTS    *bool  `toml:"rts"`    // absent: as the system sets it
}

// Talk is how commands and replies go over the line.
type Talk struct {
	End       string `toml:"end"`           // after a command: cr, lf, crlf or none
	ReplyEnd  string `toml:"reply_end"`     // after a reply; default as end
	Echo      bool   `toml:"echo"`          // the instrument sends back what it got
	GapMs     int    `toml:"gap_ms"`        // least time between a command or reply and the next command
	TimeoutMs int    `toml:"timeout_ms"`    // longest wait for a reply; a supply at most 300
	BootMs    int    `toml:"boot_ms"`       // boards that reset when the port opens: wait so long
	Longest   int    `toml:"longest_reply"` // bytes
	Remote    string `toml:"remote"`        // sent once before the first setting
	Clear     string `toml:"clear"`         // sent once at the start
	Errors    string `toml:"errors"`        // asks for the next entry of the error queue
	Complete  string `toml:"complete"`      // answers 1 when a setting was carried out, as *OPC?
	Mark      string `toml:"mark"`          // SCPI: a query that answers 1, put behind every second query, as *OPC?
	QuietMs   int    `toml:"quiet_ms"`      // silence that ends a resynchronisation
	Prompt    string `toml:"prompt"`        // SCPI: sent by the instrument after each command and reply, as "> "
	Local     string `toml:"local"`         // sent at the end: gives the front panel back
}

// Identity is how an instrument says who it is.
type Identity struct {
	Ask     Point  `toml:"ask"`     // absent: it can't be asked
	Pattern string `toml:"pattern"` // regular expression that the answer must match
}

// Matches is the pattern that the answer must match; nil: any will do.
func (i Identity) Matches() (*regexp.Regexp, error) {
	if i.Pattern == "" {
		return nil, nil
	}
	re, err := regexp.Compile(i.Pattern)
	if err != nil {
		return nil, fmt.Errorf("identity pattern: %w", err)
	}
	return re, nil
}

// LineEnd are the bytes of an end of a line by its name.
func LineEnd(name string) []byte {
	return map[string][]byte{"cr": []byte("\r"), "lf": []byte("\n"), "crlf": []byte("\r\n")}[name]
}

// Channel is how one output of several is chosen.
type Channel struct {
	By     string `toml:"by"`     // "", "list" ({channel} in commands) or "node" (select is sent first)
	Select string `toml:"select"` // as "INST:NSEL {channel}"
	Number int    `toml:"number"` // default 1
}

// Point is one thing that an instrument can be told or asked. SCPI and terse
// instruments use Send, Modbus ones Register. The zero Point is absent.
type Point struct {
	Send string `toml:"send"` // template; see Fill

	Length int  `toml:"length"` // terse: bytes in the reply
	From   int  `toml:"from"`   // terse: first byte of the number, from 0
	Digits int  `toml:"digits"` // terse: bytes of the number; 0: to the end
	Binary bool `toml:"binary"` // terse: the bytes are a number, high byte first
	Item   int  `toml:"item"`   // which number of a list, from 1; 0: the only one
	// Pattern must match the whole reply. Of an annotated reply, as "V=12.03 V", its
	// group named value is the number, and one named unit the unit.
	Pattern string `toml:"pattern"`

	Register *int   `toml:"register"` // Modbus: address as on the wire, from 0
	Function int    `toml:"function"` // Modbus: 1-6, 15, 16
	Words    int    `toml:"words"`    // Modbus: registers of the number, 1 or 2
	Order    string `toml:"order"`    // Modbus: "high first" or "low first" word
	Signed   bool   `toml:"signed"`   // Modbus, terse binary: two's complement
	Value    *int   `toml:"value"`    // Modbus: what to write where there is no template
	Count    int    `toml:"count"`    // Modbus: coils or registers in all

	Scale float64 `toml:"scale"` // SI per unit of the number sent; default 1
	Bit   *int    `toml:"bit"`   // for yes or no: the bit that is yes when 1; absent: any number but 0
	Is    *int    `toml:"is"`    // for yes or no: the number that means yes
	Not   bool    `toml:"not"`   // for yes or no: turns the answer round
	Over  *int    `toml:"over"`  // the raw number that marks an overload

	Of   string `toml:"-"` // Modbus: what a setting carries: "volts", "amps", "channels" or nothing
	Unit string `toml:"-"` // SI unit of the number that is asked for, "V" or "A"; "": none
}

// Given tells whether the profile has this point.
func (p Point) Given() bool { return p.Send != "" || p.Register != nil }

// Supply is what a bench supply can be told and asked.
type Supply struct {
	SetVolts     Point `toml:"set_volts"`     // V
	SetAmps      Point `toml:"set_amps"`      // the limit, A
	GetVolts     Point `toml:"get_volts"`     // reads the setting back, V
	GetAmps      Point `toml:"get_amps"`      // reads the limit back, A
	On           Point `toml:"on"`            // switches the output on
	Off          Point `toml:"off"`           // switches the output off
	GetOutput    Point `toml:"get_output"`    // reads back whether it is on
	MeasureVolts Point `toml:"measure_volts"` // reads the output, V
	MeasureAmps  Point `toml:"measure_amps"`  // reads the output, A
	Limiting     Point `toml:"limiting"`      // absent: told from what it reads back
	// above this it switches off by itself, V; absent: it can't
	ProtectVolts Point `toml:"protect_volts"`
	// above this it switches off by itself, A; absent: it can't
	ProtectAmps   Point   `toml:"protect_amps"`
	GetProtectV   Point   `toml:"get_protect_volts"` // reads that back, V
	GetProtectA   Point   `toml:"get_protect_amps"`  // reads that back, A
	Watchdog      Point   `toml:"watchdog"`          // absent: it has none
	GetWatchdog   Point   `toml:"get_watchdog"`      // reads it back, in seconds
	WatchdogS     float64 `toml:"watchdog_s"`        // default 30
	MaxVolts      float64 `toml:"max_volts"`
	MaxAmps       float64 `toml:"max_amps"`
	StepVolts     float64 `toml:"step_volts"` // setting resolution
	StepAmps      float64 `toml:"step_amps"`
	SetPercent    float64 `toml:"set_percent"` // accuracy of the output voltage, % of setting
	SetFloorVolts float64 `toml:"set_floor_volts"`
	LimitPercent  float64 `toml:"limit_percent"`    // accuracy of the limit, % of it
	LimitFloor    float64 `toml:"limit_floor_amps"` // A, above the limit beside LimitPercent
	IntegrationMs float64 `toml:"integration_ms"`   // of its read-back
	SettlingMs    float64 `toml:"settling_ms"`      // output after a setting
}

// Meter is what a meter can be told and asked. Text and LCD streams have none of the points.
type Meter struct {
	Current MeterFunction `toml:"current"` // absent: it can't
	Voltage MeterFunction `toml:"voltage"` // absent: it can't
	// over which one reading is averaged, ms
	IntegrationMs float64 `toml:"integration_ms"`
	SettlingMs    float64 `toml:"settling_ms"` // after a change of range
	FromMemory    bool    `toml:"from_memory"` // the query hands out the last reading: wait until it is new
	JackFuseAmps  float64 `toml:"jack_fuse_amps"`
	EveryMs       float64 `toml:"every_ms"`   // a meter that sends by itself: its spacing
	SleepsMin     float64 `toml:"sleeps_min"` // switches itself off after so long; 0: not known
}

// MeterFunction is one quantity that a meter measures.
type MeterFunction struct {
	Configure Point `toml:"configure"` // sent when the quantity changes
	Fix       Point `toml:"fix"`       // fixes the range: {range}
	Auto      Point `toml:"auto"`      // gives the choice of range back
	GetRange  Point `toml:"get_range"` // reads the range back, as a number
	Read      Point `toml:"read"`      // asks for one reading
}

// Relays is what a relay board can be told and asked.
type Relays struct {
	Channels int   `toml:"channels"`  // how many there are, from First
	First    int   `toml:"first"`     // number of the first; default 1
	Close    Point `toml:"close"`     // closes {channels}, leaves others
	Open     Point `toml:"open"`      // opens {channels}, leaves others
	OpenAll  Point `toml:"open_all"`  // opens all
	Exactly  Point `toml:"exactly"`   // closes {channels} and opens all others
	Closed   Point `toml:"closed"`    // which are closed
	SettleMs int   `toml:"settle_ms"` // until contacts have come to rest, ms
}

// Range is one measuring range as data sheets write it: ±(% of reading + counts).
type Range struct {
	Name       string               `toml:"name"`
	Quantity   instruments.Quantity `toml:"quantity"`
	Max        float64              `toml:"max"`        // SI
	Resolution float64              `toml:"resolution"` // SI, one count
	Percent    float64              `toml:"percent"`    // of reading
	Counts     float64              `toml:"counts"`     // of Resolution
	BurdenOhm  float64              `toml:"burden_ohm"`
	Ask        string               `toml:"ask"`  // what {range} stands for; default max
	Jack       string               `toml:"jack"` // the meter's jack that it needs; "" is any
}

// Bus is where an instrument sits on a Modbus line.
type Bus struct {
	Address int `toml:"address"` // 1 to 247; over a network up to 255
	// Frames over a network: "tcp" with the header of Modbus TCP, "rtu" as on a serial
	// line, through a converter that only passes bytes on. Default "tcp".
	Frames string `toml:"frames"`
	// Spare is how many registers beyond a point may be read along. With some,
	// questions that follow each other differ in length, and so do their
	// replies: one that comes late can't pass for the next.
	Spare int `toml:"spare"`
}

// TextForm is a line that a meter sends by itself.
type TextForm struct {
	// Pattern matches the whole line. Groups by name: value (needed), unit,
	// range, hold, overload.
	Pattern string             `toml:"pattern"`
	Units   map[string]float64 `toml:"units"`    // unit as sent to SI: "mA" = 0.001
	Current []string           `toml:"current"`  // units that are a current
	Voltage []string           `toml:"voltage"`  // units that are a voltage
	Over    []string           `toml:"overload"` // values that mean overload
}

// LCDForm is the meaning of the segments of a 14-byte frame. A segment is named
// "byte.bit": byte index 1 to 14 and bit 0 to 3.
type LCDForm struct {
	// Digits, from the left: the names of segments a to g of each.
	Digits   [][]string `toml:"digits"`
	Points   []string   `toml:"points"`   // the decimal point before digit 2, 3…
	Minus    string     `toml:"minus"`    // the number is negative
	Hold     string     `toml:"hold"`     // the display is held: no reading
	Auto     string     `toml:"auto"`     // it chooses its range itself
	Milli    string     `toml:"milli"`    // times 1e-3
	Micro    string     `toml:"micro"`    // times 1e-6
	Kilo     string     `toml:"kilo"`     // times 1e3
	Mega     string     `toml:"mega"`     // times 1e6
	Nano     string     `toml:"nano"`     // times 1e-9
	Amps     string     `toml:"amps"`     // it is a current
	Volts    string     `toml:"volts"`    // it is a voltage
	DC       string     `toml:"dc"`       // direct
	AC       string     `toml:"ac"`       // alternating: refused
	Battery  string     `toml:"battery"`  // its battery is low
	Others   []string   `toml:"others"`   // may be lit and change nothing
	Refuse   []string   `toml:"refuse"`   // lit: the number isn't a plain reading (ohm, hertz, relative)
	Overload []string   `toml:"overload"` // what the digits show then: "0L", "L"
}

// SerialLine is the line in the terms of an opener.
func (p *Profile) SerialLine() instruments.Line {
	return instruments.Line{Baud: p.Line.Baud, DataBits: p.Line.Bits, Parity: p.Line.Parity,
		StopBits: p.Line.Stop, DTR: p.Line.DTR, RTS: p.Line.RTS}
}

// LineOn is SerialLine for a port of this name: over a network a line has no speed.
func (p *Profile) LineOn(port string) instruments.Line {
	if _, is := instruments.Network(port); is {
		return instruments.Line{}
	}
	return p.SerialLine()
}

// Timeout is the longest wait for a reply.
func (p *Profile) Timeout() time.Duration { return ms(float64(p.Talk.TimeoutMs)) }

// Window is the integration time of one reading.
func (p *Profile) Window() time.Duration {
	switch {
	case p.Meter != nil:
		return ms(p.Meter.IntegrationMs)
	case p.Supply != nil:
		return ms(p.Supply.IntegrationMs)
	}
	return 0
}

// Boot is how long to wait after the port was opened.
func (p *Profile) Boot() time.Duration { return ms(float64(p.Talk.BootMs)) }

// RangesOf gives the ranges of a quantity, smallest first, in SI.
func (p *Profile) RangesOf(q instruments.Quantity) []instruments.Range {
	var out []instruments.Range
	for _, r := range p.Ranges {
		if q == "" || r.Quantity == q {
			out = append(out, r.SI())
		}
	}
	return out
}

// SI is the range with its accuracy as a fraction and a floor.
func (r Range) SI() instruments.Range {
	return instruments.Range{Name: r.Name, Quantity: r.Quantity, Max: r.Max, Resolution: r.Resolution,
		Accuracy:  instruments.Accuracy{OfReading: r.Percent / 100, Floor: r.Counts * r.Resolution},
		BurdenOhm: r.BurdenOhm}
}

// Describe is what is known of the instrument before it is asked.
func (p *Profile) Describe() instruments.Description {
	d := instruments.Description{Profile: p.Name, Ranges: p.RangesOf(""), Window: p.Window()}
	if p.Supply != nil {
		d.SetAccuracy = instruments.Accuracy{OfReading: p.Supply.SetPercent / 100, Floor: p.Supply.SetFloorVolts}
		d.LimitAccuracy = instruments.Accuracy{OfReading: p.Supply.LimitPercent / 100, Floor: p.Supply.LimitFloor}
		d.MaxAmps = p.Supply.MaxAmps
	}
	if p.Meter != nil {
		d.JackFuseAmps = p.Meter.JackFuseAmps
	}
	return d
}

func ms(x float64) time.Duration { return time.Duration(x * float64(time.Millisecond)) }
