package record

import (
	"fmt"
	"io/fs"
	"slices"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// Again goes once more through the readings of a step that ReadFS gave, as they stand in
// the record, verified: of a long step ReadFS holds only the latest. The error says that
// they aren't all there any more.
func Again(tree fs.FS, of capture.StepRecord, each func(instruments.Reading)) error {
	r := reading{tree: tree}
	if err := r.survey(); err != nil {
		return err
	}
	n := 0
	take := func(rec Record) {
		if rec.Reading == nil || rec.Step.StepID != of.Step.ID || rec.Step.Base ||
			!rec.Order.After(of.BeganAt) || rec.Order.After(of.EndedAt) {
			return
		}
		n++
		each(*rec.Reading)
	}
	r.only = take
	number := of.BeganAt.Sitting()
	if err := r.one(number); err != nil {
		return err
	}
	if all, _ := of.Count(); n != all {
		return fmt.Errorf("sitting %d changed while it was read: %d readings of %q, then %d", number, all,
			of.Step.ID, n)
	}
	return nil
}

// one reads the file of one sitting.
func (r *reading) one(number int) error {
	if s := r.head.number(number); s != nil {
		return r.chained(*s, map[string]bool{})
	}
	i := slices.IndexFunc(r.head.Before, func(b HeadBefore) bool { return b.Number == number })
	if i < 0 {
		return fmt.Errorf("sitting %d is not on the record", number)
	}
	return r.old(r.head.Before[i])
}
