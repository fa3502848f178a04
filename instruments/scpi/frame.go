package scpi

import (
	"bytes"
	"fmt"

	"sealworthy/instruments/exchange"
)

// SplitLines frames replies that end with end, at most longest bytes. A CR
// before a lone LF belongs to the end; bytes that are not printable ASCII make
// the reply garbled.
func SplitLines(end []byte, longest int) exchange.Split {
	return func(got []byte) (int, []byte, error) {
		i := bytes.Index(got, end)
		if i < 0 {
			if len(got) > longest {
				return 0, nil, fmt.Errorf("no line end in %d bytes", len(got))
			}
			return 0, nil, nil
		}
		reply := got[:i]
		if len(end) == 1 && end[0] == '\n' {
			reply = bytes.TrimSuffix(reply, []byte("\r"))
		}
		for _, b := range reply {
			if (b < ' ' || b > '~') && b != '\t' {
				return 0, nil, fmt.Errorf("byte %#02x in a line of text", b)
			}
		}
		return i + len(end), reply, nil
	}
}

// Prompted is the framing of an instrument that sends a prompt when it is ready
// for the next command. A reply counts as whole only with its line end and the
// prompt behind it.
type Prompted struct {
	Prompt  []byte // the bytes of it
	End     []byte // of a reply
	Longest int    // bytes of a reply
}

// Told frames what comes back for n commands without an answer: n prompts, empty
// lines between them.
func (p Prompted) Told(n int) exchange.Split {
	return func(got []byte) (int, []byte, error) {
		i, err := p.prompts(got, n)
		if i == 0 || err != nil {
			return 0, nil, err
		}
		return i, got[:i], nil
	}
}

// Asked frames the reply to a question, sent as the last of n commands: the
// prompts of those before it, the reply with its end, a prompt.
func (p Prompted) Asked(n int) exchange.Split {
	line := SplitLines(p.End, p.Longest)
	return func(got []byte) (int, []byte, error) {
		i := 0
		if n > 1 {
			var err error
			if i, err = p.prompts(got, n-1); i == 0 || err != nil {
				return 0, nil, err
			}
		}
		i += blank(got[i:])
		took, reply, err := line(got[i:])
		if took == 0 || err != nil {
			return 0, nil, err
		}
		behind, err := p.prompts(got[i+took:], 1)
		if behind == 0 || err != nil {
			return 0, nil, err
		}
		return i + took + behind, reply, nil
	}
}

// prompts tells how many bytes the first n prompts take, 0 while they aren't all there.
func (p Prompted) prompts(got []byte, n int) (int, error) {
	i := 0
	for range n {
		i += blank(got[i:])
		switch rest := got[i:]; {
		case bytes.HasPrefix(rest, p.Prompt):
			i += len(p.Prompt)
		case bytes.HasPrefix(p.Prompt, rest):
			return 0, nil
		default:
			return 0, fmt.Errorf("%q where the prompt %q should be", rest[:min(len(rest), 2*len(p.Prompt))], p.Prompt)
		}
	}
	return i, nil
}

// bare takes off the prompts that stand before a reply.
func (p Prompted) bare(reply []byte) []byte {
	for len(p.Prompt) > 0 {
		rest, was := bytes.CutPrefix(reply, p.Prompt)
		if !was {
			break
		}
		reply = rest
	}
	return reply
}

// blank counts the bytes of line ends that got begins with.
func blank(got []byte) int { return len(got) - len(bytes.TrimLeft(got, "\r\n")) }
