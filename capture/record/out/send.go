package out

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
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
	Seq   int    `json:"seq"`
	Check string `json:"check"` // of that line in the chain
}

// Places are those of the sittings of a build, by number. Losing them costs time and
// nothing else.
type Places map[int]Place

// Sent is what a sending did.
type Sent struct {
	BuildID   string `json:"build_id"`
	Lines     int    `json:"lines"`     // sent now
	Already   int    `json:"already"`   // sent before
	Simulated int    `json:"simulated"` // left out: a simulated bench read them
	record.Walked
}

// Send sends the readings of the build whose folder is tree, from where it stopped. After
// each batch that the server holds, reached is told how far it is. An error leaves what
// was reached.
func (s *Sender) Send(ctx context.Context, tree fs.FS, from Places, reached func(Places) error) (Sent, error) {
	w := sending{s: s, ctx: ctx, places: Places{}, reached: reached, b: &batch{}}
	for n, p := range from {
		w.places[n] = p
	}
	var err error
	w.out.Walked, err = record.Walk(tree, w.take)
	if err == nil {
		err = w.flush()
	}
	var other *otherError
	if errors.As(err, &other) { // the record was put back or made anew: send that sitting from its start
		delete(w.places, other.sitting)
		return s.Send(ctx, tree, w.places, reached)
	}
	if err != nil {
		err = fmt.Errorf("%s, after %d lines: %w", s.Target.URL, w.out.Lines, err)
	}
	return w.out, err
}

// otherError: another line stands where the last one stood that was sent.
type otherError struct{ sitting int }

func (e *otherError) Error() string {
	return fmt.Sprintf("sitting %d is another one than was sent", e.sitting)
}

// sending is one way through a record.
type sending struct {
	s       *Sender
	ctx     context.Context
	places  Places
	reached func(Places) error
	b       *batch
	next    Places // what is reached once the batch is held
	e       lineprotocol.Encoder
	out     Sent
}

// take takes the next line: readings, and the lines that begin and end a sitting.
func (w *sending) take(k record.Kept) error {
	w.out.BuildID = k.Build
	if err := w.ctx.Err(); err != nil {
		return err
	}
	if k.Record.Reading == nil && k.Record.Sitting == nil {
		return nil
	}
	if k.Record.Simulated && !w.s.Simulated {
		w.out.Simulated++
		return nil
	}
	n, seq := k.Sitting.Number, k.Seq()
	if p, ok := w.places[n]; ok && seq <= p.Seq {
		if seq == p.Seq && k.Check != p.Check {
			return &otherError{n}
		}
		w.out.Already++
		return nil
	}
	if err := w.b.add(&w.e, k); err != nil {
		return err
	}
	if w.next == nil {
		w.next = Places{}
	}
	w.next[n] = Place{seq, k.Check}
	if len(w.b.ends) < max(1, w.s.Lines) && len(w.b.text) < mostBatch {
		return nil
	}
	return w.flush()
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
	for n, p := range w.next {
		w.places[n] = p
	}
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
// and without the check, which is of the record alone.
func (b *batch) add(e *lineprotocol.Encoder, k record.Kept) error {
	e.Reset()
	e.ClearErr()
	e.StartLine(k.Line.Measurement)
	tags := slices.Clone(k.Line.Tags)
	if k.Sitting.Bench != "" {
		// Readers disagree on what a backslash means.
		tags = append(tags, record.Tag{Key: "bench", Value: strings.ReplaceAll(k.Sitting.Bench, `\`, "/")})
	}
	slices.SortFunc(tags, func(a, b record.Tag) int {
		if a.Key < b.Key {
			return -1
		}
		return 1
	})
	for _, t := range tags {
		e.AddTag(t.Key, t.Value)
	}
	for _, f := range k.Line.Fields {
		if f.Key != "bench" { // the field of a sitting's first line: it is a tag now
			e.AddField(f.Key, f.Value)
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
