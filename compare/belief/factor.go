package belief

import (
	"math"

	"sealworthy/compare/wiring"
)

// FactorKind is what sort of thing several readings share.
type FactorKind string

// What readings share.
const (
	ReelFactor  FactorKind = "reel"  // what the pieces of a reel have in common
	VoltsFactor FactorKind = "volts" // what a supply is off
	LeadsFactor FactorKind = "leads" // of one clip
	RoomFactor  FactorKind = "room"  // what the model's temperature is off
	SlopeFactor FactorKind = "slope" // ideality of a part's LEDs
	OhmsFactor  FactorKind = "ohms"  // series resistance of a part's LEDs
	KneeFactor  FactorKind = "knee"  // of the LEDs inside a ready-made part
	GainFactor  FactorKind = "gain"  // of a meter in a range
	PlaceFactor FactorKind = "place" // of what sits in a joint or return: one piece for all that hangs on it
	sizeFactor  FactorKind = "size"  // where in its step the size of a cause above groups lies
)

// FactorKey names one factor: readings under the same key are off by the same.
type FactorKey struct {
	Kind FactorKind
	Of   string // a reel, a wire, a joint …: what they have in common
}

func reelKey(f wiring.Factor) FactorKey {
	return FactorKey{ReelFactor, string(f.Kind) + "\x00" + f.Reel + "\x00" + f.Part}
}

// dispersion is one way in which tolerances may be other than stated: all of them
// wider, or their share that a reel has in common another one. Both are planned, not
// known.
type dispersion struct {
	tolerance float64 // times the stated one
	shift     int     // of the shares, index in shareShifts
}

// shareDoubt is the standard deviation of the log-odds of a planned share: half is
// 0.17 to 0.83 with 95 % (common practice, no source: the shares are no more than that).
const shareDoubt = 0.8

// shareShifts are the nodes of that doubt, with the weights of Gauss and Hermite's
// rule of three points (Abramowitz and Stegun, table 25.10).
var shareShifts = [...]struct{ logit, weight float64 }{
	{0, 2.0 / 3}, {math.Sqrt(3) * shareDoubt, 1.0 / 6}, {-math.Sqrt(3) * shareDoubt, 1.0 / 6},
}

// shifted moves a share by its log-odds. Shares of 0 and 1 are certain.
func shifted(share, logit float64) float64 {
	if share <= 0 || share >= 1 || logit == 0 {
		return share
	}
	return 1 / (1 + (1-share)/share*math.Exp(-logit))
}
