package fault

// Ranked is one class of look-alike faults with its probability.
type Ranked struct {
	Fault  Fault   // one of the class, for its place
	Kinds  []Kind  // all kinds of the class, the likeliest first
	Groups int     // groups that it could be in
	Places int     // branches or LEDs that it could be
	DeltaA float64 // what it makes of the draw
	P      float64 // probability of the class, 0 to 1
}
