package page

import (
	"time"

	"sealworthy/compare/words"
)

// when is a time as a page writes it: that of the clock on its maker's wall, which is that of the machine at the bench.
func (s *Server) when(t time.Time) string { return words.Minute(t, s.o.Now().Location()) }

// clock is a time of this day.
func (s *Server) clock(t time.Time) string { return words.Clock(t, s.o.Now().Location()) }
