package main

import (
	"sync"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/tones"
	"sealworthy/instruments"
)

// bellSetting is the variable of the environment that keeps the bell quiet.
const bellSetting = "SEALWORTHY_BELL"

// ringer rings a terminal's bell in the rhythm of each tone (see package tones). A bell
// has one pitch and no length: count and rhythm tell what it's for. Its strikes come
// beside what is written, so that nobody waits for them.
type ringer struct {
	ear    tones.Ear
	strike func()
	sleep  func(time.Duration)
	run    instruments.Runner // nil: only the first strike of each is rung

	mu      sync.Mutex
	waiting [][]time.Duration
	ringing bool
}

// Between two tones the bell is quiet for so long; what comes while more than mostWaiting
// wait isn't rung any more (our own choice).
const (
	betweenTones = 350 * time.Millisecond
	mostWaiting  = 2
)

// hear rings for what happened. A nil ringer is quiet.
func (r *ringer) hear(e session.Event) {
	if r == nil {
		return
	}
	for _, n := range r.ear.Hear(e) {
		if bell := tones.Bell(n); len(bell) > 0 {
			r.ring(bell)
		}
	}
}

func (r *ringer) ring(bell []time.Duration) {
	if r.run == nil {
		r.strike()
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.waiting) >= mostWaiting {
		return
	}
	r.waiting = append(r.waiting, bell)
	if !r.ringing {
		r.ringing = true
		r.run(r.through, func(error) {})
	}
}

// through rings all that waits.
func (r *ringer) through() {
	for {
		r.mu.Lock()
		if len(r.waiting) == 0 {
			r.ringing = false
			r.mu.Unlock()
			return
		}
		bell := r.waiting[0]
		r.waiting = r.waiting[1:]
		r.mu.Unlock()
		at := time.Duration(0)
		for _, t := range bell {
			if t > at {
				r.sleep(t - at)
				at = t
			}
			r.strike()
		}
		r.sleep(betweenTones)
	}
}
