package plots

import (
	_ "embed"
	"errors"
	"io"

	"sealworthy/compare/fault"
)

//go:embed reply.html.tmpl
var replyText string

// Reply writes what a client is told of a return: what was found in plain words, what has
// to be opened for it, and what is asked of him. No probability and no current of a group
// stands on it.
func Reply(w io.Writer, d ReturnData) error {
	if d.Diagnosis == nil {
		return errors.New("what a client is told of a return needs its diagnosis")
	}
	x := struct {
		ReturnData
		Day, Measured, Verdict string
		RestsOn                string
		Places, Open           []string
		Adapter                string
		AdapterBad, ModelBad   bool
		Simulated, Known       bool
	}{ReturnData: d, Day: dayBy(d.Made, d.Made), Measured: dayBy(d.Diagnosis.At, d.Made),
		Verdict: verdictText(d.Diagnosis),
		RestsOn: restsOn(d.Diagnosis, true), ModelBad: d.Diagnosis.Alarm, Simulated: d.Diagnosis.Simulated,
		Known: d.Diagnosis.Known()}
	for _, c := range d.Diagnosis.Set {
		if c.Place == string(fault.Nothing) || !d.Diagnosis.Alarm {
			continue
		}
		x.Places = append(x.Places, c.Text)
		if c.Closure != "" && !has(x.Open, c.Closure) {
			x.Open = append(x.Open, c.Closure)
		}
	}
	if a := d.Diagnosis.Adapter; a != nil {
		x.Adapter, x.AdapterBad = a.Text, a.Faulty
	}
	return fill(w, "reply", replyText, x)
}
