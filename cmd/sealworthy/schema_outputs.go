package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"

	"sealworthy/capture/record/out"
	"sealworthy/capture/record/parcel"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/returns"
	"sealworthy/compare/sample"
	"sealworthy/instruments/rig/odd"
)

// What is printed as JSON is an object of a type of its own: a list stands in it under a
// name, so that its format, which asPrinted writes first, can stand beside it.

// whatIsCompared is what compare prints.
type whatIsCompared struct {
	Closures []compare.ClosureFinding `json:"closures"`
}

// whatIsMeasured is what measure prints.
type whatIsMeasured struct {
	Closures []compare.ClosureFinding `json:"closures"`
	files    string                   // that they were found from
}

// whatIsInDoubt is what next prints.
type whatIsInDoubt struct {
	Doubts []compare.Doubt `json:"doubts"`
}

// whatIsBuilt is what builds prints.
type whatIsBuilt struct {
	Builds []shopBuild `json:"builds"`
}

// whatReelsDid is what history --reels prints.
type whatReelsDid struct {
	Reels []compare.ReelYears `json:"reels"`
}

// whatIsNoted is what note prints.
type whatIsNoted struct {
	Serial string     `json:"serial,omitempty"` // the build's serial number
	Notes  []madeNote `json:"notes"`
}

// whatIsPhotographed is what photo prints.
type whatIsPhotographed struct {
	Photos []listedPhoto `json:"photos"`
}

// whatPartsAre is what part prints without a name.
type whatPartsAre struct {
	Parts []listedPart `json:"parts"`
}

// whatIsDrawn is what plot prints.
type whatIsDrawn struct {
	Files []string `json:"files"`
}

// whatKeysMean is what explain prints.
type whatKeysMean struct {
	Keys []explanation `json:"keys"`
}

// whatIsOdd is what rig --list prints.
type whatIsOdd struct {
	Oddities []odd.Known `json:"oddities"`
}

// whatIsOnSheet is what sheet prints.
type whatIsOnSheet struct {
	Sheet    string                   `json:"sheet"`              // the file
	Closures []compare.ClosureFinding `json:"closures,omitempty"` // of --form test
}

// whatIsBegun is what new prints.
type whatIsBegun struct {
	Build string     `json:"build"` // the folder
	File  string     `json:"file"`  // that was written: its plan, or its priors
	From  string     `json:"from,omitempty"`
	Notes []madeNote `json:"notes"` // of the build that it was taken from
}

// whatIsSoaked is what soak prints.
type whatIsSoaked struct {
	Soak   *returns.Soaked `json:"soak"`
	Trends []returns.Trend `json:"trends"`
}

// whatIsUnpacked is what unpack prints.
type whatIsUnpacked struct {
	parcel.Packed
	Whole bool `json:"whole"`
}

// whatHasSchema is what schema prints without a name.
type whatHasSchema struct {
	Schemas []schemaNamed `json:"schemas"`
}

// schemaNamed is one output that has a schema.
type schemaNamed struct {
	Name    string `json:"name"`
	Version int    `json:"version"`
	Format  string `json:"format"` // as it stands in the output
}

// whatFailed is an error as --json prints it.
type whatFailed struct {
	Error  string   `json:"error"`
	Hints  []string `json:"hints"`
	Status int      `json:"status"` // the exit status
}

// output is what a verb prints as JSON.
type output struct {
	version int
	value   any // one of the type that is printed, and of no other output
}

// outputs are all that have a schema, by name: that of the verb, mostly. The versions
// count from 1, each output by itself.
func outputs() map[string]output {
	return map[string]output{
		"bench":         {2, benchReport{}},
		"budget":        {3, gradedBudget{}},
		"builds":        {2, whatIsBuilt{}},
		"check":         {2, checked{}},
		"compare":       {2, whatIsCompared{}},
		"demo":          {1, demoReport{}},
		"demo-return":   {2, returnReport{}},
		"error":         {2, whatFailed{}},
		"explain":       {1, whatKeysMean{}},
		"export":        {2, out.Reading{}},
		"history":       {2, buildHistory{}},
		"history-reels": {2, whatReelsDid{}},
		"keep":          {2, returns.Signature{}},
		"left":          {2, buildLeft{}},
		"measure":       {2, whatIsMeasured{}},
		"new":           {1, whatIsBegun{}},
		"next":          {2, whatIsInDoubt{}},
		"note":          {2, whatIsNoted{}},
		"pack":          {2, parcel.Packed{}},
		"part":          {1, sample.Learned{}},
		"parts":         {2, whatPartsAre{}},
		"photo":         {1, whatIsPhotographed{}},
		"plot":          {2, whatIsDrawn{}},
		"ports":         {1, portsReport{}},
		"ports-try":     {1, session.Trial{}},
		"ports-window":  {1, compare.MeterWindow{}},
		"return":        {3, returns.Diagnosis{}},
		"rig":           {1, rigReport{}},
		"rig-end":       {1, rigEnd{}},
		"rig-list":      {1, whatIsOdd{}},
		"schema":        {1, whatHasSchema{}},
		"send":          {2, out.Sent{}},
		"sheet":         {1, whatIsOnSheet{}},
		"soak":          {2, whatIsSoaked{}},
		"unpack":        {2, whatIsUnpacked{}},
		"version":       {1, versionSaid{}},
	}
}

// formatKey is where an output says what it is; first of all, and in each.
const formatKey = "format"

// format is what an output calls itself: the id of its schema.
func (o output) format(name string) string {
	return fmt.Sprintf("urn:sealworthy:%s:%d", name, o.version)
}

// formatOf finds the format of what is printed, by its type.
func formatOf(v any) (string, error) {
	t := reflect.TypeOf(v)
	if t != nil && t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	for name, o := range outputs() {
		if reflect.TypeOf(o.value) == t {
			return o.format(name), nil
		}
	}
	return "", fmt.Errorf("%T isn't among what is printed as JSON", v)
}

// asPrinted is an output as JSON: its format, then all that it holds; lists and maps are
// never null.
func asPrinted(v any) ([]byte, error) {
	format, err := formatOf(v)
	if err != nil {
		return nil, err
	}
	body, err := jsonLine(session.Full(v))
	if err != nil {
		return nil, err
	}
	inside, is := bytes.CutPrefix(bytes.TrimSpace(body), []byte("{"))
	if !is {
		return nil, fmt.Errorf("%T is no object as JSON", v)
	}
	head := fmt.Sprintf("{%q:%q", formatKey, format)
	if !bytes.HasPrefix(inside, []byte("}")) {
		head += ","
	}
	return append([]byte(head), inside...), nil
}

// jsonLine is JSON in one line, for programs: nothing in it is made safe for a page.
func jsonLine(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return b.Bytes(), err
}

// printed is an output among other JSON: as --json prints it.
type printed struct{ value any }

// MarshalJSON writes it with its format.
func (p printed) MarshalJSON() ([]byte, error) { return asPrinted(p.value) }

// Findings are those of a test, for faces that show them; nil: it's something else.
func (p printed) Findings() []compare.ClosureFinding {
	m, _ := p.value.(whatIsMeasured)
	return m.Closures
}

// Files stands for the files that they are of; "": that isn't told.
func (p printed) Files() string {
	m, _ := p.value.(whatIsMeasured)
	return m.files
}
