package capture

import "time"

// Watcher is a Face that knows whether somebody could see what it shows and stop
// the test: a page may be closed, asleep or out of reach. What isn't seen isn't
// powered.
type Watcher interface {
	Watched() bool
}

// unseenError pauses the test: nobody could see it.
type unseenError struct{}

func (*unseenError) Error() string {
	return "nobody could see the test: its page was closed, asleep or out of reach"
}

// unseenEvery is how often a test looks whether it's seen: with a page that is
// missed after a second the output is off within two (our own choice).
const unseenEvery = 500 * time.Millisecond

// seen tells whether somebody watches what is powered. The whole model at its jack
// may be left alone: it is warmed up and soaked for hours. A clip that is felt for belongs
// to no step, and isn't left alone either.
func (e *engine) seen() error {
	w, ok := e.f.(Watcher)
	alone := e.rec != nil && e.rec.Step.Kind == Whole
	if !ok || !e.out.on || alone || w.Watched() {
		return nil
	}
	return &unseenError{}
}

// lookedAt is how long a wait may be before it's looked whether the test is seen.
func (e *engine) lookedAt() time.Duration {
	if _, ok := e.f.(Watcher); ok {
		return unseenEvery
	}
	return time.Second
}
