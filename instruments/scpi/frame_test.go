package scpi

import (
	"bytes"
	"testing"
)

// What an instrument with a prompt sends, cut at every place, is no reply before
// its last byte; nothing of it is one without the prompt.
func TestAPromptEndsAReply(t *testing.T) {
	p := Prompted{Prompt: []byte("> "), End: []byte("\r\n"), Longest: 64}
	for whole, x := range map[string]struct {
		commands int
		want     string
	}{
		"12\r\n> ":            {1, "12"},
		"\r\n12\r\n\r\n> ":    {1, "12"},
		"> 5E-05\r\n> ":       {2, "5E-05"},
		"\r\n> \r\n0.1\r\n> ": {2, "0.1"},
	} {
		for cut := range len(whole) {
			if n, reply, err := p.Asked(x.commands)([]byte(whole[:cut])); n != 0 || reply != nil || err != nil {
				t.Errorf("%q became %q, %v", whole[:cut], reply, err)
			}
		}
		if n, reply, err := p.Asked(x.commands)([]byte(whole)); n != len(whole) || string(reply) != x.want ||
			err != nil {
			t.Errorf("%q: %d, %q, %v", whole, n, reply, err)
		}
	}
	for _, bad := range []string{"12\r\n34\r\n> ", "12\r\nx", "1\x80\r\n> "} {
		if n, reply, err := p.Asked(1)([]byte(bad)); n != 0 || err == nil {
			t.Errorf("%q became %q", bad, reply)
		}
	}
	told := "\r\n> > "
	for cut := range len(told) {
		if n, _, err := p.Told(2)([]byte(told[:cut])); n != 0 || err != nil {
			t.Errorf("%q is %d bytes of prompts, %v", told[:cut], n, err)
		}
	}
	if n, _, err := p.Told(2)([]byte(told)); n != len(told) || err != nil {
		t.Errorf("%q: %d, %v", told, n, err)
	}
	if _, _, err := p.Told(1)([]byte("12\r\n> ")); err == nil {
		t.Error("a number passed for a prompt")
	}
}

// What is taken for a reply is whole: printable, at most as long as may be, with
// the prompt behind it; more bytes never change what was found.
func FuzzPrompted(f *testing.F) {
	f.Add([]byte("> 12\n> "), byte(2))
	f.Add([]byte("\r\n0.0123\r\n> "), byte(1))
	f.Fuzz(func(t *testing.T, got []byte, commands byte) {
		p := Prompted{Prompt: []byte("> "), End: []byte("\n"), Longest: 32}
		n := int(commands%3) + 1
		took, reply, err := p.Asked(n)(got)
		if took < 0 || took > len(got) || err != nil && took != 0 {
			t.Fatalf("%q: took %d, %v", got, took, err)
		}
		if took == 0 {
			return
		}
		if !bytes.HasSuffix(got[:took], []byte("> ")) || bytes.ContainsAny(reply, "\r\n") {
			t.Errorf("%q: reply %q of %d bytes", got, reply, took)
		}
		if again, same, _ := p.Asked(n)(append(got[:took:took], got...)); again != took || !bytes.Equal(same, reply) {
			t.Errorf("%q: %d bytes and then %d", got, took, again)
		}
		if k, _, err := p.Told(n)(got); k > len(got) || err != nil && k != 0 {
			t.Errorf("%q: took %d prompts, %v", got, k, err)
		}
	})
}
