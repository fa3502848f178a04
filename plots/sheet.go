package plots

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/stages"
	"sealworthy/compare/words"
)

// SheetData is what goes onto the sheet of a build.
type SheetData struct {
	Build        string
	Scale        string    // as "1:96"; may be empty
	PlanRevision string    // of the plan as it is now
	Made         time.Time // when the sheet was made

	// Closures in the order in which they're to be read.
	Closures []compare.ClosureFinding
	// Steps are the records that the findings rest on: what was measured, when,
	// with what, and the traces.
	Steps []capture.StepRecord
	// Levels gives the levels of draw that a healthy feed shows in a step, for its
	// trace; nil takes the band of the finding where one group stands alone.
	Levels func(capture.StepRecord) []Level
	// AllTraces draws every group's trace; else those of blinkers and of groups
	// that aren't in band.
	AllTraces bool

	// Changes are the whole model at each stage against the stage before, and
	// Trend the draw over the stages; empty and nil: it was measured at one only.
	Changes []stages.Change
	Trend   *TrendData

	// Wires are those of which a colour or a pin is known: the map of the model.
	Wires []WireMark
	Tree  *FeedTreeData // nil: none
	Bands *BandsData    // nil: none
	// Photos were taken of it, in this order.
	Photos []SheetPhoto
	// Cautions are those of this build. What begins with WrongInPlan is shown
	// beside the verdicts, without it.
	Cautions []string
	// Warnings are what readers found wrong in files, and the like.
	Warnings []string
	Style    Style
}

// WrongInPlan begins a caution of a build that can't work as planned.
const WrongInPlan = "Wrong: "

//go:embed sheet.html.tmpl
var sheetText string

// Sheet writes one page of HTML with all in it: it needs no other file and no
// network, and prints on A4 and Letter. Nothing is written when it can't be made.
func Sheet(w io.Writer, d SheetData) error {
	if len(d.Closures) == 0 {
		return errors.New("a sheet needs at least one closure with its finding")
	}
	p, err := d.page()
	if err != nil {
		return err
	}
	return fill(w, "test", sheetText, p)
}

// sheetPage is the sheet in words, as the template wants it.
type sheetPage struct {
	Build, Scale, Made, Plan string
	Simulated                bool
	Closures                 []sheetClosure
	Front                    []frontClosure // the first page
	WireMap                  []string       // of joints, returns and boards
	GroupWires               bool           // a column is wanted for those of groups
	Changes                  []sheetChange
	Trend                    template.HTML
	Facts                    []sheetFact
	Instruments              []sheetInstrument
	Pictures                 []sheetPicture
	Photos                   []pagePhoto
	MorePhotos               int      // that don't stand on it
	Wrong                    []string // what can't work as planned, beside the verdicts
	Own                      []string // cautions of this build
	Cautions                 []sheetCaution
	Warnings                 []string
	Colours                  Colours
}

type sheetClosure struct {
	Name, Inside, Verdict, Class string
	Mark                         template.HTML
	Simulated                    string // that it says nothing of a real model; empty: it does
	Slip                         string // the chance that a fault is still in it; empty: it didn't pass
	Reasons                      []string
	Items                        []sheetItem
	Rows                         []sheetRow
	Picture                      template.HTML
}

// sheetItem is one thing that a closure must hold, ticked or not.
type sheetItem struct {
	Mark      template.HTML
	Name, How string
}

type sheetRow struct {
	Group, At, Measured, Expected, Verdict, Class string
	When, Period, PlanPeriod                      string
	Mark                                          template.HTML
	Looked, Yet                                   string
	Causes, Settle, Notes                         []string
}

type sheetFact struct{ What, Value string }

type sheetPicture struct {
	Caption string
	SVG     template.HTML
}

// where is the place whose clock tells the times of the page: that by which it was made.
func (d SheetData) where() *time.Location { return d.Made.Location() }

