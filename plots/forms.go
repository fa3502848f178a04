package plots

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"sealworthy/compare/fault"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
	"sealworthy/plots/plain"
)

// DeliveryData goes onto the page that a client gets with the model. No current
// of a group and no probability stands on it.
type DeliveryData struct {
	Build, Scale    string    // as the plan calls it; Scale as "1:96" or empty
	Serial, Contact string    // empty: a line to fill in by hand
	Made            time.Time // when the page was made
	Simulated       bool      // the page says so
	// NotSettled are the closures that are neither ready to close nor closed by
	// choice, each with its verdict: then the page isn't for a client yet.
	NotSettled []string

	Plug string // as the plan says it; empty: not known
	// Centre is the polarity of the plug's centre: "plus", "minus" or "" for unknown.
	Centre        string
	Volts         float64          // V, that the model takes
	AdapterAmps   float64          // a replacement must give at least so much; 0: not known
	Lights        []DeliveryLight  // in the order of the plan
	Buttons       []DeliveryButton // none: it has no button
	HoursADay     float64          // 0: a line to fill in
	Flashes       bool             // something flashes
	Cautions      []string         // of this build
	BatteryInside bool             // it runs on a battery of its own
	Photos        []SheetPhoto     // those that the maker ticked for it
}

// DeliveryLight is what one group does.
type DeliveryLight struct {
	Name, See, Does string // See: as the plan says it; Does: in words: steady, blinks
}

// DeliveryButton is what one button does.
type DeliveryButton struct {
	Board string
	Steps []string // in their order
}

//go:embed delivery.html.tmpl
var deliveryText string

// Delivery writes the client's page: one file of HTML that needs no other.
func Delivery(w io.Writer, d DeliveryData) error {
	if d.Build == "" || len(d.Lights) == 0 {
		return errors.New("a delivery page needs the build's name and its lights")
	}
	shown, _ := pagePhotos(d.Photos, d.Made.Location())
	return fill(w, "delivery", deliveryText, struct {
		DeliveryData
		Day      string
		Polarity template.HTML
		Shown    []pagePhoto
	}{d, dayBy(d.Made, d.Made), polarity(d.Centre), shown})
}

// ReturnData goes onto the page of a return.
type ReturnData struct {
	Build, Serial string    // as the plan calls it; Serial may be empty
	Made          time.Time // when the page was made
	Diagnosis     *returns.Diagnosis
	// Blinkers is its trace with what blinks in it; nil: nothing does.
	Blinkers *BlinkersData
	Style    Style
}

//go:embed return.html.tmpl
var returnText string

// ReturnSheet writes the page of a return: what was found, how sure that is,
// what will have to be opened.
func ReturnSheet(w io.Writer, d ReturnData) error {
	if d.Diagnosis == nil {
		return errors.New("a return's page needs its diagnosis")
	}
	x := struct {
		ReturnData
		D             *returns.Diagnosis
		Day, Measured string
		Kept, Verdict string
		RestsOn       string
		Rows          []returnRow
		Open, Alike   []string
		Sweep, Blinks template.HTML
	}{ReturnData: d, D: d.Diagnosis, Day: dayBy(d.Made, d.Made), Measured: dayBy(d.Diagnosis.At, d.Made),
		Kept: dayBy(d.Diagnosis.SignatureAt, d.Made), Verdict: verdictText(d.Diagnosis), RestsOn: restsOn(d.Diagnosis, false)}
	for _, t := range d.Diagnosis.Twins {
		for _, n := range []string{t.A, t.B} {
			if !has(x.Alike, n) {
				x.Alike = append(x.Alike, n)
			}
		}
	}
	for _, c := range d.Diagnosis.Set {
		if c.Place == string(fault.Nothing) && d.Diagnosis.Alarm {
			continue
		}
		x.Rows = append(x.Rows, returnRow{c.Text, words.Sureness(c.P), c.Closure})
		if c.Closure != "" && !has(x.Open, c.Closure) {
			x.Open = append(x.Open, c.Closure)
		}
	}
	if s := SweepOf(d.Diagnosis); s.check() == nil {
		pic, err := inPage(func(w io.Writer, st Style) error { return Sweep(w, SVG, st, s) }, d.Style)
		if err != nil {
			return err
		}
		x.Sweep = pic
	}
	if d.Blinkers != nil && d.Blinkers.check() == nil {
		pic, err := inPage(func(w io.Writer, st Style) error { return Blinkers(w, SVG, st, *d.Blinkers) }, d.Style)
		if err != nil {
			return err
		}
		x.Blinks = pic
	}
	return fill(w, "return", returnText, x)
}

