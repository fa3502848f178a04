package circuit

import "fmt"

// absurdA is more than any model draws: only 0 ohm round a loop gives it.
const absurdA = 1e4

// absurdV is a return's voltage that only a draw without a way back makes.
const absurdV = 1e5

// plausible refuses an operating point that only a loop without resistance has,
// or a draw that insists without a way back.
func (s *Solver) plausible(src Source, limit float64) error {
	for _, v := range s.cur.vg {
		if v > absurdV || v < -absurdV {
			return s.why(src, limit)
		}
	}
	if !(s.i[0] > absurdA || s.i[0] < -absurdA) {
		return nil
	}
	return s.shortest(src)
}

// shortest names the load with the least resistance round its loop.
func (s *Solver) shortest(src Source) error {
	n := s.n
	up := make([]float64, len(n.el))
	for k := 1; k < len(n.el); k++ {
		up[k] = up[n.el[k].parent] + n.Ohms(Node(k))
	}
	back := make([]float64, len(n.gnd))
	for g := 1; g < len(n.gnd); g++ {
		back[g] = back[n.gnd[g].parent] + n.gnd[g].ohms
	}
	best, at := 0.0, Ref{}
	see := func(p place, kind RefKind, ohms float64) {
		if r := src.Ohms + up[p.node] + back[p.gnd] + ohms; at.Kind == RefNone || r < best {
			best, at = r, Ref{kind, int(p.id)}
		}
	}
	for _, p := range s.shunts {
		see(p, RefShunt, n.shunts[p.id].ohms)
	}
	for _, p := range s.ohmics {
		see(p, RefBranch, n.r[p.id])
	}
	for _, p := range s.where {
		see(p, RefBranch, n.r[p.id])
	}
	for k := range s.slows {
		p := s.slows[k].place
		see(p, RefBranch, n.branches[p.id].ohms)
	}
	return &Error{Problem: ShortLoop, At: at, Text: fmt.Sprintf("only %.2g ohm round the loop across %.3g V and no "+
		"current limit: "+
		"put a resistor or a wire into it", best, src.EmfV)}
}

// why names the likeliest reason for there being no operating point.
func (s *Solver) why(src Source, limit float64) error {
	n := s.n
	insists := 0.0
	for _, at := range s.draws {
		d := &n.draws[at.id]
		if d.fullVolts > 0 {
			continue
		}
		insists += d.amps
		for g := at.gnd; g > 0; g = n.gnd[g].parent {
			if n.gnd[g].ohms > maxOhms {
				return &Error{Problem: NoReturn, At: Ref{RefDraw, int(at.id)},
					Text: fmt.Sprintf("insists on %.3g A and its return is open", d.amps)}
			}
		}
	}
	if insists > limit {
		return &Error{Problem: Collapsed, At: Ref{Kind: RefSource},
			Text: fmt.Sprintf("constant draws insist on %.3g A, the source is limited to %.3g A", insists, limit)}
	}
	if s.i[0] > absurdA {
		return s.shortest(src)
	}
	return &Error{Problem: NoSolution, Text: fmt.Sprintf("no operating point found at %.4g V", src.EmfV)}
}
