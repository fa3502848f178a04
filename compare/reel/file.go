package reel

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"sealworthy/compare/linear"
	"sealworthy/compare/wiring"
)

// file is a Learned as TOML.
type file struct {
	Build    string       `toml:"build"`
	Day      string       `toml:"day,omitempty"`
	Reel     []fileReel   `toml:"reel"`
	Factor   []fileFactor `toml:"factor"`
	Together []together   `toml:"together,omitempty"`
}

type fileReel struct {
	Name   string    `toml:"name"`
	Parts  []string  `toml:"parts"`
	Groups []string  `toml:"groups"`
	More   float64   `toml:"draws_more"`
	U      float64   `toml:"draws_u"`
	Beyond bool      `toml:"beyond,omitempty"`
	Share  fileShare `toml:"share,inline"`
}

type fileShare struct {
	Planned   float64 `toml:"planned"`
	Best      float64 `toml:"best"`
	U         float64 `toml:"u"`
	Own       float64 `toml:"own"`
	Groups    int     `toml:"groups"`
	Estimated bool    `toml:"estimated"`
	Certain   bool    `toml:"certain"`
}

type fileFactor struct {
	Kind        string  `toml:"kind"`
	Reel        string  `toml:"reel"`
	Part        string  `toml:"part"`
	HalfWidth   float64 `toml:"half_width"`
	Share       float64 `toml:"share"`
	CommonShare float64 `toml:"common_share"`
	OwnShare    float64 `toml:"own_share"`
	Mean        float64 `toml:"mean"`
	SD          float64 `toml:"sd"`
}

// together is the correlation of two factors, by their places, which count from 1.
type together struct {
	A int     `toml:"a"`
	B int     `toml:"b"`
	R float64 `toml:"r"`
}

const heading = `# What measured groups have told of their reels. Made by the program: measuring
# again makes it anew. draws_more is a fraction of the data sheet's draw, draws_u
# its standard uncertainty; mean and sd count in half_width times the square root
# of common_share.
`

// Encode writes what was learned as a file's text. What was learned of meter
// and room along with it isn't kept: another bench may stand there next time.
func (l *Learned) Encode() ([]byte, error) {
	if l == nil {
		return nil, errors.New("nothing was learned")
	}
	if err := l.check(); err != nil {
		return nil, fmt.Errorf("what was learned can't be kept: %w", err)
	}
	f := file{Build: l.Build, Day: l.Day}
	for _, r := range l.Reels {
		sh := fileShare(r.Share)
		sh.Planned, sh.Best, sh.U, sh.Own = digits(sh.Planned), digits(sh.Best), digits(sh.U), digits(sh.Own)
		f.Reel = append(f.Reel, fileReel{r.Reel, r.Parts, r.Groups, digits(r.Rel), digits(r.U), r.Beyond, sh})
	}
	var kept []int
	for i, x := range l.Factors {
		if !ofParts(x.Kind) {
			continue
		}
		f.Factor = append(f.Factor, fileFactor{string(x.Kind), x.Reel, x.Part, digits(x.HalfWidth),
			digits(x.Share), digits(x.CommonShare), digits(x.OwnShare), digits(x.Mean), digits(x.SD)})
		for n, j := range kept {
			// Rounding leaves specks.
			if r := l.Covariance[i][j] / (x.SD * l.Factors[j].SD); math.Abs(r) > 1e-7 {
				f.Together = append(f.Together, together{n + 1, len(f.Factor), digits(math.Max(-1, math.Min(1, r)))})
			}
		}
		kept = append(kept, i)
	}
	var b bytes.Buffer
	b.WriteString(heading)
	if err := toml.NewEncoder(&b).Encode(f); err != nil {
		return nil, fmt.Errorf("what was learned can't be written: %w", err)
	}
	return b.Bytes(), nil
}

// ofParts reports what belongs to parts that can be bought again. A build's
// wires, fuses and converters stay with it.
func ofParts(k wiring.ParamKind) bool {
	switch k {
	case wiring.CopperOhms, wiring.BoardDraw, wiring.OutputVolts, wiring.OutputOhms:
		return true
	}
	return ofLights(k)
}

// digits rounds to the nine digits that are kept.
func digits(x float64) float64 {
	v, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 9, 64), 64)
	if err != nil {
		return x
	}
	return v
}

// FileError is a problem in a kept file, with its place; lines and columns
// count from 1, 0 where the whole file is meant.
type FileError struct {
	File         string
	Line, Column int
	What         string
}

func (e *FileError) Error() string {
	if e.Line == 0 {
		return fmt.Sprintf("%s: %s", e.File, e.What)
	}
	return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Column, e.What)
}

// mostFactors keeps a damaged file from asking for memory without end.
const mostFactors = 300

