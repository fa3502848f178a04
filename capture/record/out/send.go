package out

import (
	"cmp"
	"context"
	"fmt"
	"io/fs"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/cenkalti/backoff/v5"
	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"sealworthy/capture/record"
)

// Sender sends the readings of builds to a server. Nothing changes there by sending
// twice: each line has the same tags and the same time, and replaces itself.
type Sender struct {
	Target Target
	Token  string       // empty: none is asked for
	Client *http.Client // that doesn't follow an answer to elsewhere: see NewClient
	// Simulated sends what a simulated bench read, too. It says so.
	Simulated bool
	Lines     int           // most of them in a batch
	Patience  time.Duration // how long one batch is tried
	// Wait gives how long to wait before the next try; nil: doubling from half a second.
	Wait func() backoff.BackOff
	// Told is told of each try that failed and how long it waits; nil: nobody is.
	Told func(err error, wait time.Duration)
}

// NewClient makes a client that verifies who it talks to and goes nowhere else.
func NewClient() *http.Client {
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &http.Client{Timeout: time.Minute, CheckRedirect: stay}
}

func (s *Sender) wait() backoff.BackOff {
	if s.Wait != nil {
		return s.Wait()
	}
	return backoff.NewExponentialBackOff()
}

func (s *Sender) told(err error, wait time.Duration) {
	if s.Told != nil {
		s.Told(err, wait)
	}
}

// Place is how far a sitting was sent: the last line that the server has said it holds.
type Place struct {
	Seq   int    `json:"seq"`   // its number in the sitting
	Check string `json:"check"` // of that line in the chain
	Build string `json:"build"` // the identity of the build that it is of
}

// Places are those of the sittings of a build, by number. Losing them costs time and
// nothing else.
type Places map[int]Place

// Sent is what a sending did.
type Sent struct {
	BuildID   string `json:"build_id"`  // the build's own identity, 16 hex digits
	Lines     int    `json:"lines"`     // sent now
	Already   int    `json:"already"`   // sent before
	Simulated int    `json:"simulated"` // left out: a simulated bench read them
	record.Walked
}

// Send sends the readings of the build whose folder is tree, from where it stopped. After
// each batch that the server holds, reached is told how far it is. An error leaves what
// was reached.
func (s *Sender) Send(ctx context.Context, tree fs.FS, from Places, reached func(Places) error) (Sent, error) {
	w := sending{s: s, ctx: ctx, from: from, met: map[int]bool{}, places: Places{}, reached: reached, b: &batch{}}
	maps.Copy(w.places, from)
	var err error
	w.out.Walked, err = record.Walk(tree, w.take)
	if err == nil {
		err = w.pass(w.held...)
	}
	if err == nil {
		err = w.flush()
	}
	if err != nil {
		return w.out, fmt.Errorf("%s, after %d lines: %w", s.Target.URL, w.out.Lines, err)
	}
	if others := w.others(); len(others) > 0 { // the record was put back or made anew: those from their start
		for _, n := range others {
			delete(w.places, n)
		}
		again, err := s.Send(ctx, tree, w.places, reached)
		// none of w.out.Lines is of others
		again.Lines, again.Already = again.Lines+w.out.Lines, again.Already-w.out.Lines
		return again, err
	}
	return w.out, nil
}

// sending is one way through a record.
type sending struct {
	s       *Sender
	ctx     context.Context
	from    Places
	met     map[int]bool // of each sitting that is in from and in the record: its place was met
	places  Places
	reached func(Places) error
	b       *batch
	next    Places        // what is reached once the batch is held
	step    step          // that is under way
	held    []record.Kept // its latest readings, while it isn't known whether they had settled
	e       lineprotocol.Encoder
	out     Sent
}

// mostHeld bounds what is held: the readings by which a draw is found at rest are a few.
const mostHeld = 64

// take takes the next line: readings, and the lines that begin and end a sitting. That a draw
// had settled is said after the first readings of which that holds, so these wait for it.
func (w *sending) take(k record.Kept) error {
	w.out.BuildID = k.Build
	if err := w.ctx.Err(); err != nil {
		return err
	}
	w.step.follow(k.Record)
	if w.step.mayHaveSettled(k.Record) {
		k.Line.Tags, k.Line.Fields = slices.Clone(k.Line.Tags), slices.Clone(k.Line.Fields) // their room is used again
		w.held = append(w.held, k)
		if len(w.held) <= mostHeld {
			return nil
		}
		first := w.held[0]
		w.held = w.held[1:]
		return w.pass(first)
	}
	held := w.held
	w.held = nil
	if err := w.pass(held...); err != nil {
		return err
	}
	return w.pass(k)
}

