package rig

import (
	"context"
	"strings"
)

// entry is one header of an instrument's command tree.
type entry struct {
	pattern []node
	set     func(ctx context.Context, args []string) error           // nil: query only
	query   func(ctx context.Context, args []string) (string, error) // nil: no query
}

// node is one mnemonic of a pattern such as [:SOURce]:VOLTage[:LEVel].
type node struct {
	long, short string
	optional    bool
}

// pattern reads a header pattern in the notation of SCPI-1999: capitals are the
// short form, brackets enclose nodes that may be left out.
func pattern(s string) []node {
	var out []node
	for s != "" {
		optional := strings.HasPrefix(s, "[")
		s = strings.TrimLeft(s, "[:")
		end := strings.IndexAny(s, ":[]")
		if end < 0 {
			end = len(s)
		}
		name := s[:end]
		s = strings.TrimLeft(s[end:], "]")
		out = append(out, node{long: strings.ToUpper(name), short: strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' {
				return -1
			}
			return r
		}, name), optional: optional})
	}
	return out
}

// matches tells whether the mnemonics sent are this pattern. A numeric suffix
// of 1 is the default and may be sent.
func matches(p []node, names []string) bool {
	if len(p) == 0 {
		return len(names) == 0
	}
	if len(names) > 0 && p[0].is(names[0]) && matches(p[1:], names[1:]) {
		return true
	}
	return p[0].optional && matches(p[1:], names)
}

func (n node) is(name string) bool {
	if name == n.long || name == n.short {
		return true
	}
	name, ok := strings.CutSuffix(name, "1")
	return ok && (name == n.long || name == n.short)
}

// tree finds entries, and remembers the headers that it has seen.
type tree struct {
	entries []entry
	seen    map[string]*entry
	// written is how the instrument writes the reply to a question; nil: plainly.
	written func(question, reply string) string
}

// maxSeen bounds the memory of headers: a line full of noise has many.
const maxSeen = 256

func (t *tree) find(header string) *entry {
	if e, ok := t.seen[header]; ok {
		return e
	}
	var found *entry
	names := strings.Split(header, ":")
	for i := range t.entries {
		if matches(t.entries[i].pattern, names) {
			found = &t.entries[i]
			break
		}
	}
	if t.seen == nil || len(t.seen) >= maxSeen {
		t.seen = map[string]*entry{}
	}
	t.seen[header] = found
	return found
}

// run carries out one program message and returns its reply, "" for none.
// Units after an error are left out (IEEE 488.2, 6.1.6). fail gets the errors of
// the instrument; what it returns is an end of ctx.
func (t *tree) run(ctx context.Context, line string, fail func(scpiError)) (string, error) {
	units, perr := parse(line)
	var replies []string
	path := "" // where a header without a leading colon begins
	for _, u := range units {
		header := u.header
		if !strings.HasPrefix(header, "*") {
			if path != "" && !u.root {
				header = path + ":" + header
			}
			path = ""
			if i := strings.LastIndexByte(header, ':'); i >= 0 {
				path = header[:i]
			}
		}
		e := t.find(header)
		if e == nil || u.query && e.query == nil || !u.query && e.set == nil {
			perr = errUndefinedHeader
			break
		}
		var err error
		if u.query {
			var r string
			if r, err = e.query(ctx, u.args); err == nil {
				if t.written != nil {
					r = t.written(header+"?", r)
				}
				replies = append(replies, r)
			}
		} else {
			err = e.set(ctx, u.args)
		}
		if err != nil {
			se, ok := err.(scpiError)
			if !ok {
				return "", err
			}
			perr = se
			break
		}
	}
	if perr != 0 {
		fail(perr)
	}
	return strings.Join(replies, ";"), nil
}
