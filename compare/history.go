package compare

import "sealworthy/capture/record"

// HistoryOf takes what the files of a build tell.
func HistoryOf(f record.Folded) History {
	h := History{Steps: f.Steps}
	for _, r := range f.Reworked {
		if r.Place != "" {
			h.Reworks = append(h.Reworks, Rework{What: r.Place, At: r.At})
		}
		for _, g := range r.Groups {
			h.Reworks = append(h.Reworks, Rework{What: g, At: r.At})
		}
	}
	for _, a := range f.Accepted {
		for _, g := range a.Groups {
			h.Accepts = append(h.Accepts, Accept{Group: g, Reason: a.Reason, At: a.At})
		}
	}
	return h
}
