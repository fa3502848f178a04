package main

import (
	"bytes"
	"testing"
)

func TestNothingIsHiddenOnTheTerminal(t *testing.T) {
	for in, want := range map[string]string{
		"it is: INVENTED,METER\n":      "it is: INVENTED,METER\n",
		"a \"quoted\" 5 Ω \\n, a\tb\n": "a \"quoted\" 5 Ω \\n, a\tb\n",
		"\x1b]0;title\a\x1b[2J":        `\x1b]0;title\a\x1b[2J`,
		"\u202eab\u200b\xff\r":         `\u202eab\u200b\xff\r`,
	} {
		var b bytes.Buffer
		if n, err := (shown{&b}).Write([]byte(in)); n != len(in) || err != nil || b.String() != want {
			t.Errorf("%q came out as %q, want %q (%d, %v)", in, b.String(), want, n, err)
		}
	}
}
