package session

import "errors"

// Another lists the instruments that answer with another name than those which the test
// of a stage was last measured with, where both say who they are: a test that is gone on
// with has its bench proved with them first.
func (s *Session) Another(stage string) (which []string, err error) {
	_, steps, err := s.Record.GoesOn(stage)
	if errors.As(err, new(*NoTestError)) || len(steps) == 0 && err == nil {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	last := steps[len(steps)-1].Instruments
	for _, x := range []string{theSupply, theMeter} {
		o := s.Bench.opened[x]
		if o == nil {
			continue
		}
		was, is := last[x].Identity, o.Identities[x]
		if was != "" && is != "" && was != is {
			which = append(which, x)
		}
	}
	return which, nil
}
