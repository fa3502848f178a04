package capture

import "fmt"

// Order says where in the record of a build something stands: sittings count
// from 1, one above all that were there, and lines from 1 within a sitting. What
// came later has the greater Order, whatever a clock said. The zero Order is
// "not on the record yet": it comes after everything that is.
type Order int64

// lineBits leaves room for four thousand million lines in a sitting.
const lineBits = 32

// OrderAt is the place of a line in a sitting; both count from 1.
func OrderAt(sitting, line int) Order { return Order(int64(sitting)<<lineBits | int64(line)) }

// Sitting is the number of the sitting; 0 where nothing is on the record yet.
func (o Order) Sitting() int { return int(o >> lineBits) }

// Line is the number of the line in its sitting.
func (o Order) Line() int { return int(o & (1<<lineBits - 1)) }

// After reports that o came later than p. What isn't on the record yet came last.
func (o Order) After(p Order) bool {
	switch {
	case p == 0:
		return false
	case o == 0:
		return true
	}
	return o > p
}

func (o Order) String() string {
	if o == 0 {
		return "not recorded yet"
	}
	return fmt.Sprintf("sitting %d, line %d", o.Sitting(), o.Line())
}
