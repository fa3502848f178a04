package record

import (
	"errors"
	"io/fs"
)

// Kept is one line of the chain as it stands there, verified. What it points to is
// good until the next one.
type Kept struct {
	Build   string       // the build's own identity
	Sitting SittingState // that it stands in, as far as was read
	Text    []byte       // the line without its newline
	Check   string       // that it has in the chain
	Line    Line         // its tags and fields, and its own time
	Record  Record       // what it says
}

// Seq is its number in the sitting, from 1.
func (k Kept) Seq() int { return k.Record.Order.Line() }

// takenError is an error of who takes the lines.
type takenError struct{ err error }

func (e *takenError) Error() string { return e.err.Error() }
func (e *takenError) Unwrap() error { return e.err }

// Walked is what a walk through a record found beside its lines.
type Walked struct {
	Damage []Damage
	// Before are files of before the chain. They are left out: their lines don't say
	// of which build they are.
	Before []string
}

// Walk hands out every line of the chain that counts, in order, one at a time. An error
// of each ends it and comes back.
func Walk(tree fs.FS, each func(Kept) error) (Walked, error) {
	r := reading{tree: tree, each: each}
	if err := r.survey(); err != nil {
		return Walked{}, err
	}
	var out Walked
	for _, b := range r.head.Before {
		if !b.Converted {
			out.Before = append(out.Before, FilesDir+"/"+b.File)
		}
	}
	err := r.files()
	out.Damage = r.damage
	var taken *takenError
	if errors.As(err, &taken) {
		err = taken.err
	}
	return out, err
}

// hand hands a line out, with what is known of its sitting so far.
func (r *reading) hand(k Kept) error {
	if s := k.Record.Sitting; s != nil && !s.End {
		r.folder.Add(k.Record)
	}
	x := &r.folder.sitting
	x.Simulated = x.Simulated || k.Record.Simulated
	k.Sitting = *x
	if err := r.each(k); err != nil {
		return &takenError{err}
	}
	return nil
}
