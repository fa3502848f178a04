package capture

import (
	"context"
	"fmt"
)

// Unattended is a face with nobody behind it: what relays can do is done, a
// step that needs a person is recorded as skipped with the reason "unattended",
// a bad verdict is noted and the test goes on.
type Unattended struct {
	OnEvent func(Event) // called for each event, in order; nil is fine
}

var _ Face = Unattended{}

// Show passes the event on.
func (u Unattended) Show(e Event) {
	if u.OnEvent != nil {
		u.OnEvent(e)
	}
}

// Ask answers nothing.
func (u Unattended) Ask(_ context.Context, q Question) (Answer, error) {
	return Answer{}, fmt.Errorf("%w: nobody to ask (%s)", ErrUnattended, q.Kind)
}

// Nobody is true: nobody is there.
func (u Unattended) Nobody() bool { return true }
