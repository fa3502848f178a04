package capture

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"strings"

	"sealworthy/instruments"
)

// StrangerError is another instrument than before, on the port of one that was gone.
type StrangerError struct {
	Which   string // supply, meter, relays
	Was, Is string // who it was and who it is, or how each was set
	Port    string // where it answers; "": not known
}

func (e *StrangerError) Error() string {
	at := ""
	if e.Port != "" {
		at = " on " + e.Port
	}
	return fmt.Sprintf("another %s answers%s: it is %q, it was %q", e.Which, at, e.Is, e.Was)
}

// AnotherError ends a test: the maker says that another instrument takes the place
// of the one that is gone. The bench is to be proved with it before the test goes on.
type AnotherError struct {
	*StrangerError
	InPlace bool // the old one wasn't lost: it may be kept yet
}

func (e *AnotherError) Error() string {
	return fmt.Sprintf("there is another %s now: the bench is proved with it before the test goes on", e.Which)
}

// Unwrap gives who is there.
func (e *AnotherError) Unwrap() error { return e.StrangerError }

// GivenUp tells whether a test ended because another instrument takes the place of one, and
// for that alone: what came with it, as an output that isn't off for sure or a line that
// isn't kept, mustn't be passed over.
func GivenUp(err error) (*AnotherError, bool) {
	switch x := err.(type) {
	case *AnotherError:
		return x, true
	case interface{ Unwrap() error }:
		return GivenUp(x.Unwrap())
	case interface{ Unwrap() []error }:
		var first *AnotherError
		for _, part := range x.Unwrap() {
			a, ok := GivenUp(part)
			if !ok {
				return nil, false
			}
			first = cmp.Or(first, a)
		}
		return first, first != nil
	}
	return nil, false
}

// AnotherMeter is what ends a test where the maker gives the meter up by himself.
func AnotherMeter() error { return &AnotherError{&StrangerError{Which: string(theMeter)}, true} }

// Interrupter is a Face that hears from its maker in the middle of a step, where nothing
// is asked: the error ends the test. It's given once.
type Interrupter interface {
	Interrupted() error
}

// interrupted tells whether the maker wants something else than the step under way.
func (e *engine) interrupted() error {
	if i, ok := e.f.(Interrupter); ok {
		return i.Interrupted()
	}
	return nil
}

// Another is the answer to a question about a lost instrument that says so.
const Another = "another"

// offered are the choices while an instrument is lost: another one may be taken where
// one is there. Another meter may be anywhere, or be read by eye.
func offered(lost *lostError, stranger *StrangerError) []string {
	if stranger == nil && lost.which != theMeter {
		return []string{"done", "stop"}
	}
	return []string{"done", Another, "stop"}
}

// Nameless: two instruments of one kind would answer the same. It has no name but
// that of its profile, or an identity without a serial number (0 or nothing, where
// there is none: IEEE 488.2, 10.14).
func Nameless(x any, identity string) bool {
	d := instruments.Description{}
	if x, ok := x.(instruments.Describer); ok {
		d = x.Describe()
	}
	return NamelessAs(d.Profile, identity)
}

// NamelessAs is Nameless of an instrument that a record tells of.
func NamelessAs(profile, identity string) bool {
	if profile != "" && strings.HasPrefix(identity, profile) {
		return true
	}
	const serial = 2 // maker, model, serial number, firmware
	fields := strings.Split(identity, ",")
	if len(fields) <= serial {
		return false
	}
	s := strings.TrimSpace(fields[serial])
	return s == "" || strings.Trim(s, "0") == ""
}

// sameSettings compares what a nameless supply is set to with what this one was told
// last. One that isn't set so is another, or lost its power meanwhile. A setting that was
// under way when it was lost may have come through or not, each half for itself.
func (e *engine) sameSettings(ctx context.Context, s instruments.Supply) error {
	t, ok := s.(instruments.SettingsTeller)
	if !ok || e.out.point == (RampPoint{}) {
		return nil // nothing was set yet
	}
	volts, limitA, err := t.Settings(ctx)
	if err != nil {
		return err
	}
	stepV, stepA := 0.02, 0.002 // settings come back rounded to the supply's own steps
	if l, ok := s.(instruments.VoltStepper); ok {
		stepV = max(stepV, l.VoltStep())
	}
	if l, ok := s.(instruments.LimitStepper); ok {
		stepA = max(stepA, l.LimitStep())
	}
	was := e.out.confirmed
	near := func(is, step, told, confirmed float64) bool {
		return math.Abs(is-told) <= step || was.limit > 0 && math.Abs(is-confirmed) <= step
	}
	if near(volts, stepV, e.out.volts, was.volts) && near(limitA, stepA, e.out.limit, was.limit) {
		return nil
	}
	_ = s.Off(context.WithoutCancel(ctx)) // whoever it is
	return &StrangerError{Which: string(theSupply), Is: settingText(volts, limitA) + ", or it lost its power",
		Was: settingText(e.out.volts, e.out.limit)}
}

// sameToTheEye asks whether a meter that can't say who it is is the same one: only the
// maker can see that.
func (e *engine) sameToTheEye(ctx context.Context, lost *lostError) error {
	id := e.ids[theMeter]
	if lost.which != theMeter || lost.silent || !Nameless(e.b.Meter, id) {
		return nil
	}
	if e.out.on { // held until now, and while this is asked nothing watches it
		if err := e.off(ctx); err != nil {
			return err
		}
	}
	a, err := e.ask(ctx, Question{Kind: AskPlug, Which: string(theMeter), Choices: []string{"done", Another, "stop"},
		Text: "The meter is back, and it can't say who it is. The output is off. " +
			"Is it the same one, with its lead in the same jack? " +
			"If it is another, this test ends here, and goes on once the bench is proved with it."})
	if err != nil {
		return err
	}
	if a.Choice == Another {
		return &AnotherError{&StrangerError{Which: string(theMeter), Was: id, Is: id}, false}
	}
	return choice(a)
}

func settingText(volts, limitA float64) string {
	return fmt.Sprintf("set to %.2f V and %s", volts, amps(limitA))
}