// pass passes lines on.
func (w *sending) pass(lines ...record.Kept) error {
	for _, k := range lines {
		if err := w.one(k); err != nil {
			return err
		}
	}
	return nil
}

func (w *sending) one(k record.Kept) error {
	n, at := k.Sitting.Number, Place{k.Seq(), k.Check, k.Build}
	p, before := w.from[n]
	if before { // whatever the line is: another sitting has another kind of line there
		w.met[n] = w.met[n] || at == p
	}
	if k.Record.Reading == nil && k.Record.Sitting == nil {
		return nil
	}
	if k.Record.Simulated && !w.s.Simulated {
		w.out.Simulated++
		return nil
	}
	if before && at.Seq <= p.Seq {
		w.out.Already++
		return nil
	}
	if before && !w.met[n] {
		return nil // of another sitting than was sent: it goes out from its start
	}
	if err := w.b.add(&w.e, k, w.step.voltsOf(k.Record)); err != nil {
		return err
	}
	if w.next == nil {
		w.next = Places{}
	}
	w.next[n] = at
	if len(w.b.ends) < max(1, w.s.Lines) && len(w.b.text) < mostBatch {
		return nil
	}
	return w.flush()
}

// others are the sittings of the record that have the number of one that was sent and
// aren't that one: the last line that was sent of it isn't there.
func (w *sending) others() (out []int) {
	for n, met := range w.met {
		if !met {
			out = append(out, n)
		}
	}
	return out
}

// flush sends what is waiting.
func (w *sending) flush() error {
	if len(w.b.ends) == 0 {
		return nil
	}
	if err := w.s.post(w.ctx, w.b); err != nil {
		return err
	}
	w.out.Lines += len(w.b.ends)
	maps.Copy(w.places, w.next)
	w.next = nil
	w.b.clear()
	return w.reached(w.places)
}

// mostBatch bounds a batch, in bytes; servers take some 25 MB.
const mostBatch = 4 << 20

// batch is lines that go out at once.
type batch struct {
	text []byte
	ends []int // of the lines in text
}

func (b *batch) clear() { b.text, b.ends = b.text[:0], b.ends[:0] }

func (b *batch) halves() (first, second *batch) {
	n := len(b.ends) / 2
	cut := b.ends[n-1]
	second = &batch{text: b.text[cut:]}
	for _, e := range b.ends[n:] {
		second.ends = append(second.ends, e-cut)
	}
	return &batch{text: b.text[:cut], ends: b.ends[:n]}, second
}

// add encodes a line: with the bench as a tag, so that a shop can tell its benches apart,
// and without the check, which is of the record alone. A reading gets what a query can't
// find elsewhere: the build's name, and settledV, the set voltage at which it had settled; 0:
// it hadn't.
func (b *batch) add(e *lineprotocol.Encoder, k record.Kept, settledV float64) error {
	e.Reset()
	e.ClearErr()
	e.StartLine(k.Line.Measurement)
	tags := slices.Clone(k.Line.Tags)
	if k.Sitting.Bench != "" {
		// Readers disagree on what a backslash means.
		tags = append(tags, record.Tag{Key: "bench", Value: strings.ReplaceAll(k.Sitting.Bench, `\`, "/")})
	}
	slices.SortFunc(tags, func(a, b record.Tag) int { return cmp.Compare(a.Key, b.Key) })
	for _, t := range tags {
		e.AddTag(t.Key, t.Value)
	}
	for _, f := range k.Line.Fields {
		if f.Key != "bench" { // the field of a sitting's first line: it is a tag now
			e.AddField(f.Key, f.Value)
		}
	}
	if k.Record.Reading != nil {
		if v, ok := lineprotocol.StringValue(k.Sitting.Name); ok && k.Sitting.Name != "" {
			e.AddField("name", v)
		}
		if v, ok := lineprotocol.FloatValue(settledV); ok && settledV > 0 {
			e.AddField("settled_volts", v)
		}
	}
	e.EndLine(k.Line.At)
	if err := e.Err(); err != nil {
		return fmt.Errorf("line %d of sitting %d: %w", k.Seq(), k.Sitting.Number, err)
	}
	b.text = append(b.text, e.Bytes()...)
	b.ends = append(b.ends, len(b.text))
	return nil
}
