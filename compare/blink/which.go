package blink

// Which compares a trace with each of a board's paces and says which of them
// it is. Each holds the answers of [Match] in the order of paces, at is the
// index of the pace that agrees, or -1: none does, several do, or one that
// can't be ruled out fits as well. A board whose button was pressed once too
// often is so told from one whose timing is off.
func Which(s []Sample, k Known, paces []Pattern, tol Tolerance) (at int, each []Matched) {
	each = make([]Matched, len(paces))
	at = -1
	for i, p := range paces {
		each[i] = Match(s, k, p, tol)
	}
	for i := range each {
		if each[i].Agreement != Agrees {
			continue
		}
		if at >= 0 {
			return -1, each
		}
		at = i
	}
	return at, each
}
