package suite_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/outside"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig/odd"
	"sealworthy/instruments/suite"
	"sealworthy/instruments/wire"
)

// peer is an instrument of testdata/scpi_peer.py, which was written from the standards by
// one who hadn't seen the drivers. Its bytes and their meaning are its own; when they go
// on the line is the fake's.
type peer struct {
	odd odd.Oddities
	t   *testing.T

	mu  *sync.Mutex // of the program, which is one for all
	in  io.Writer
	out *bufio.Reader
}

// python runs the peers, which need what comes with it alone.
const python = "python3"

// peers starts the program.
func peers(t *testing.T) *peer {
	t.Helper()
	outside.Need(t, python, "json, socket", python)
	x := outside.Start(t, true, python, "testdata/scpi_peer.py")
	return &peer{mu: new(sync.Mutex), in: x.In, out: x.Out}
}

// ask puts one question to the program.
func (p *peer) ask(question, answer any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	b, err := json.Marshal(question)
	if err == nil {
		_, err = p.in.Write(append(b, '\n'))
	}
	var line []byte
	if err == nil {
		line, err = p.out.ReadBytes('\n')
	}
	if err == nil {
		err = json.Unmarshal(line, answer)
	}
	if err != nil {
		p.t.Errorf("the instrument's program: %v after %s", err, b)
	}
}

// seconds on the line's clock.
func seconds(f *fake) float64 { return time.Duration(f.c.Now().UnixNano()).Seconds() }

func (*peer) lines() {}

func (*peer) take(got []byte) (int, []byte) { return (*scpiFake)(nil).take(got) }

func (p *peer) takes() time.Duration { return p.odd.Takes() }

func (p *peer) answer(f *fake, message []byte) []byte {
	var said struct{ Say string }
	p.ask(map[string]any{"at": seconds(f), "hear": string(message) + "\n"}, &said)
	if said.Say == "" {
		return nil
	}
	return []byte(said.Say)
}

func (*peer) spoil(b []byte) []byte { return bytes.Replace(b, b[:1], []byte("x"), 1) }

// peerSet is what the instrument says that it is set to.
type peerSet struct {
	Volts, Amps float64
	On          bool
	Closed      []int
	Remote      bool
	OthersOn    bool `json:"others_on"`
}

// peerControl is the instrument in the hands of a test: the line is the fake's.
type peerControl struct {
	*fake
	*peer
	driver *bench.Connected
}

func (c peerControl) set() (s peerSet) {
	c.ask(map[string]any{"at": seconds(c.fake), "tell": true}, &s)
	return s
}

func (c peerControl) world(w map[string]any) {
	c.ask(map[string]any{"at": seconds(c.fake), "world": w}, &struct{}{})
}

func (c peerControl) True(v, a float64) { c.world(map[string]any{"volts": v, "amps": a}) }
func (c peerControl) Overload(on bool)  { c.world(map[string]any{"over": on}) }
func (c peerControl) Ignore(on bool)    { c.world(map[string]any{"deaf": on}) }
func (c peerControl) Closed() []int     { return c.set().Closed }

func (c peerControl) Settings() (float64, float64, bool) {
	s := c.set()
	return s.Volts, s.Amps, s.On
}

// fresh makes an instrument with these oddities, and its driver with a profile that suits them.
func (p *peer) fresh(t *testing.T, kind string, o odd.Oddities) (suite.Subject, peerControl) {
	t.Helper()
	own := *p
	own.odd, own.t = o, t
	pr, err := profile.Load(kind, "")
	if err != nil {
		t.Fatal(err)
	}
	suits(pr, o)
	outputs, lines := 1, 1
	if pr.Channel.Select != "" {
		outputs, lines = 2, 2 // a line chooses the output before each
		pr.Channel.Number = outputs
	}
	names := o
	if names == nil {
		names = odd.Oddities{}
	}
	own.ask(map[string]any{"new": string(pr.Kind), "odd": names, "outputs": outputs}, &struct{}{})
	f, x := putUp(t, pr, &own, nil)
	c := peerControl{f, &own, x}
	takes := time.Duration(lines) * o.Takes()
	if takes > 0 { // its longest reply, who it is, takes its time on the line, too
		takes += time.Duration(len(x.Identity)) * pr.SerialLine().CharTime()
	}
	return suite.Subject{Clock: f.c, Control: c, Meter: x.Meter, Supply: x.Supply, Relays: x.Relays,
		Timeout: pr.Timeout(), Takes: takes}, c
}

