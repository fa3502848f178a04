// Package instruments states what the power-on test needs from a bench: a
// meter that answers one reading, a supply that can be set, switched and read,
// and relays. Drivers live in the folders below it; they return concrete types
// and promise what the comments here say.
//
// Values are SI (V, A, ohm, s). A reply that is an overload, stale or not a
// number is a Reading without Value. A garbled reply, a silent port or a lost
// port is an error and never a Reading. A half-width is the limit of error of
// an instrument, taken as rectangular (JCGM 100:2008, 4.3.7).
package instruments

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Quantity says what a reading is of.
type Quantity string

// The quantities of the power-on test.
const (
	Current Quantity = "current"
	Voltage Quantity = "voltage"
)

// Unit gives the SI unit in which a quantity is recorded.
func (q Quantity) Unit() string {
	switch q {
	case Current:
		return "A"
	case Voltage:
		return "V"
	}
	return ""
}

// Status says whether a reply carries a value. The zero Status is no valid answer.
type Status string

// What a reply can be. Only OK carries a value.
const (
	OK         Status = "ok"
	Overload   Status = "overload"
	NotANumber Status = "not a number"
	Held       Status = "held" // the display is frozen: an old value
)

// Reading is one reply of one instrument.
type Reading struct {
	Instrument string        `json:"instrument"` // by its name on the bench: supply, meter
	Quantity   Quantity      `json:"quantity"`
	Unit       string        `json:"unit"` // of Value and HalfWidth: V, A
	Status     Status        `json:"status"`
	Value      *float64      `json:"value,omitempty"` // SI; nil unless Status is OK
	HalfWidth  float64       `json:"half_width"`      // SI; limit of error at this value and range
	Range      string        `json:"range,omitempty"` // the instrument's range, where it is known
	At         time.Time     `json:"at"`              // end of the integration window
	Window     time.Duration `json:"window_ns"`       // over which it was averaged; 0: not known
	Latency    time.Duration `json:"latency_ns"`      // from the question to the last byte of the reply
	Raw        string        `json:"raw"`             // the reply as it came
}

// Float returns the value and whether there is one.
func (r Reading) Float() (float64, bool) {
	if r.Status != OK || r.Value == nil {
		return 0, false
	}
	return *r.Value, true
}

// Meter answers one reading. An error means that no fresh, well-formed reply
// came; the caller may ask again, a reply that comes late is never handed out.
type Meter interface {
	Read(ctx context.Context, q Quantity) (Reading, error)
}

// Supply is a bench supply with one output in use.
type Supply interface {
	// Set sets voltage and current limit and reads both back. It never repeats
	// a setting silently: what was not confirmed is an error.
	Set(ctx context.Context, volts, limitAmps float64) error
	// On switches the output on.
	On(ctx context.Context) error
	// Off switches the output off. It may be called at any time, from any
	// goroutine, twice; it waits for a pending exchange no longer than that
	// exchange's deadline (300 ms at most).
	Off(ctx context.Context) error
	// Read reads the output back.
	Read(ctx context.Context, q Quantity) (Reading, error)
	// Limiting reports constant-current operation.
	Limiting(ctx context.Context) (bool, error)
}

// Relays switches terminals. After Close exactly these channels are closed.
type Relays interface {
	Close(ctx context.Context, channels ...int) error
}

// Identifier is implemented by instruments that can say who they are. The
// answer is the same for the same instrument on any port.
type Identifier interface {
	Identify(ctx context.Context) (string, error)
}

// Ranger is implemented by meters whose range can be fixed. It returns the
// range that holds peak (SI) and its burden; peak <= 0 gives back automatic choice.
type Ranger interface {
	FixRange(ctx context.Context, q Quantity, peak float64) (Range, error)
}

// OutputTeller is implemented by supplies that can be asked whether their output
// is on.
type OutputTeller interface {
	OutputIs(ctx context.Context) (on bool, err error)
}

// LimitStepper is implemented by supplies whose limit goes in steps: the limit in
// force is the one asked for or the next step above it. Amperes.
type LimitStepper interface {
	LimitStep() float64
}

// VoltStepper is implemented by supplies whose voltage is set in steps, V: it's set, and
// told, rounded to them.
type VoltStepper interface {
	VoltStep() float64
}

// SettingsTeller is implemented by supplies that can be asked what they are set to.
type SettingsTeller interface {
	Settings(ctx context.Context) (volts, limitAmps float64, err error)
}

// OffKnower is implemented by supplies that know what they told the output. KnownOff
// is true where it was confirmed to be off and wasn't told to go on since.
type OffKnower interface {
	KnownOff() bool
}

// OffTimer is implemented by supplies that know how long Off may take, by how slow
// the supply has shown itself to be.
type OffTimer interface {
	OffWithin() time.Duration
}

// Noter is implemented by instruments that do without something that is usual, or do
// something by themselves: the notes say what, in sentences.
type Noter interface {
	Notes() []string
}

