package page

import (
	"crypto/rand"
	"crypto/sha256"
	"sync"
	"time"
)

// Bounds of the door (our own choice).
const (
	codeLasts   = 15 * time.Minute
	mostCodes   = 8
	mostGuests  = 16              // browsers that were let in
	mostWrong   = 10              // codes that may be wrong in a row
	closedFor   = 1 * time.Minute // after so many
	codeLetters = 26              // rand.Text: 128 bits at least
)

// keys are the codes that open the door once, and the cookies that they were
// swapped for. Only digests are held.
type keys struct {
	now func() time.Time

	mu     sync.Mutex
	codes  map[digest]time.Time // until when each is good
	guests map[digest]bool
	wrong  int // in a row
	barred time.Time
}

type digest [sha256.Size]byte

func digestOf(s string) digest { return sha256.Sum256([]byte(s)) }

func newKeys(now func() time.Time) *keys {
	return &keys{now: now, codes: map[digest]time.Time{}, guests: map[digest]bool{}}
}

// code makes a code that is good once.
func (k *keys) code() string {
	s := rand.Text()
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.now()
	for d, until := range k.codes {
		if now.After(until) {
			delete(k.codes, d)
		}
	}
	for d := range k.codes { // one of the older ones goes; which doesn't matter
		if len(k.codes) < mostCodes {
			break
		}
		delete(k.codes, d)
	}
	k.codes[digestOf(s)] = now.Add(codeLasts)
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

// swap swaps a code for a cookie.
func (k *keys) swap(code string) (cookie string, what entry) {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.now()
	if now.Before(k.barred) {
		return "", barred
	}
	d := digestOf(code)
	until, ok := k.codes[d]
	if !ok || now.After(until) || len(code) != codeLetters {
		if k.wrong++; k.wrong >= mostWrong {
			k.wrong, k.barred = 0, now.Add(closedFor)
		}
		return "", noCode
	}
	if len(k.guests) >= mostGuests {
		return "", full
	}
	delete(k.codes, d)
	k.wrong = 0
	cookie = rand.Text() + rand.Text()
	k.guests[digestOf(cookie)] = true
	return cookie, letIn
}

// guest: a cookie is one that was given.
func (k *keys) guest(cookie string) bool {
	d := digestOf(cookie)
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.guests[d]
}
