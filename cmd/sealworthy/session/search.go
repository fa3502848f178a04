package session

import (
	"context"
	"errors"
	"slices"
	"strconv"

	"sealworthy/capture"
	"sealworthy/instruments/find"
	"sealworthy/instruments/profile"
)

// Search finds the instruments of a maker's bench, tries them in the maker's hands and
// has them written down. Start with Run; where nobody can be asked it only looks, and
// writes down what it's told to.
type Search struct {
	World   World
	Guard   *capture.Guard // of the World's clock
	Desk    *Desk
	Finder  find.Finder
	Folder  string                      // of the maker's own profiles; "": there is none
	Ports   []string                    // that are looked at
	Chosen  map[string]*profile.Profile // by port: how the instrument there speaks
	Channel int                         // the output in use, of a supply with several; 0: it's asked for
	// ByHand and Typed: the maker is the instrument, and none of its kind is taken.
	ByHand, Typed bool
	// Try and Write: it's to be done, so that it isn't asked whether.
	Try, Write bool
	// Known gives what is written down of a meter that was looked at: its jack, and the
	// fuse behind it in A; "" and 0: nothing is. nil: nothing of any.
	Known func(x *Looked) (jack string, fuseA float64)
	// Keep writes down what is taken and gives the file. nil: there is no place for it.
	Keep func(taken []*Looked) (file string, err error)

	off *offSupply // that a trial has switched off; nil: none was tried
}

// Questions about the instruments of a bench. They have no text: each face has words of
// its own.
const (
	AskProfile capture.QuestionKind = "profile"    // how what is on a port speaks: pick (Text is one of Places), leave
	AskWhich   capture.QuestionKind = "which"      // which of several of a kind is taken: pick
	AskOutput  capture.QuestionKind = "output"     // which output of a supply the leads are in: pick
	AskTry     capture.QuestionKind = "try"        // whether they are tried now: try, leave
	AskFree    capture.QuestionKind = "free"       // whether nothing hangs on what is switched in a moment: yes, no
	AskJack    capture.QuestionKind = "jack"       // of the meter, that the lead is in: pick, don't know
	AskWritten capture.QuestionKind = "write down" // for all builds: write, leave
)

// mostOutputs of a bench supply are offered (common practice, no source).
const mostOutputs = 3

// The answers to them.
const (
	Pick    = "pick"
	Leave   = "leave"
	TryThem = "try"
	Free    = "yes"
	NotFree = "no"
	Write   = "write"
)

// Searched is what a search came to.
type Searched struct {
	Looked []Looked
	Saved  string // the file that they were written to; "": none was
}

// Run looks at each port, asks what it can't find out, tries and has written down what
// is taken. What was found until an error stands in the Searched.
func (s *Search) Run(ctx context.Context) (out Searched, err error) {
	ctx, done := s.Guard.Context(ctx)
	defer done()
	defer func() {
		if ctx.Err() != nil && err != nil {
			err = errors.Join(context.Cause(ctx), err)
		}
	}()
	defer func() {
		if s.off != nil {
			err = errors.Join(err, s.off.letGo())
		}
	}()
	out.Looked = []Looked{}
	for _, port := range s.Ports {
		s.Desk.Tell(Event{What: Looking, Port: port})
		x, err := s.look(ctx, port, s.Chosen[port])
		if err != nil {
			return out, err
		}
		out.Looked = append(out.Looked, x)
		s.tell(x)
	}
	if err := s.settles(ctx, out.Looked); err != nil {
		return out, err
	}
	if err := s.tryAll(ctx, out.Looked); err != nil {
		return out, err
	}
	out.Saved, err = s.keep(ctx, out.Looked)
	return out, err
}

// tell tells what is known of a port, without what went over the line.
func (s *Search) tell(x Looked) {
	if x.Trial != nil {
		t := *x.Trial
		t.Bytes = nil
		x.Trial = &t
	}
	s.Desk.Tell(Event{What: LookedAt, Looked: &x})
}

// settles asks what nothing on the line tells: how an instrument speaks that nobody
// knows, which of several is meant, and which output.
func (s *Search) settles(ctx context.Context, all []Looked) error {
	for i := range all {
		if err := s.speaks(ctx, &all[i]); err != nil {
			return err
		}
	}
	for _, kind := range []profile.Kind{profile.SupplyKind, profile.MeterKind, profile.RelaysKind} {
		if err := s.oneOf(ctx, all, kind); err != nil {
			return err
		}
	}
	for _, x := range Usable(all) {
		if err := s.output(ctx, x); err != nil {
			return err
		}
	}
	return nil
}

// speaks asks how what is on a port speaks, where the port could be opened and no profile
// drives it, until one does or it's left.
func (s *Search) speaks(ctx context.Context, x *Looked) error {
	said := x.Found // by itself; what was picked says nothing
	for x.Use == nil && x.Opened && !s.Desk.Nobody() {
		q := About{Port: x.Port, Why: x.Why}
		var names []capture.Place
		for _, p := range s.Finder.Profiles {
			if said == nil || said.Kind == "" || p.Kind == said.Kind {
				names = append(names, capture.Place{Name: p.Name, Kind: string(p.Kind)})
			}
		}
		a, err := s.pick(ctx, AskProfile, q, names, Leave)
		if err != nil || a == "" {
			return err
		}
		for _, p := range s.Finder.Profiles {
			if p.Name == a {
				s.Desk.Tell(Event{What: Looking, Port: x.Port})
				if *x, err = s.look(ctx, x.Port, p); err != nil {
					return err
				}
				x.Opened = true
				s.tell(*x)
			}
		}
	}
	return nil
}