func (d SheetData) page() (sheetPage, error) {
	p := sheetPage{Build: d.Build, Scale: d.Scale, Plan: d.PlanRevision, Warnings: d.Warnings, Cautions: cautions(),
		Colours: d.Style.Colours}
	for _, c := range d.Cautions {
		if text, wrong := strings.CutPrefix(c, WrongInPlan); wrong {
			p.Wrong = append(p.Wrong, text)
		} else {
			p.Own = append(p.Own, c)
		}
	}
	if !d.Made.IsZero() {
		p.Made = words.PaperMinute(d.Made, d.where())
	}
	for _, s := range d.Steps {
		p.Simulated = p.Simulated || s.Simulated
	}
	for _, c := range d.Closures {
		p.Simulated = p.Simulated || c.Simulated
		for _, g := range c.Groups {
			p.Simulated = p.Simulated || g.Simulated
		}
	}
	for _, c := range d.Closures {
		x, err := d.closure(c)
		if err != nil {
			return p, err
		}
		p.Closures = append(p.Closures, x)
	}
	p.Front, p.WireMap, p.GroupWires = frontOf(p.Closures, d.Wires), wireMap(d.Wires), hasGroupWires(d.Wires)
	p.Facts = d.facts()
	p.Instruments = instrumentsOf(d.Steps)
	var err error
	if p.Changes, p.Trend, err = d.changes(); err != nil {
		return p, err
	}
	p.Photos, p.MorePhotos = pagePhotos(d.Photos, d.where())
	p.Pictures, err = d.pictures()
	return p, err
}

func (d SheetData) closure(c compare.ClosureFinding) (sheetClosure, error) {
	x := sheetClosure{Name: c.Closure, Inside: c.Inside, Verdict: string(c.Verdict), Reasons: c.Reasons}
	s := crossing
	switch c.Verdict {
	case compare.ReadyToClose:
		x.Class, s = "good", disc
	case compare.LookFirst:
		x.Class, s = "open", ring
	case compare.KeepOpen:
		x.Class, s = "bad", square
	case compare.ClosedByChoice:
		x.Class, s = "open", box
	default:
		x.Class, s = "open", diamond
	}
	x.Mark = d.inline(s, x.Class)
	if c.Simulated {
		x.Simulated = SimulatedVerdict
	}
	if c.Slip != nil {
		x.Slip = c.Slip.Text()
	}
	for _, i := range c.Items {
		x.Items = append(x.Items, d.item(i))
	}
	for _, g := range c.Groups {
		r, err := d.row(g)
		if err != nil {
			return x, err
		}
		x.Rows = append(x.Rows, r)
	}
	if len(c.Groups) == 0 {
		return x, nil
	}
	var err error
	x.Picture, err = d.svg(func(w io.Writer, s Style) error { return Closure(w, SVG, s, c) })
	return x, err
}

// SimulatedBench is said on every page and picture of what was measured on a simulated
// bench, however fast its time went.
const SimulatedBench = "SIMULATED BENCH: no real model was measured"

// SimulatedVerdict is said beside a verdict that rests on a simulated bench.
const SimulatedVerdict = "SIMULATED: it rests on a simulated bench and says nothing of a real model"

// item says of a thing that a closure must hold how it was ticked.
func (d SheetData) item(i compare.Item) sheetItem {
	x := sheetItem{Name: i.Name, How: string(i.Kind) + ": " + i.By.Words()}
	if i.By == "" {
		x.Mark = d.inline(box, "open")
		return x
	}
	x.Mark = d.inline(disc, "good")
	return x
}

