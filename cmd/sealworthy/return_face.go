package main

import (
	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
)

// showReturn shows what the engine shows of a return: its steps are called by what
// they are for, the first of each kind says what it does, and each ends with what
// it told.
func (f *face) showReturn(e capture.Event, r session.ReturnStep) {
	s := *e.Step
	switch {
	case e.What == capture.StepBegins && r.First:
		f.wrapped("  ", wording.PurposeText(s, r.Purpose))
	case e.What == capture.StepEnds && r.Stopped:
		e.Text = "stopped"
	case e.What == capture.StepEnds && e.Text == "":
		e.Text = wording.ToldBy(r)
	}
	s.Feed = wording.StepLabel(s, r.Purpose)
	e.Step = &s
	f.show(e)
}