// oneOf takes one of a kind: where the maker can be asked, the one that is meant, else the
// first.
func (s *Search) oneOf(ctx context.Context, all []Looked, kind profile.Kind) error {
	var of []*Looked
	var ports []capture.Place
	for i := range all {
		if x := &all[i]; x.Use != nil && x.Use.Kind == kind {
			of, ports = append(of, x), append(ports, capture.Place{Name: x.Port, Kind: x.Identity()})
		}
	}
	byHand := kind == profile.SupplyKind && s.ByHand || kind == profile.MeterKind && s.Typed
	taken := ""
	switch {
	case len(of) == 0:
		return nil
	case byHand:
	case len(of) == 1 || s.Desk.Nobody():
		taken = of[0].Port
	default:
		var err error
		if taken, err = s.pick(ctx, AskWhich, About{Instrument: string(kind)}, ports); err != nil {
			return err
		}
	}
	for _, x := range of {
		if x.Spare = x.Port != taken; x.Spare {
			s.tell(*x)
		}
	}
	return nil
}

// Identity is what the instrument calls itself; "": it can't say.
func (x *Looked) Identity() string {
	if x.Trial != nil && x.Trial.Identity != "" {
		return x.Trial.Identity
	}
	if x.Found != nil {
		return x.Found.Identity
	}
	return ""
}

// output asks which output of a supply is in use, where it can choose.
func (s *Search) output(ctx context.Context, x *Looked) error {
	if x.Use.Kind != profile.SupplyKind || x.Use.Channel.By == "" || s.Channel > 0 || s.Desk.Nobody() {
		return nil
	}
	var outputs []capture.Place
	for n := range mostOutputs {
		outputs = append(outputs, capture.Place{Name: strconv.Itoa(n + 1), Kind: "output"})
	}
	a, err := s.pick(ctx, AskOutput, About{Port: x.Port, Instrument: string(x.Use.Kind)}, outputs)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(a)
	if err != nil {
		return err
	}
	s.onChannel(x, n)
	s.tell(*x)
	return nil
}

// keep has what is taken written down, if the maker wants it.
func (s *Search) keep(ctx context.Context, all []Looked) (file string, err error) {
	taken := Usable(all)
	if len(taken) == 0 && !s.ByHand && !s.Typed || s.Keep == nil {
		return "", nil
	}
	if err := s.jacks(ctx, taken); err != nil {
		return "", err
	}
	if !s.Write {
		if s.Desk.Nobody() {
			return "", nil
		}
		a, err := s.ask(ctx, AskWritten, About{Instruments: s.instruments(taken)}, nil, Write, Leave)
		if err != nil || a.Choice == Leave {
			return "", err
		}
	}
	if file, err = s.Keep(taken); err == nil {
		s.Desk.Tell(Event{What: Written, File: file})
	}
	return file, err
}

// instruments names what is taken, by kind.
func (s *Search) instruments(taken []*Looked) (out []string) {
	for _, x := range taken {
		out = append(out, string(x.Use.Kind))
	}
	if s.ByHand {
		out = append(out, string(profile.SupplyKind))
	}
	if s.Typed {
		out = append(out, string(profile.MeterKind))
	}
	return out
}

// jacks asks which jack of the meter the lead is in, where its ranges need different ones,
// and for the fuse behind it, where nobody has said so yet.
func (s *Search) jacks(ctx context.Context, taken []*Looked) error {
	for _, x := range taken {
		if x.Use.Kind != profile.MeterKind || s.Desk.Nobody() {
			continue
		}
		if s.Known != nil {
			x.Jack, x.FuseA = s.Known(x)
		}
		var jacks []capture.Place
		for _, r := range x.Use.Ranges {
			p := capture.Place{Name: r.Jack, Kind: "jack"}
			if r.Jack != "" && !slices.Contains(jacks, p) {
				jacks = append(jacks, p)
			}
		}
		if len(jacks) > 1 && x.Jack == "" {
			a, err := s.pick(ctx, AskJack, About{Instrument: string(x.Use.Kind)}, jacks, DontKnow)
			if err != nil {
				return err
			}
			x.Jack = a
		}
		if x.FuseA == 0 {
			a, err := s.ask(ctx, AskFuse,
				About{Instrument: string(x.Use.Kind), Least: leastFuseA, Most: mostFuseA}, nil, "number", DontKnow)
			if err != nil {
				return err
			}
			if a.Number != nil {
				x.FuseA = *a.Number
			}
		}
		s.tell(*x)
	}
	return nil
}

// pick asks for one of places; "": another choice was made.
func (s *Search) pick(ctx context.Context, kind capture.QuestionKind, about About, places []capture.Place,
	others ...string) (string, error) {
	for {
		a, err := s.ask(ctx, kind, about, places, append([]string{Pick}, others...)...)
		if err != nil || a.Choice != Pick {
			return "", err
		}
		for i, p := range places {
			if a.Text == p.Name || a.Text == strconv.Itoa(i+1) && !slices.ContainsFunc(places,
				func(p capture.Place) bool { return p.Name == a.Text }) {
				return p.Name, nil
			}
		}
	}
}

func (s *Search) ask(ctx context.Context, kind capture.QuestionKind, about About, places []capture.Place,
	choices ...string) (capture.Answer, error) {
	a, err := s.put(ctx, Question{About: &about,
		Question: capture.Question{Kind: kind, Choices: append(choices, "stop"), Places: places}})
	if err == nil && a.Choice == "stop" {
		err = capture.ErrStopped
	}
	return a, err
}