func (d SheetData) row(g compare.Finding) (sheetRow, error) {
	drawn, err := findingRow(d.Style.Colours, g)
	if err != nil {
		return sheetRow{}, err
	}
	r := sheetRow{Group: drawn.name, Verdict: drawn.text[2], Measured: drawn.text[0], Expected: drawn.text[1],
		Settle: g.Settle, Notes: g.Notes, Yet: compare.YetInBand(g)}
	if r.Expected != "" {
		r.Expected += " mA"
	}
	switch drawn.ink {
	case d.Style.Colours.Good:
		r.Class = "good"
	case d.Style.Colours.Bad:
		r.Class = "bad"
	default:
		r.Class = "open"
	}
	r.Mark = d.inline(drawn.mark, r.Class)
	if isMeasured(g) {
		r.At = fmt.Sprintf("%s, %.2f V", g.Stage, g.VoltsSet)
		if g.Way != "" && g.Way != string(capture.Alone) {
			r.At += ", " + g.Way
		}
		if !g.At.IsZero() {
			r.When = words.Minute(g.At, d.where())
		}
		if g.PeriodS > 0 {
			r.Period = fmt.Sprintf("period %s s", words.Number(g.PeriodS, g.PeriodU))
		}
	}
	if g.PlanPeriodS > 0 {
		r.PlanPeriod = fmt.Sprintf("period %s s", words.Number(g.PlanPeriodS, 0.05*g.PlanPeriodS))
	}
	switch {
	case g.Seen != "":
		r.Looked = g.Seen
	case g.Looked:
		r.Looked = "all right"
	default:
		r.Looked = "not looked at"
	}
	if g.Why != "" {
		r.Causes = append(r.Causes, g.Why)
	}
	for i, c := range g.Causes {
		if i == 3 {
			break // what comes after is hardly ever it
		}
		r.Causes = append(r.Causes, causeText(c))
	}
	for _, a := range g.Also {
		if a.Nothing() {
			continue
		}
		r.Notes = append(slices.Clone(r.Notes), fmt.Sprintf("at %s V: %s, expected %s", words.Number(a.Volts, 0.1),
			words.Milliamps(a.MeasuredA, a.MeasuredU), words.Milliamps(a.ExpectedA, a.ExpectedU)))
	}
	if x := g.Excluded; x != nil {
		r.Notes = append(slices.Clone(r.Notes), words.Excluded(x.LossA, x.JointOhm, g.PHealthy))
	}
	if g.Learned != "" {
		r.Notes = append(slices.Clone(r.Notes), g.Learned)
	}
	if g.Accepted != "" {
		r.Notes = append(slices.Clone(r.Notes), "accepted by the maker: "+g.Accepted)
	}
	if g.PlanChanged {
		r.Notes = append(slices.Clone(r.Notes), "the plan changed after this reading")
	}
	return r, nil
}

func causeText(c compare.Cause) string {
	s := c.Text
	if s == "" {
		s = c.Name
	}
	if c.Place != "" && !strings.Contains(s, c.Place) {
		s += " (" + c.Place + ")"
	}
	if c.P > 0 {
		s += fmt.Sprintf(", about %.0f %%", math.Min(99, math.Max(1, 100*c.P)))
	}
	return s
}

// svg draws a picture to stand in the page, which brings the typeface.
func (d SheetData) svg(paint func(io.Writer, Style) error) (template.HTML, error) {
	s := d.Style
	s.EmbedFont = false
	s.HeightMM = min(s.HeightMM, 72) // three traces to a page
	var b bytes.Buffer
	if err := paint(&b, s); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil // made by this package, every text in it escaped
}

// inline is a mark as small SVG, to stand before its word.
func (d SheetData) inline(s shape, class string) template.HTML {
	draw := map[shape]string{
		disc: `<circle cx="8" cy="8" r="6"/>`, ring: `<circle class="hollow" cx="8" cy="8" r="5"/>`,
		down: `<path d="M1 3h14L8 15z"/>`, up: `<path d="M1 13h14L8 1z"/>`,
		square: `<path d="M2 2h12v12H2z"/>`, box: `<path class="hollow" d="M3 3h10v10H3z"/>`,
		diamond: `<path d="M8 0l7 8-7 8-7-8z"/>`, crossing: `<path class="hollow" d="M3 3l10 10M3 13L13 3"/>`,
	}[s]
	return template.HTML(`<svg class="mark ` + class +
		`" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">` + draw + `</svg>`)
}