// inPage draws a picture to stand in a page: the page has the typeface.
func inPage(paint func(io.Writer, Style) error, s Style) (template.HTML, error) {
	s.EmbedFont = false
	var b bytes.Buffer
	err := paint(&b, s)
	return template.HTML(b.String()), err
}

type returnRow struct{ Text, Sure, Open string }

func has(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// verdictText is the verdict in a client's words.
func verdictText(d *returns.Diagnosis) string {
	switch d.Verdict {
	case returns.AsItLeft:
		if d.Adapter != nil && d.Adapter.Faulty {
			return "The model draws what it drew when it left. The adapter is at fault."
		}
		return "The model draws what it drew when it left. Nothing is found wrong with it."
	case returns.OnePlace:
		if !d.Known() {
			return "Most likely one place is at fault. It's to be looked at lit before anything is opened."
		}
		return "One place is at fault, and it is known which."
	case returns.OneOf:
		return "Something is wrong, in one of the places below."
	case returns.NotListed:
		return "Something is wrong that fits none of the usual faults."
	case returns.ShortedUp:
		return "The measurement was stopped: far more current flows than the model ever drew."
	}
	return "It can't be told yet whether anything is wrong."
}

// restsOn says what a verdict rests on; "" where the measurement was stopped by what flowed.
func restsOn(d *returns.Diagnosis, client bool) string {
	if d.Verdict == returns.ShortedUp {
		return ""
	}
	return d.RestsOn(client)
}

// fill executes a template whole before anything is written. Every page goes
// through here: the template escapes what HTML would read, and what hides or
// turns text round is written out.
func fill(w io.Writer, name, text string, data any) error {
	t, err := template.New(name).Funcs(template.FuncMap{"volts": plainVolts, "join": strings.Join,
		"ohms": ohmsText, "watts": wattsText, "units": unitsOf, "capital": capitalOf,
		"simulatedBench": func() string { return SimulatedBench }}).Parse(text)
	if err != nil {
		return fmt.Errorf("the %s page's template: %w", name, err)
	}
	var b bytes.Buffer
	if err := t.Execute(&b, data); err != nil {
		return fmt.Errorf("the %s page: %w", name, err)
	}
	_, err = w.Write(plain.Append(nil, b.Bytes()))
	return err
}

func plainVolts(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

func ohmsText(ohm float64) string { return fmt.Sprintf("%g ohm", ohm) }

func wattsText(w float64) string { return fmt.Sprintf("%g W", w) }

// unitsOf says a number of things.
func unitsOf(n int, many string) string {
	if n == 1 {
		many = strings.TrimSuffix(many, "s")
	}
	return fmt.Sprintf("%d %s", n, many)
}

// capitalOf begins a line with a capital letter.
func capitalOf(s string) string {
	for i, r := range s {
		return string(unicode.ToUpper(r)) + s[i+utf8.RuneLen(r):]
	}
	return s
}

// dayBy is the day of a time by the clock by which a page was made.
func dayBy(t, made time.Time) string { return words.PaperDay(t, made.Location()) }

// polarity draws a barrel plug seen from its open end, which pole where.
func polarity(centre string) template.HTML {
	pin, sleeve := "?", "?"
	words := "polarity not stated"
	switch centre {
	case "plus":
		pin, sleeve, words = "+", "−", "plus in the centre, minus on the sleeve"
	case "minus":
		pin, sleeve, words = "−", "+", "minus in the centre, plus on the sleeve"
	}
	return template.HTML(
		fmt.Sprintf(`<svg role="img" aria-label="plug seen from its end: %s" viewBox="0 0 228 110" class="plug">
<circle cx="55" cy="55" r="44" fill="none" stroke="#1b1f23" stroke-width="9"/>
<circle cx="55" cy="55" r="15" fill="#fff" stroke="#1b1f23" stroke-width="4"/>
<line x1="70" y1="55" x2="140" y2="55" stroke="#1b1f23" stroke-width="2"/><text x="150" y="62" font-size="24" font-weight="bold">%s</text>
<line x1="86" y1="24" x2="140" y2="24" stroke="#1b1f23" stroke-width="2"/><text x="150" y="31" font-size="24" font-weight="bold">%s</text>
<text x="180" y="61" font-size="13">centre</text><text x="180" y="30" font-size="13">sleeve</text>
</svg>`, words, pin, sleeve))
}
