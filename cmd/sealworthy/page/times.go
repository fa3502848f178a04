package page

import "time"

// Times of a page are those of the clock on its maker's wall, with the name of their zone; records keep UTC.
const (
	timeShown  = "2006-01-02 15:04 MST"
	clockShown = "15:04 MST" // of this day
)

// when is a time as a page writes it: in the zone of the machine that serves it, which stands at the bench.
func (s *Server) when(t time.Time) string { return t.In(s.o.Now().Location()).Format(timeShown) }

// clock is a time of this day.
func (s *Server) clock(t time.Time) string { return t.In(s.o.Now().Location()).Format(clockShown) }