// Parse reads what Encode wrote. The name of the file is for messages. Errors
// are *FileError. Unknown keys, numbers that can't be and correlations that no
// distribution has are errors.
func Parse(name string, src []byte) (*Learned, error) {
	fail := func(what string) error { return &FileError{File: name, What: what} }
	if len(src) > 1<<20 {
		return nil, fail("the file is larger than 1 MiB: is this the right one?")
	}
	var f file
	dec := toml.NewDecoder(bytes.NewReader(src))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return nil, placed(name, err)
	}
	if len(f.Factor) > mostFactors {
		return nil, fail(fmt.Sprintf("more than %d factors", mostFactors))
	}
	l := &Learned{Build: f.Build, Day: f.Day}
	for _, r := range f.Reel {
		l.Reels = append(l.Reels, Reel{r.Name, r.Parts, r.Groups, r.More, r.U, Share(r.Share), r.Beyond})
	}
	n := len(f.Factor)
	for i, x := range f.Factor {
		l.Factors = append(l.Factors, Factor{Factor: wiring.Factor{Kind: wiring.ParamKind(x.Kind), Reel: x.Reel, Part: x.Part},
			HalfWidth: x.HalfWidth, Share: x.Share, CommonShare: x.CommonShare, OwnShare: x.OwnShare, Mean: x.Mean, SD: x.SD})
		l.Covariance = append(l.Covariance, make([]float64, n))
		l.Covariance[i][i] = x.SD * x.SD
	}
	for _, t := range f.Together {
		if t.A < 1 || t.B < 1 || t.A > n || t.B > n || t.A == t.B || !(t.R >= -1 && t.R <= 1) {
			return nil, fail(fmt.Sprintf("together: a = %d, b = %d, r = %g can't be", t.A, t.B, t.R))
		}
		v := t.R * l.Factors[t.A-1].SD * l.Factors[t.B-1].SD
		l.Covariance[t.A-1][t.B-1], l.Covariance[t.B-1][t.A-1] = v, v
	}
	if err := l.check(); err != nil {
		return nil, fail(err.Error())
	}
	return l, nil
}

// placed turns a reader's error into one with its place.
func placed(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		line, col := e.Position()
		return &FileError{name, line, col, fmt.Sprintf("unknown key %q", strings.Join(e.Key(), "."))}
	}
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		line, col := bad.Position()
		return &FileError{name, line, col, strings.TrimPrefix(bad.Error(), "toml: ")}
	}
	return &FileError{File: name, What: strings.TrimPrefix(err.Error(), "toml: ")}
}

// check refuses what no learning makes.
func (l *Learned) check() error {
	if l.Day != "" {
		if _, err := time.Parse(time.DateOnly, l.Day); err != nil {
			return fmt.Errorf("day = %q is no day such as 2026-11-25", l.Day)
		}
	}
	within := func(what string, v, from, to float64) error {
		if !(v >= from && v <= to) {
			return fmt.Errorf("%s = %g must lie between %g and %g", what, v, from, to)
		}
		return nil
	}
	for i, x := range l.Factors {
		if slices.ContainsFunc(l.Factors[:i], func(f Factor) bool { return f.Factor == x.Factor }) {
			return fmt.Errorf("factor %d stands there twice: %s of %s, %s", i+1, x.Kind, x.Reel, x.Part)
		}
		if err := errors.Join(within("half_width", x.HalfWidth, 0, 1e6), within("share", x.Share, 0, 1), within("common_share", x.CommonShare, 0, 1),
			within("own_share", x.OwnShare, 0, 1), within("mean", x.Mean, -100, 100), within("sd", x.SD, 0, 100)); err != nil {
			return fmt.Errorf("factor %d (%s of %s): %w", i+1, x.Kind, x.Reel, err)
		}
	}
	for _, r := range l.Reels {
		if err := errors.Join(within("draws_more", r.Rel, -100, 100), within("draws_u", r.U, 0, 100), within("share.planned", r.Share.Planned, 0, 1),
			within("share.best", r.Share.Best, 0, 1), within("share.u", r.Share.U, 0, 1), within("share.own", r.Share.Own, 0, 1),
			within("share.groups", float64(r.Share.Groups), 0, 1e6)); err != nil {
			return fmt.Errorf("reel %q: %w", r.Reel, err)
		}
	}
	return l.definite()
}

// definite refuses correlations that can't hold together: the covariance must
// be positive semidefinite, but for rounding.
func (l *Learned) definite() error {
	n := len(l.Factors)
	chol := cholesky(l.Covariance)
	for i := range n {
		for j := range i + 1 {
			if d := math.Abs(linear.Dot(chol[i], chol[j]) - l.Covariance[i][j]); d > 1e-5*l.Factors[i].SD*l.Factors[j].SD {
				return fmt.Errorf("factors %d and %d can't be correlated so (%s of %s, %s of %s)", j+1, i+1,
					l.Factors[j].Kind, l.Factors[j].Reel, l.Factors[i].Kind, l.Factors[i].Reel)
			}
		}
	}
	return nil
}
