package find

import (
	"context"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/scpi"
)

// scpi makes an instrument of the answer to the identity query; nil: it is none.
func (f Finder) scpi(ctx context.Context, a *asker, name string, line instruments.Line, got []byte) (*Found, error) {
	if !readable(got) {
		return nil, nil
	}
	a.echo = strings.HasPrefix(string(got), whoIsThere)
	id, behind, ended := a.line(whoIsThere, got)
	id = strings.TrimSpace(id)
	if !readable([]byte(id)) || id == whoIsThere {
		return nil, nil
	}
	if !ended {
		return f.terse(ctx, a, name, line, id)
	}
	a.prompt = behind
	x := &Found{Port: name, Speaks: profile.SCPI, Identity: id}
	if own := f.ownFor(id); own != nil {
		x.Kind, x.Profile = own.Kind, own.Name
		x.Changes = speed(own, name, line)
		return x, f.quieted(ctx, a)
	}
	if err := f.kind(ctx, a, x); err != nil {
		return x, err
	}
	p := f.named(x.Profile)
	if p == nil {
		x.Notes = append(x.Notes, "It says who it is, and not what: how it speaks is for you to choose.")
		return x, f.quieted(ctx, a)
	}
	x.Changes = append(speed(p, name, line), a.changes(got)...)
	if err := f.features(ctx, a, x); err != nil {
		return x, err
	}
	return x, f.quieted(ctx, a)
}

// ownFor is the maker's own profile that names this identity and not any other.
func (f Finder) ownFor(id string) *profile.Profile {
	for _, p := range f.Profiles {
		if !f.Own[p.Name] || p.Speaks != profile.SCPI || p.Identity.Pattern == "" {
			continue
		}
		re, err := regexp.Compile(p.Identity.Pattern)
		if err == nil && re.MatchString(id) && !re.MatchString("Nobody,Nothing,0,0") {
			return p
		}
	}
	return nil
}

func (f Finder) named(name string) *profile.Profile {
	for _, p := range f.Profiles {
		if p.Name == name && name != "" {
			return p
		}
	}
	return nil
}

// Answers that tell a kind.
var (
	isState    = regexp.MustCompile(`^(?:[01]|ON|OFF)$`)
	isFunction = regexp.MustCompile(`(?i)volt|curr`)
	isRelays   = regexp.MustCompile(`^"?\(@[0-9,: ]*\)"?$`)
	isOutput   = regexp.MustCompile(`^[1-9]$`)
)

// kind asks what only a supply, only a meter, or only a relay board answers.
func (f Finder) kind(ctx context.Context, a *asker, x *Found) error {
	for _, k := range []struct {
		question string
		answer   *regexp.Regexp
		kind     profile.Kind
		profile  string
	}{
		{"OUTP?", isState, profile.SupplyKind, "scpi supply"},
		{"CONF?", isFunction, profile.MeterKind, "scpi meter"},
		{"FUNC?", isFunction, profile.MeterKind, "scpi meter"},
		{"ROUT:CLOS:STAT?", isRelays, profile.RelaysKind, "scpi relays"},
	} {
		got, err := a.ask(ctx, k.question)
		if err != nil {
			return err
		}
		if k.answer.MatchString(strings.TrimSpace(got)) {
			x.Kind, x.Profile = k.kind, k.profile
			return nil
		}
	}
	return nil
}

// changes are those of the line and of how replies end, by the first answer.
func (a *asker) changes(got []byte) []profile.Change {
	var out []profile.Change
	talk := func(key, value string) { out = append(out, profile.Change{Table: "talk", Key: key, Value: value}) }
	if a.end == "\r" {
		talk("end", `"cr"`)
	}
	if replyEnd := endOf(string(got)); replyEnd != "" && replyEnd != a.end {
		talk("reply_end", map[string]string{"\r": `"cr"`, "\n": `"lf"`, "\r\n": `"crlf"`}[replyEnd])
	}
	if a.echo {
		talk("echo", "true")
	}
	if a.prompt != "" {
		talk("prompt", strconv.Quote(a.prompt))
	}
	return out
}

// endOf is the line end that an answer holds last. A line feed is enough where a
// carriage return stands before it.
func endOf(got string) string {
	switch {
	case strings.Contains(got, "\n"):
		return "\n"
	case strings.Contains(got, "\r"):
		return "\r"
	}
	return ""
}

// annotated finds a number with words round it, and a unit.
var annotated = regexp.MustCompile(
	`^([^-+0-9.]*)([-+]?[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?)( *)([munkM]?(?:V|A))?([^0-9]*)$`)

// isPrintable tells whether a text is what an instrument may write, and something.
func isPrintable(s string) bool {
	return s != "" && !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r > '~' })
}

