package circuit

// Solver finds operating points of one Net. It keeps the last one and starts
// the next from it.
type Solver struct {
	n *Net
	work
}

// NewSolver makes a Solver for a Net; add nothing to the Net afterwards.
func NewSolver(n *Net) *Solver {
	s := &Solver{n: n}
	s.RelTol, s.AbsTolA, s.MaxIterations = 1e-9, 1e-13, 200
	return s
}

// Solve finds the operating point of the Net as it stands and writes it to into.
// It returns an *Error when there is none; into is then of no use.
func (s *Solver) Solve(src Source, into *Point) error { return s.solve(src, into) }

// Home keeps the present operating point as the start of every Solve that
// follows, so that results don't depend on the order of the solves.
func (s *Solver) Home() { s.home() }

// Away forgets the Home: each Solve starts from the one before.
func (s *Solver) Away() { s.hasHome = false }
