package page

import (
	"crypto/rand"
	"crypto/sha256"
	"maps"
	"sync"
	"time"
)

// Bounds of the door (our own choice).
const (
	codeLasts   = 15 * time.Minute
	mostCodes   = 8
	mostGuests  = 16              // browsers that were let in
	mostWrong   = 10              // codes that may be wrong in a row, from one address
	closedFor   = 1 * time.Minute // after so many
	mostSources = 256             // addresses whose tries are counted
	codeLetters = 26              // rand.Text: 128 bits at least
)

// keys are the codes that open the door once, and the cookies that they were
// swapped for. Only digests are held.
type keys struct {
	now func() time.Time

	mu     sync.Mutex
	codes  map[digest]pass
	guests map[digest]guest
	leads  digest           // of the maker's pages the one that starts
	tries  map[string]tries // by the address they came from: nobody shuts the door for another
}

// pass is what a code is good for.
type pass struct {
	until time.Time
	guest
}

// guest is a browser that was let in.
type guest struct {
	role   Role
	beyond bool // it's another device's, or a code for one
}

// tries are codes that were wrong.
type tries struct {
	inARow int
	barred time.Time // until then nothing is taken
}

type digest [sha256.Size]byte

func digestOf(s string) digest { return sha256.Sum256([]byte(s)) }

func newKeys(now func() time.Time) *keys {
	return &keys{now: now, codes: map[digest]pass{}, guests: map[digest]guest{}, tries: map[string]tries{}}
}

// code makes a code that is good once, on this computer.
func (k *keys) code(role Role) string { return k.codeFor(guest{role: role}) }

// codeBeyond makes one for another device.
func (k *keys) codeBeyond(role Role) string { return k.codeFor(guest{role: role, beyond: true}) }

// forgetBeyond lets no other device in any more, none with a code nor one that was let in.
func (k *keys) forgetBeyond() {
	k.mu.Lock()
	defer k.mu.Unlock()
	maps.DeleteFunc(k.codes, func(_ digest, p pass) bool { return p.beyond })
	maps.DeleteFunc(k.guests, func(_ digest, g guest) bool { return g.beyond })
}

func (k *keys) codeFor(g guest) string {
	s := rand.Text()
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.now()
	for d, p := range k.codes {
		if now.After(p.until) {
			delete(k.codes, d)
		}
	}
	for d := range k.codes { // one of the older ones goes; which doesn't matter
		if len(k.codes) < mostCodes {
			break
		}
		delete(k.codes, d)
	}
	k.codes[digestOf(s)] = pass{now.Add(codeLasts), g}
	return s
}

// entry says what became of a code.
type entry string

const (
	letIn  entry = "let in"
	noCode entry = "no such code"
	barred entry = "barred" // too many were wrong
	full   entry = "full"   // too many browsers were let in already
)

// swap swaps a code for a cookie. from is the address that it came from, beyond: of
// another device. A maker's page that comes in leads.
func (k *keys) swap(code, from string, beyond bool) (cookie string, what entry) {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.now()
	if now.Before(k.tries[from].barred) {
		return "", barred
	}
	d := digestOf(code)
	p, ok := k.codes[d]
	if !ok || now.After(p.until) || len(code) != codeLetters {
		k.wrong(from, now)
		return "", noCode
	}
	if len(k.guests) >= mostGuests {
		return "", full
	}
	delete(k.codes, d)
	delete(k.tries, from)
	cookie = rand.Text() + rand.Text()
	k.guests[digestOf(cookie)] = guest{p.role, beyond}
	if p.role == Maker {
		k.leads = digestOf(cookie)
	}
	return cookie, letIn
}

// wrong counts a code that was wrong. mu is held.
func (k *keys) wrong(from string, now time.Time) {
	t := k.tries[from]
	if t.inARow++; t.inARow >= mostWrong {
		t = tries{barred: now.Add(closedFor)}
	}
	k.tries[from] = t
	for other := range k.tries { // no code can be guessed, however often: this bounds what is held
		if len(k.tries) <= mostSources {
			break
		}
		if other != from {
			delete(k.tries, other)
		}
	}
}

// standing is that of a browser with this cookie.
func (k *keys) standing(cookie string) standing {
	d := digestOf(cookie)
	k.mu.Lock()
	defer k.mu.Unlock()
	switch role := k.guests[d].role; {
	case role == Maker && d == k.leads:
		return leads
	case role == Maker:
		return follows
	case role == Helper:
		return helps
	}
	return stranger
}

// lead lets a maker's page lead.
func (k *keys) lead(cookie string) {
	d := digestOf(cookie)
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.guests[d].role == Maker {
		k.leads = d
	}
}
