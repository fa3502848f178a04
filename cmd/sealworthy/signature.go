package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/returns"
	"sealworthy/compare/scene"
)

// signatureDir holds what was kept of a build at delivery.
const signatureDir = "signatures"

// keep makes the signature of what was recorded and writes it.
func (b build) keep(e env) (*returns.Signature, string, error) {
	leads, err := b.leads()
	if err != nil {
		return nil, "", err
	}
	f, err := b.history(e)
	if err != nil {
		return nil, "", err
	}
	twins, err := b.twins(leads)
	if err != nil {
		return nil, "", err
	}
	s, err := returns.Of(b.plan, f.Kept(), returns.Leads{Ohm: leads.Ohm}, twins)
	if err != nil {
		return nil, "", err
	}
	src, err := returns.Encode(nil, s)
	if err != nil {
		return nil, "", err
	}
	dir := filepath.Join(b.dir, signatureDir)
	if err := makeFolder(dir); err != nil {
		return nil, "", err
	}
	file := filepath.Join(dir, returns.FileName(s))
	err = writeNew(file, src)
	if errors.Is(err, fs.ErrExist) {
		return nil, "", withHint(errors.New("this signature was kept already"),
			"measure the whole model again for another one")
	}
	if err != nil {
		return nil, "", err
	}
	// Its digest is kept: a signature that was changed since is known.
	return s, file, b.record(e).Tell(func(rec *record.Recorder, now time.Time, _ string) error {
		return rec.Attach(os.DirFS(b.dir), signatureDir+"/"+returns.FileName(s), now)
	})
}

// twins are the groups that the plan can't tell apart from the jack.
func (b build) twins(l compare.Leads) ([]returns.Twin, error) {
	bud, err := compare.NewExpected(b.plan).At(scene.Scene{LeadsOhm: l.Ohm, LeadsHalfOhm: l.HalfOhm})
	if err != nil {
		return nil, err
	}
	var out []returns.Twin
	for _, t := range bud.Twins {
		out = append(out, returns.Twin{A: t.A, B: t.B, Distance: t.Distance})
	}
	return out, nil
}

// signature reads the latest that was kept.
func (b build) signature() (*returns.Signature, error) {
	s, _, err := returns.Latest(filepath.Join(b.dir, signatureDir))
	if errors.Is(err, os.ErrNotExist) {
		return nil, withHint(errors.New("no signature of this build was kept"),
			"sealworthy keep BUILD takes one before delivery; without it a return can be compared with the plan only")
	}
	return s, err
}

// diagnose compares what was measured since the model came back with its signature.
func (b build) diagnose(e env, pace string, adapter *returns.Adapter, said session.ReturnAnswers) (*returns.Diagnosis,
	*returns.Signature, error) {
	leads, err := b.leads()
	if err != nil {
		return nil, nil, err
	}
	s, err := b.signature()
	if err != nil {
		return nil, nil, err
	}
	f, err := b.history(e)
	if err != nil {
		return nil, nil, err
	}
	// Of the return that was made last, whatever an earlier one told.
	r, err := returns.ReturnOf(b.plan, s, f.StepsOf(f.Series(compare.Returned)), returns.Leads{Ohm: leads.Ohm}, pace)
	if err != nil {
		if _, before := returns.ReturnOf(b.plan, s, f.Kept(), returns.Leads{Ohm: leads.Ohm}, pace); before == nil {
			err = withHint(errors.New("the latest return broke off before the whole model was measured; what an "+
				"earlier one told says nothing of it"),
				"sealworthy return BUILD --resume goes on")
		}
		return nil, nil, err
	}
	r.Adapter = adapter
	if r.Seen, err = b.seen(f, s, r, said); err != nil {
		return nil, nil, err
	}
	o, err := b.returnOptions()
	if err != nil {
		return nil, nil, err
	}
	d, err := returns.Diagnose(b.plan, s, r, o)
	return d, s, err
}

// seen is what is known of the lights of a return: what was told by a flag, else
// seen while it was measured, else told before of the same return; and what the
// client named.
func (b build) seen(f record.Folded, s *returns.Signature, r *returns.Return, said session.ReturnAnswers) (
	[]returns.Seen, error) {
	seen := r.Seen
	if told := said[session.ToldLook]; told != "" {
		judges, known := session.JudgesColours(f)
		if now, said := said[session.AskColours]; said {
			judges, known = now != session.JudgesNot, true
		}
		var why string
		if seen, why = returns.SeenAs(b.plan, s, told, judges || !known); why != "" {
			return nil, misuse("return", "--look: %s", why)
		}
	}
	if k, err := b.lastReturn(); err == nil && len(seen) == 0 && k.Diagnosis.At.Equal(r.At) {
		seen = slices.DeleteFunc(k.Diagnosis.Seen, func(x returns.Seen) bool { return x.Client })
	}
	heard, _ := said.Heard(b.plan, s)
	return append(seen, heard...), nil
}
