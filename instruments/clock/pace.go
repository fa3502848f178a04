package clock

import "time"

// pacer bounds how fast simulated time runs against the machine's. Without a
// bound, a meter that sends by itself fills hours while the maker thinks.
type pacer struct {
	rate  float64 // simulated seconds a second; 0 is no bound
	sim   time.Time
	wall  time.Time
	timer *time.Timer // runs while a jump is put off
	due   time.Time   // wall time at which it fires
}

const (
	// paceSlack is how far time may lag behind its rate and still catch up.
	paceSlack = 100 * time.Millisecond
	// paceGrain is how early a jump may come; timers overshoot by about as much.
	paceGrain = time.Millisecond
)

// Pace lets simulated time run at most rate times as fast as the machine's, and
// never bounds it at rate 0. It may be called at any time, from any goroutine.
// While a question is open, Pace(1) gives the maker's own time; Hold stops it.
func (s *Simulated) Pace(rate float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if rate < 0 {
		rate = 0
	}
	s.pace.rate, s.pace.sim, s.pace.wall = rate, s.now, time.Now()
	s.step()
}

// allows says whether a jump from now to then may be made at this moment. If
// not, it sees to it that retry is called when it may.
func (p *pacer) allows(now, then time.Time, retry func()) bool {
	if p.rate == 0 {
		return true
	}
	wall := time.Now()
	// What was not used is not saved up: else a long pause ends in a burst.
	if lag := wall.Sub(p.wall) - scaled(now.Sub(p.sim), p.rate); lag > paceSlack {
		p.wall, p.sim = wall.Add(-paceSlack), now
	}
	early := scaled(then.Sub(p.sim), p.rate) - wall.Sub(p.wall)
	if early <= paceGrain {
		return true
	}
	// A timer that fires later is made to fire sooner: another party may have
	// come to wait for less.
	due := wall.Add(early)
	switch {
	case p.timer == nil:
		p.timer, p.due = time.AfterFunc(early, retry), due
	case due.Before(p.due) || p.due.Before(wall):
		p.timer.Reset(early)
		p.due = due
	}
	return false
}

func scaled(d time.Duration, rate float64) time.Duration {
	return time.Duration(float64(d) / rate)
}