// Protector is implemented by supplies with over-voltage and over-current
// protection. Protect sets what the supply has of both and reads it back: what
// isn't confirmed is an ErrNotSet.
type Protector interface {
	Protect(ctx context.Context, volts, amps float64) error
}

// Describer tells what is known of an instrument without asking it.
type Describer interface {
	Describe() Description
}

// Description is what a record keeps of an instrument.
type Description struct {
	Profile  string        `json:"profile"`  // that drives it
	Identity string        `json:"identity"` // as it answered; empty: it can't say
	Ranges   []Range       `json:"ranges"`
	Window   time.Duration `json:"window_ns"` // integration time of one reading
	// SetAccuracy is for supplies: how far the output may be from what was set.
	SetAccuracy Accuracy `json:"set_accuracy"`
	// LimitAccuracy is how far the current that a supply lets through may be above the
	// limit that was set; zero: not stated.
	LimitAccuracy Accuracy `json:"limit_accuracy,omitzero"`
	// Simulated is true where a rig answers.
	Simulated bool `json:"simulated"`
	// JackFuseAmps is the fuse behind the meter's jack; 0 is unknown.
	JackFuseAmps float64 `json:"jack_fuse_amps,omitempty"`
	// MaxAmps is the most that a supply can give; 0 is unknown.
	MaxAmps float64 `json:"max_amps,omitempty"`
}

// Range is one measuring range.
type Range struct {
	Name       string   `json:"name"`
	Quantity   Quantity `json:"quantity"`
	Max        float64  `json:"max"`        // SI
	Resolution float64  `json:"resolution"` // SI, one count
	Accuracy   Accuracy `json:"accuracy"`
	BurdenOhm  float64  `json:"burden_ohm"`
}

// Accuracy is ±(fraction of the reading + floor), as data sheets write
// ±(% of reading + counts).
type Accuracy struct {
	OfReading float64 `json:"of_reading"` // a fraction: 0.005 is 0.5 %
	Floor     float64 `json:"floor"`      // SI: counts times resolution
}

// HalfWidth gives the limit of error at value (SI).
func (a Accuracy) HalfWidth(value float64) float64 {
	if value < 0 {
		value = -value
	}
	return a.OfReading*value + a.Floor
}

// Line is how a serial line is set.
type Line struct {
	Baud     int    // bits a second
	DataBits int    // 5 to 8
	Parity   string // none, even, odd
	StopBits int    // 1 or 2
	DTR, RTS *bool  // nil leaves them as the system sets them
}

// Bits is the number of bit times that one character takes on the line.
func (l Line) Bits() int {
	n := 1 + l.DataBits + l.StopBits
	if l.Parity != "" && l.Parity != "none" {
		n++
	}
	return n
}

// CharTime is the time of one character on the line.
func (l Line) CharTime() time.Duration {
	if l.Baud <= 0 {
		return 0
	}
	return time.Duration(float64(l.Bits()) / float64(l.Baud) * float64(time.Second))
}

// Port is an open serial line. ReadUntil returns as soon as at least one byte
// is there; at the deadline it returns clock.ErrDeadline; it never returns 0, nil.
type Port interface {
	Write(ctx context.Context, p []byte) error
	ReadUntil(ctx context.Context, p []byte, deadline time.Time) (int, error)
	Discard() // throws away what has arrived and was not read
	Close() error
}

// networkScheme begins the name of a port that is reached over a network.
const networkScheme = "tcp://"

// Network gives host:port of a port that is reached over a network, named as
// tcp://host:port. There a line has no speed.
func Network(port string) (address string, is bool) { return strings.CutPrefix(port, networkScheme) }

// Opener opens the port called name.
type Opener func(ctx context.Context, name string, l Line) (Port, error)

// Errors that callers branch on.
var (
	// ErrPortGone: the cable was pulled or the other end hung up. Open again
	// and identify before use.
	ErrPortGone = errors.New("the port is gone")
	// ErrNoReply: nothing came before the deadline.
	ErrNoReply = errors.New("no reply")
	// ErrGarbled: bytes came that are no well-formed reply.
	ErrGarbled = errors.New("garbled reply")
	// ErrNotSet: a setting was not confirmed by what was read back.
	ErrNotSet = errors.New("setting not confirmed")
	// ErrNoProtection: the supply has neither over-voltage nor over-current
	// protection that can be set.
	ErrNoProtection = errors.New("the supply has no over-voltage or over-current protection to set")
)

// PortError says what happened on which port and what to do.
type PortError struct {
	Port string // the system's name of the port
	Op   string // what was being done, as "read current"
	Hint string // what to do; may be empty
	Err  error  // the cause; Unwrap gives it
}

func (e *PortError) Error() string {
	s := fmt.Sprintf("%s: %s: %v", e.Port, e.Op, e.Err)
	if e.Hint != "" {
		s += " (" + e.Hint + ")"
	}
	return s
}

// Unwrap gives the cause.
func (e *PortError) Unwrap() error { return e.Err }
