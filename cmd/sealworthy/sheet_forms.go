package main

import (
	"cmp"
	"flag"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/sketch"
	"sealworthy/compare/stages"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

// The forms of a sheet.
const (
	formTest     = "test"
	formDelivery = "delivery"
	formLabel    = "label"
	formReturn   = "return"
	formReply    = "reply"
	formBuy      = "buy"
)

// sheetForms are all of them, as they are told.
const sheetForms = "test, delivery, label, return, reply or buy"

// clientFlags is what only the maker knows of a delivery.
type clientFlags struct {
	serial, contact string
	hours           float64
}

func (c *clientFlags) declare(f *flag.FlagSet) {
	f.StringVar(&c.serial, "serial", "", "serial number, for the client's page; else the one that was noted")
	f.StringVar(&c.contact, "contact", "", "your name and how to reach you, for the client's page")
	f.Float64Var(&c.hours, "hours", 0, "hours a day that it may be on, for the client's page; 0: a line to fill in")
}

// form writes a page of that form into a file.
func (b build) form(e env, form, into string, c clientFlags, now time.Time) (string, error) {
	name, write, err := b.page(e, form, c, now)
	if err != nil {
		return "", err
	}
	file := cmp.Or(into, filepath.Join(b.dir, name))
	return file, writeMade(file, write)
}

// page makes the page of a form: the usual name of its file, and what writes it.
func (b build) page(e env, form string, c clientFlags, now time.Time) (name string, write func(io.Writer) error,
	err error) {
	if form == formBuy {
		d, err := b.buyData(now)
		return buyFile, func(w io.Writer) error { return plots.Buy(w, d) }, err
	}
	h, err := b.history(quietly(e))
	if err != nil {
		return "", nil, err
	}
	if c.serial == "" {
		c.serial = serialOf(h.Notes)
	}
	switch form {
	case formDelivery:
		d, err := b.deliveryData(e, c, now)
		if err == nil {
			d.Photos, err = b.sheetPhotos(h, true)
		}
		return deliveryFile, func(w io.Writer) error { return plots.Delivery(w, d) }, err
	case formLabel:
		d, err := b.deliveryData(quietly(e), c, now)
		l := plots.LabelData{Build: d.Build, Serial: d.Serial, Volts: d.Volts, Centre: d.Centre,
			AdapterAmps: d.AdapterAmps, Made: d.Made, Simulated: d.Simulated}
		return labelFile, func(w io.Writer) error { return plots.Label(w, l) }, err
	case formReturn, formReply:
		d, err := b.returnData(c, now)
		if form == formReply {
			return replyFile, func(w io.Writer) error { return plots.Reply(w, d) }, err
		}
		return returnFile, func(w io.Writer) error { return plots.ReturnSheet(w, d) }, err
	}
	return "", nil, misuse("sheet", "--form is %s, not %q", sheetForms, form)
}

// deliveryData is what a client's page shows.
func (b build) deliveryData(e env, c clientFlags, now time.Time) (d plots.DeliveryData, err error) {
	bud, err := compare.NewExpected(b.plan).At(scene.Scene{})
	if err != nil {
		return d, err
	}
	d = deliveryOf(b.plan, bud, c)
	d.Made = words.There(now, b.here)
	if s, err := b.signature(); err == nil {
		d.Made, d.Simulated = words.There(s.TakenAt, b.here), s.Simulated
	}
	simulated, err := b.unsettled(e, &d)
	d.Simulated = d.Simulated || simulated
	return d, err
}

// returnData is what the pages of the latest return show.
func (b build) returnData(c clientFlags, now time.Time) (d plots.ReturnData, err error) {
	k, err := b.lastReturn()
	if err != nil {
		return d, err
	}
	quiet := env{stderr: io.Discard} // what is wrong with the record was said when it was diagnosed
	blinks, err := b.blinkersOfReturn(quiet, k.Diagnosis)
	return plots.ReturnData{Build: b.plan.Build, Serial: c.serial, Made: words.There(now, b.here), Diagnosis: k.Diagnosis, Blinkers: blinks,
		Style: plots.DefaultStyle()}, err
}

// buyData is what the list to buy shows.
func (b build) buyData(now time.Time) (plots.BuyData, error) {
	bud, err := compare.NewExpected(b.plan).At(scene.Scene{})
	if err != nil {
		return plots.BuyData{}, err
	}
	d := plots.BuyData{Build: b.plan.Build, Scale: b.plan.Scale, PlanRevision: b.plan.Revision, Made: words.There(now, b.here),
		List: sketch.Buy(b.plan, bud)}
	for _, x := range bud.Checks {
		if x.Severity == budget.Wrong || x.Kind == budget.KindFuse {
			d.Cautions = append(d.Cautions, x.Text)
		}
	}
	return d, nil
}

// unsettled says on a delivery page what isn't settled of the model, and whether
// its verdicts rest on a simulated bench.
func (b build) unsettled(e env, d *plots.DeliveryData) (simulated bool, err error) {
	leads, err := b.leads()
	if err != nil {
		return false, err
	}
	cs, h, err := b.judged(e, "", leads) // as it was delivered, whatever came back
	if err != nil {
		return false, err
	}
	for _, c := range wording.Gravest(cs) {
		simulated = simulated || c.Simulated
		if c.Verdict != compare.ReadyToClose && c.Verdict != compare.ClosedByChoice {
			d.NotSettled = append(d.NotSettled, fmt.Sprintf("%s: %s", c.Closure, c.Verdict))
		}
	}
	whole, _, err := b.changes(h.Kept(), leads)
	if err != nil {
		return false, err
	}
	whole = slices.DeleteFunc(whole, func(c stages.Change) bool { return c.Stage == compare.Returned })
	if changed(whole) {
		last := whole[len(whole)-1]
		d.NotSettled = append(d.NotSettled, fmt.Sprintf("the whole model changed between stages %s and %s",
			last.Before, last.Stage))
	}
	if d.NotSettled != nil {
		wrap(e.stderr, "note: ", "      ", "the model isn't settled, and the page says so in its first line: "+
			strings.Join(d.NotSettled, "; "))
	}
	return simulated, nil
}

// centreOf is the pole in the middle of a jack's plug, as the plan says it; "": it doesn't.
func centreOf(j plan.Jack) string {
	low := strings.ToLower(j.Plug)
	switch {
	case strings.Contains(low, "centre plus"), strings.Contains(low, "center plus"),
		strings.Contains(low, "centre positive"):
		return "plus"
	case strings.Contains(low, "centre minus"), strings.Contains(low, "center minus"),
		strings.Contains(low, "centre negative"):
		return "minus"
	}
	return ""
}

// deliveryOf says of a plan what its owner has to know.
func deliveryOf(p *plan.Plan, bud *budget.Budget, c clientFlags) plots.DeliveryData {
	j := p.Jacks[0]
	d := plots.DeliveryData{Build: p.Build, Scale: p.Scale, Serial: c.serial, Contact: c.contact, HoursADay: c.hours,
		Plug: j.Plug, Volts: j.Volts,
		BatteryInside: j.Source == "coin" || j.Source == "battery"}
	d.Centre = centreOf(j)
	for _, x := range bud.Jacks {
		if x.Jack == j.Name {
			// Adapters are loaded to 80 % at most, and come in halves of an ampere.
			d.AdapterAmps = math.Ceil(x.AllLit.WorstHighA/0.8*2) / 2
		}
	}
	for _, g := range p.Groups {
		d.Lights = append(d.Lights, plots.DeliveryLight{Name: g.Name, See: g.See, Does: does(p, g)})
	}
	for _, b := range p.Boards {
		for _, q := range b.Paces {
			d.Flashes = d.Flashes || !q.Steady()
		}
		if b.Button {
			var steps []string
			for _, q := range b.Paces {
				steps = append(steps, q.Name)
			}
			d.Buttons = append(d.Buttons, plots.DeliveryButton{Board: b.Name, Steps: steps})
		}
	}
	return d
}

// does says how a group behaves in time.
func does(p *plan.Plan, g plan.Group) string {
	b, _ := p.Board(g.Board)
	if len(b.Paces) > 0 && !b.Paces[0].Steady() {
		return fmt.Sprintf("(flashes, every %.3g s)", b.Paces[0].PeriodS)
	}
	return ""
}
