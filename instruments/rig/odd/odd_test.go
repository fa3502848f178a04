package odd

import (
	"slices"
	"strings"
	"testing"
)

func TestNamesOfOddities(t *testing.T) {
	for s, want := range map[string]Oddities{"": nil, "prompt": {Prompt}, " slow , echo,": {Slow, Echo}} {
		got, err := Parse(s)
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	if _, err := Parse("prompt,purple"); err == nil || !strings.Contains(err.Error(), "no-limiting") {
		t.Errorf("the error doesn't list what there is: %v", err)
	}
	for _, k := range List() {
		if k.About == "" || (Oddities{k.Name}).Has(k.Name) == false {
			t.Errorf("%+v", k)
		}
	}
}

// What oddities make of replies, written out by hand.
func TestReplies(t *testing.T) {
	for _, x := range []struct {
		o                     Oddities
		question, plain, want string
	}{
		{nil, "READ?", "+1.200000E-02", "+1.200000E-02"},
		{Oddities{Shortest}, "MEAS:VOLT?", "12.000", "12"},
		{Oddities{Shortest}, "MEAS:CURR?", "0.00005", "5E-05"},
		{Oddities{Shortest}, "READ?", "+9.90000000E+37", "9.9E+37"},
		{Oddities{Annotated}, "MEAS:VOLT?", "12.000", "V=12.000 V"},
		{Oddities{Annotated, Shortest}, "READ?", "+1.200000E-02", "READ=0.012"},
		{Oddities{Annotated}, "MEAS:CURR?", "0.0120", "I=0.0120 A"},
		{Oddities{Annotated}, "VOLT?", "12.000", "12.000"},
		{Oddities{Unquoted}, "SYST:ERR?", `0,"No error"`, "0,No error"},
		{Oddities{OneField}, "*IDN?", "A,B,C,D", "A B C D"},
		{Oddities{FiveFields}, "*IDN?", "A,B,C,D", "A,B,C,D,2026"},
	} {
		if got := x.o.Reply(x.question, x.plain); got != x.want {
			t.Errorf("%v: %s %q became %q, want %q", x.o, x.question, x.plain, got, x.want)
		}
	}
	if (Oddities{Prompt}).Behind() != Ready || (Oddities{}).Behind() != "" || (Oddities{Slow}).Takes() != SlowCommand {
		t.Error("prompt or slowness")
	}
}