// pattern is that of an annotated reply; "": it is a plain one, or none.
func pattern(reply string) string {
	reply = strings.TrimSpace(reply)
	if _, err := scpi.ParseQuantity(reply); err == nil || !isPrintable(reply) {
		return ""
	}
	m := annotated.FindStringSubmatch(reply)
	if m == nil || m[1] == "" && m[5] == "" {
		return ""
	}
	s := regexp.QuoteMeta(m[1]) + `(?P<value>[-+]?[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?)`
	if m[4] == "" {
		return s + regexp.QuoteMeta(m[3]+m[5])
	}
	return s + ` *(?P<unit>[munkM]?[VA])` + regexp.QuoteMeta(m[5])
}

// features asks what differs between instruments of one kind.
func (f Finder) features(ctx context.Context, a *asker, x *Found) error {
	switch x.Kind {
	case profile.SupplyKind:
		return f.supply(ctx, a, x)
	case profile.MeterKind:
		return a.reads(ctx, x, "meter.current", "read", "READ?", "meter.voltage")
	}
	return nil
}

// supply asks a supply whether it tells constant current, whether it has several
// outputs, whether it has a remote mode, and how it writes what it measures.
func (f Finder) supply(ctx context.Context, a *asker, x *Found) error {
	if got, err := a.ask(ctx, "INST:NSEL?"); err != nil {
		return err
	} else if isOutput.MatchString(strings.TrimSpace(got)) {
		x.Profile = "scpi supply outputs"
		x.Notes = append(x.Notes, "It can choose between outputs. The first is taken unless another one is named.")
	}
	if got, err := a.ask(ctx, "STAT:QUES:COND?"); err != nil {
		return err
	} else if _, nerr := scpi.ParseNumber(strings.TrimSpace(got)); nerr != nil {
		x.Changes = append(x.Changes, profile.Change{Table: "supply", Key: "limiting"})
		x.Notes = append(x.Notes,
			"It can't be asked whether it holds the current back: that is told from what it reads back.")
	}
	for key, question := range map[string]string{"measure_volts": "MEAS:VOLT?", "measure_amps": "MEAS:CURR?"} {
		if err := a.reads(ctx, x, "supply", key, question); err != nil {
			return err
		}
	}
	return f.remote(ctx, a, x)
}

// reads asks for a number and notes the pattern of an annotated reply.
func (a *asker) reads(ctx context.Context, x *Found, table, key, question string, too ...string) error {
	got, err := a.ask(ctx, question)
	if err != nil {
		return err
	}
	if p := pattern(got); p != "" {
		for _, t := range append([]string{table}, too...) {
			value := fmt.Sprintf("{ send = %q, pattern = %q }", question, p)
			x.Changes = append(x.Changes, profile.Change{Table: t, Key: key, Value: value})
		}
		x.Notes = append(x.Notes, fmt.Sprintf("It writes what it measures as %q.", strings.TrimSpace(got)))
	}
	return nil
}

// remote finds out whether there is a remote mode: without it some supplies take no
// setting. The error queue says whether the command is known.
func (f Finder) remote(ctx context.Context, a *asker, x *Found) error {
	if err := f.quieted(ctx, a); err != nil {
		return err
	}
	for _, command := range []struct{ key, send string }{{"remote", "SYST:REM"}, {"local", "SYST:LOC"}} {
		if _, err := a.raw(ctx, []byte(command.send+a.end)); err != nil {
			return err
		}
		got, err := a.ask(ctx, "SYST:ERR?")
		if err != nil {
			return err
		}
		e, perr := scpi.ParseQueueError(got)
		if perr != nil || e.Code != 0 {
			break
		}
		x.Changes = append(x.Changes, profile.Change{Table: "talk", Key: command.key,
			Value: strconv.Quote(command.send)})
	}
	return nil
}

// mostErrors bounds an error queue that never ends.
const mostErrors = 24

// quieted reads the error queue to its end: what was asked and isn't known stands
// in it.
func (f Finder) quieted(ctx context.Context, a *asker) error {
	for range mostErrors {
		got, err := a.ask(ctx, "SYST:ERR?")
		if err != nil {
			return err
		}
		if e, err := scpi.ParseQueueError(got); err != nil || e.Code == 0 {
			return nil
		}
	}
	return nil
}

// terse knows a supply with short commands by its status byte: its replies have no
// end.
func (f Finder) terse(ctx context.Context, a *asker, name string, line instruments.Line, id string) (*Found, error) {
	got, err := a.raw(ctx, []byte("STATUS?"))
	p := f.named("terse supply")
	if err != nil || p == nil || len(got) != 1 {
		return nil, err
	}
	return &Found{Port: name, Kind: p.Kind, Speaks: p.Speaks, Identity: id, Profile: p.Name,
		Changes: speed(p, name, line)}, nil
}
