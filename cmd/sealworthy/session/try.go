package session

import (
	"context"
	"strconv"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

// Trial is what trying an instrument gave: who it is, one reading, and each byte
// that went and came.
type Trial struct {
	Port    string `json:"port"`    // by its name
	Profile string `json:"profile"` // that it was tried with
	// as it calls itself; empty: it can't be asked
	Identity string               `json:"identity"`
	Reading  *instruments.Reading `json:"reading,omitempty"`
	Notes    []string             `json:"notes,omitempty"` // what its driver does without
	Bytes    []TappedBytes        `json:"bytes"`
}

// TappedBytes is what went over a line at once.
type TappedBytes struct {
	AfterS float64 `json:"after_s"`
	Way    string  `json:"way"`    // sent or got
	Quoted string  `json:"quoted"` // as Go quotes: readable, and nothing lost
}

// Try talks to one instrument and switches nothing. What was said until an error
// stands in the Trial.
func Try(ctx context.Context, w World, port string, p *profile.Profile, name string) (Trial, error) {
	began := w.Clock.Now()
	t := Trial{Port: port, Profile: name, Bytes: []TappedBytes{}}
	tap := func(at time.Time, _ string, d wire.Direction, b []byte) {
		x := TappedBytes{AfterS: at.Sub(began).Seconds(), Way: string(d), Quoted: strconv.QuoteToASCII(string(b))}
		t.Bytes = append(t.Bytes, x)
	}
	x, err := bench.Connect(ctx, w.Clock, wire.Tapped(w.Clock, w.Open, tap), port, p)
	if err != nil {
		return t, err
	}
	t.Identity = x.Identity
	if n, ok := x.Supply.(instruments.Noter); ok {
		t.Notes = n.Notes()
	}
	r, err := oneReading(ctx, x)
	t.Reading = r
	if cerr := x.Port.Close(); err == nil {
		err = cerr
	}
	return t, err
}

// oneReading reads a meter or a supply once; a relay board has nothing to read.
func oneReading(ctx context.Context, x *bench.Connected) (*instruments.Reading, error) {
	var r instruments.Reading
	var err error
	switch {
	case x.Meter != nil:
		r, err = x.Meter.Read(ctx, instruments.Current)
	case x.Supply != nil:
		r, err = x.Supply.Read(ctx, instruments.Voltage)
	default:
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return &r, nil
}
