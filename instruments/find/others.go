package find

import (
	"sealworthy/instruments"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/stream"
)

// sender knows a meter by what it sends unasked.
func (f Finder) sender(heard []byte, name string, line instruments.Line) *Found {
	for _, p := range f.Profiles {
		if (p.Speaks == profile.Text || p.Speaks == profile.LCD) && p.Line.Baud == line.Baud &&
			stream.Knows(p, heard) {
			return &Found{Port: name, Kind: p.Kind, Speaks: p.Speaks, Profile: p.Name,
				Notes: []string{"It sends by itself and can't say who it is: whether it is the same one again is " +
					"for you to see."}}
		}
	}
	return nil
}
