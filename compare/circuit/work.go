package circuit

type work struct {
	// RelTol and AbsTolA say how well each branch's current must meet its own law.
	RelTol, AbsTolA float64
	MaxIterations   int
	hasHome         bool
}

func (s *Solver) solve(src Source, into *Point) error {
	return &Error{Problem: NoSolution, Text: "not solved yet"}
}
func (s *Solver) home() {}
