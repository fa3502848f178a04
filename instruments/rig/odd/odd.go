// Package odd knows ways in which ordinary instruments differ from the usual one:
// a prompt after each command, numbers in shortest form, slowness and others. The
// simulated bench and the contract of the drivers put them on their instruments.
//
// Start with Parse. It imports nothing of the drivers: what it does to a reply is
// told by the standards that it bends, not by what a driver takes.
package odd

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Name is an oddity.
type Name string

// The oddities.
const (
	Prompt     Name = "prompt"
	Annotated  Name = "annotated"
	Shortest   Name = "shortest"
	Unquoted   Name = "unquoted"
	OneField   Name = "one-field"
	FiveFields Name = "five-fields"
	Slow       Name = "slow"
	Coarse     Name = "coarse"
	NoLimiting Name = "no-limiting"
	Remote     Name = "remote"
	Echo       Name = "echo"
	Watchdog   Name = "watchdog"
)

// Known is an oddity with what it means.
type Known struct {
	Name  Name   `json:"name"`
	About string `json:"about"` // in one line, what is odd
	// Profile is what an instrument's profile needs for it; "": nothing.
	Profile string `json:"profile,omitempty"`
	// SupplyOnly: no other instrument can have it.
	SupplyOnly bool `json:"supply_only,omitempty"`
}

// List gives all oddities. Each is common practice, no source.
func List() []Known {
	return []Known{
		{Prompt, `sends "> " when it is ready, after each command and each reply`, `[talk] prompt = "> "`, false},
		{Annotated, `writes what it measures as "V=12.003 V"; a meter as "READ=12.003"`,
			`pattern = '[A-Z]+=(?P<value>\S+)( (?P<unit>[VA]))?' at what is measured`, false},
		{Shortest, `writes numbers in shortest form: "12" after "11.99", "5E-05" after "0.0123"`, "", false},
		{Unquoted, `writes errors without quotes: 0,No error`, "", false},
		{OneField, "says who it is in one field", "", false},
		{FiveFields, "says who it is in five fields", "", false},
		{Slow, fmt.Sprintf("takes %d ms for each command", SlowCommand.Milliseconds()), "", false},
		{Coarse, "sets its limit in steps of 10 mA", "step_amps = 0.01", true},
		{NoLimiting, "can't be asked whether it holds the current back", "no limiting line under [supply]", true},
		{Remote, "takes no setting before it is told to be in remote mode",
			`[talk] remote = "SYST:REM", local = "SYST:LOC"`, true},
		{Echo, "sends back each byte that it gets", "[talk] echo = true", false},
		{Watchdog, "switches its output off by itself when nothing is said to it for a while",
			`[supply] watchdog = { send = "OUTP:WATC {seconds}" }, get_watchdog = { send = "OUTP:WATC?" }`, true},
	}
}

// Oddities are those of one instrument.
type Oddities []Name

// Parse reads names with commas between them.
func Parse(s string) (Oddities, error) {
	var out Oddities
	for _, word := range strings.Split(s, ",") {
		n := Name(strings.TrimSpace(word))
		if n == "" {
			continue
		}
		if !slices.ContainsFunc(List(), func(k Known) bool { return k.Name == n }) {
			var all []string
			for _, k := range List() {
				all = append(all, string(k.Name))
			}
			return nil, fmt.Errorf("%q is no oddity; there are: %s", n, strings.Join(all, ", "))
		}
		out = append(out, n)
	}
	return out, nil
}

// Has tells whether an instrument has this oddity.
func (o Oddities) Has(n Name) bool { return slices.Contains(o, n) }

// For leaves out what only a supply can have.
func (o Oddities) For(supply bool) Oddities {
	return slices.DeleteFunc(slices.Clone(o), func(n Name) bool {
		return !supply && slices.ContainsFunc(List(), func(k Known) bool { return k.Name == n && k.SupplyOnly })
	})
}

// SlowCommand is what a slow supply takes for each command.
const SlowCommand = 250 * time.Millisecond

// CoarseA is the step of a coarse limit, A.
const CoarseA = 0.010

// Ready is the prompt.
const Ready = "> "

// Takes is how long each command takes.
func (o Oddities) Takes() time.Duration {
	if o.Has(Slow) {
		return SlowCommand
	}
	return 0
}

// Reply is how the instrument writes its reply to one question, without its end.
func (o Oddities) Reply(question, reply string) string {
	head := strings.ToUpper(strings.TrimSpace(question))
	switch {
	case strings.HasPrefix(head, "*IDN"):
		return o.identity(reply)
	case strings.HasPrefix(head, "SYST"):
		return o.entry(reply)
	}
	v, err := strconv.ParseFloat(reply, 64)
	if err != nil {
		return reply
	}
	if o.Has(Shortest) {
		reply = strings.ToUpper(strconv.FormatFloat(v, 'g', -1, 64))
	}
	measures := strings.HasPrefix(head, "MEAS") || strings.HasPrefix(head, "READ")
	switch {
	case !o.Has(Annotated) || !measures:
		return reply
	case strings.HasPrefix(head, "READ"):
		return "READ=" + reply
	case strings.Contains(head, "VOLT"):
		return "V=" + reply + " V"
	}
	return "I=" + reply + " A"
}

// identity has other numbers of fields than the four of IEEE 488.2, 10.14.
func (o Oddities) identity(reply string) string {
	switch {
	case o.Has(OneField):
		return strings.ReplaceAll(reply, ",", " ")
	case o.Has(FiveFields):
		return reply + ",2026"
	}
	return reply
}

// entry of the error queue without the quotes of SCPI-1999, volume 2, 21.8.
func (o Oddities) entry(reply string) string {
	if !o.Has(Unquoted) {
		return reply
	}
	code, text, has := strings.Cut(reply, ",")
	if !has {
		return reply
	}
	return code + "," + strings.Trim(text, `"`)
}

// Behind is what the instrument sends when a command has been carried out, after
// its reply if it has one.
func (o Oddities) Behind() string {
	if o.Has(Prompt) {
		return Ready
	}
	return ""
}
