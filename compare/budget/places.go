package budget

import "sealworthy/compare/wiring"

// placeOf is a place of the feed tree: its kind as in Joint, its index in the plan's list.
type placeOf struct {
	kind  string
	index int
}

// placeRead is what is read of a place with the whole model on: A through it, V lost on
// the way to it. It goes through the trials alone, which know what places have in common;
// no finding rests on it, so that it needs no sensitivities.
type placeRead struct {
	placeOf
	of func(w *wiring.Wired) (amps, drop float64)
}

// fromTo holds Coverage of healthy models, half of the rest on either side.
type fromTo struct{ low, high float64 }

// placeBand is what a healthy model shows at a place.
type placeBand struct{ amps, drop fromTo }

// places lists what is read of the feed tree behind the jack of w; in the order in
// which the tree shows it.
func places(w *wiring.Wired) (out []placeRead) {
	p := w.Plan
	add := func(kind string, index int, of func(w *wiring.Wired) (amps, drop float64)) {
		out = append(out, placeRead{placeOf{kind, index}, of})
	}
	for i := range p.Joints {
		if w.Joints[i].Here {
			add("joint", i, func(w *wiring.Wired) (float64, float64) {
				return w.JointAmps(w.Point, i), jointDrop(w, i)
			})
		}
	}
	for t, term := range w.Terminals {
		if i := term.Board; i >= 0 && w.Boards[i].Here {
			add("board", i, func(w *wiring.Wired) (float64, float64) {
				return w.FeedAmps(w.Point, t), boardDrop(w, i)
			})
		}
	}
	for i := range p.Groups {
		if w.Groups[i].Here {
			add("group", i, func(w *wiring.Wired) (float64, float64) {
				return w.GroupAmps(w.Point, i), groupDrop(w, i)
			})
		}
	}
	for i := range p.Returns {
		if w.Returns[i].Here {
			add("return", i, func(w *wiring.Wired) (float64, float64) {
				return w.ReturnAmps(w.Point, i), returnDrop(w, i)
			})
		}
	}
	return out
}

func jointDrop(w *wiring.Wired, i int) float64 {
	return lost(w, w.Plan.Joints[i].From, "", w.Joints[i].Node, w.Joints[i].Ret)
}

func boardDrop(w *wiring.Wired, i int) float64 {
	b := w.Plan.Boards[i]
	return lost(w, b.Joint, b.Return, w.Boards[i].Node, w.Boards[i].Ret)
}

// groupDrop: a group on a board shares the board's minus.
func groupDrop(w *wiring.Wired, i int) float64 {
	g := w.Plan.Groups[i]
	if g.Board != "" {
		return w.Point.NodeV[w.Groups[i].Feed] - w.Point.NodeV[w.Groups[i].Far]
	}
	return lost(w, g.Joint, g.Return, w.Groups[i].Far, w.Groups[i].Ret)
}

func returnDrop(w *wiring.Wired, i int) float64 {
	drop := w.ReturnVolts(w.Point, i)
	if k := w.Plan.ReturnAt(w.Plan.Returns[i].To); k >= 0 {
		drop -= w.ReturnVolts(w.Point, k)
	}
	return drop
}

// readPlaces writes two outputs a place behind those of the law; where out has no room for
// them they aren't asked for.
func (s *side) readPlaces(out []float64) {
	if len(out) <= s.outs {
		return
	}
	w := s.settings[s.placesIn].w
	for k, x := range s.places {
		out[s.outs+2*k], out[s.outs+2*k+1] = x.of(w)
	}
}

// bandsOfPlaces takes the bands from the trials of the outputs after those of the law.
func (s *side) bandsOfPlaces(rows [][]float64) map[placeOf]placeBand {
	out := make(map[placeOf]placeBand, len(s.places))
	for k, x := range s.places {
		amps, drop := summarise(rows[s.outs+2*k], Coverage), summarise(rows[s.outs+2*k+1], Coverage)
		out[x.placeOf] = placeBand{fromTo{amps.low, amps.high}, fromTo{drop.low, drop.high}}
	}
	return out
}
