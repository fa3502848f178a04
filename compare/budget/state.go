package budget

// state is one operating point of the whole model in service, everything lit,
// every part nominal, as the checks read it. Slices run parallel to the plan's.
type state struct {
	jacks   []jackState
	joints  []jointState
	returns []jointState
	boards  []boardState
	groups  []groupState
}

type jackState struct{ volts, amps float64 }

// jointState: amps through it, volts behind its holds against its own minus,
// drop from where its wire begins to there. For a return volts is what it stands
// above the minus of the jack.
type jointState struct {
	amps, volts, drop float64
	holds             []holdState
}

// holdState is one thing in a joint. Only a converter has another current at its input.
type holdState struct{ inVolts, outVolts, inAmps, outAmps float64 }

type boardState struct {
	volts, amps float64 // between its own plus and minus
	drop        float64 // on its wire
	outputs     []float64
}

type groupState struct {
	volts, amps float64 // across its lights, behind its wire
	drop        float64 // on its wire
	lights      []lightState
}

// lightState: the nearest and the farthest branch of a light. Where the feed
// has no copper between branches the two are the same.
type lightState struct {
	nearVolts, farVolts float64
	nearAmps, farAmps   float64
}

// far is the least voltage at any branch; across its wire's end where there is none.
func (g groupState) far() float64 {
	v := g.volts
	for _, l := range g.lights {
		if l.nearVolts > 0 {
			v = min(v, l.farVolts)
		}
	}
	return v
}
