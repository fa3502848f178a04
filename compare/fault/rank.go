package fault

// Ranked is one class of look-alike faults with its probability.
type Ranked struct {
	Fault  Fault   // one of the class, for its place
	Kinds  []Kind  // all kinds of the class, the likeliest first
	Groups int     // groups that it could be in
	Places int     // branches or LEDs that it could be
	DeltaA float64 // what it makes of the draw
	P      float64
}

// Prior probabilities of faults in one group, for each place: defaults of
// common practice, no data behind them.
var priors = map[Kind]float64{
	OpenBranch: .010, DarkSegment: .010, ReversedLED: .005, ShortedLED: .001,
	MissingOhms: .002, DecadeOff: .003, BadJoint: .010, ExtraBranch: .003,
	Overloaded: .003, StuckDark: .010, Short: .002, PieceReversed: .003, GroupReversed: .005,
}

const priorUnknown = .010