// Each oddity, all that go together and none keep the contract with an instrument by
// another hand, too.
func TestContractOfInstrumentsByAnotherHand(t *testing.T) {
	p := peers(t)
	tries := map[string]odd.Oddities{"usual": nil,
		"all at once": {odd.Prompt, odd.Annotated, odd.Shortest, odd.Unquoted,
			odd.OneField, odd.Coarse, odd.NoLimiting, odd.Remote}}
	for _, k := range odd.List() {
		tries[string(k.Name)] = odd.Oddities{k.Name}
	}
	for name, o := range tries {
		for _, kind := range []string{"scpi supply", "scpi supply outputs", "scpi meter", "scpi relays"} {
			if len(o.For(strings.Contains(kind, "supply"))) < len(o) && name != "all at once" ||
				o.Has(odd.Slow) && kind == "scpi relays" { // a board of contacts takes its time anyway
				continue
			}
			t.Run(name+", "+kind, func(t *testing.T) {
				suite.Run(t, func(t *testing.T) suite.Subject {
					s, c := p.fresh(t, kind, o.For(strings.Contains(kind, "supply")))
					t.Cleanup(func() {
						if c.set().OthersOn {
							t.Error("another output is on")
						}
					})
					return s
				})
			})
		}
	}
}

// The front panel is given back at the end, by an instrument that was told to be remote.
func TestBackToLocalByAnotherHand(t *testing.T) {
	p := peers(t)
	s, c := p.fresh(t, "scpi supply", odd.Oddities{odd.Remote})
	on(t, s.Supply)
	if !c.set().Remote {
		t.Fatal("it was set, and isn't in remote mode")
	}
	if err := s.Supply.Off(context.Background()); err != nil {
		t.Fatal(err)
	}
	if err := c.driver.Port.Close(); err != nil {
		t.Fatal(err)
	}
	_ = s.Clock.Wait(context.Background(), nil, s.Clock.Now().Add(time.Second))
	if got := c.set(); got.Remote || got.On {
		t.Errorf("at the end it is %+v", got)
	}
}

func on(t *testing.T, s instruments.Supply) {
	t.Helper()
	bg := context.Background()
	if err := errors.Join(s.Set(bg, 5, 0.1), s.On(bg)); err != nil {
		t.Fatal(err)
	}
}

// Over a raw socket, in real time: a usual supply, and a slow one with a prompt; met anew
// each tells that its output was left on, and is switched off.
func TestSocketByAnotherHand(t *testing.T) {
	t.Parallel()
	outside.Need(t, python, "json, socket", python)
	for _, o := range []odd.Oddities{nil, {odd.Slow, odd.Prompt, odd.Shortest, odd.Unquoted}} {
		t.Run(fmt.Sprint(o), func(t *testing.T) {
			t.Parallel()
			var names []string
			for _, n := range o {
				names = append(names, string(n))
			}
			number := outside.Start(t, false, python, "testdata/scpi_peer.py", "--listen", "supply",
				strings.Join(names, ",")).Line(t)
			pr := load(t, "scpi supply")
			suits(pr, o)
			bg, c := context.Background(), clock.Wall{}
			name := "tcp://127.0.0.1:" + number
			for _, left := range []bool{false, true} { // whether the output was left on before
				x, err := bench.Connect(bg, c, wire.Serial(c, nil, nil), name, pr)
				if err != nil {
					t.Fatal(err)
				}
				teller, ok := x.Supply.(instruments.OutputTeller)
				if !ok {
					t.Fatal("it can't be asked whether its output is on")
				}
				if is, err := teller.OutputIs(bg); err != nil || is != left {
					t.Errorf("as it is met its output is on: %v, %v", is, err)
				}
				if left {
					err = x.Supply.Off(bg)
				} else {
					on(t, x.Supply)
				}
				r, rerr := x.Supply.Read(bg, instruments.Current)
				if v, ok := r.Float(); errors.Join(err, rerr) != nil || !ok || math.Abs(v-0.038) > 1e-9 {
					t.Errorf("%+v, %v, %v", r, err, rerr)
				}
				if is, err := teller.OutputIs(bg); err != nil || is == left {
					t.Errorf("in the end its output is on: %v, %v", is, err)
				}
				if err := x.Port.Close(); err != nil {
					t.Error(err)
				}
			}
		})
	}
}
