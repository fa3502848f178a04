package fault

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"sealworthy/compare/plan"
)

// mostBytes is more than any priors file has.
const mostBytes = 1 << 16

// ParsePriors reads a maker's priors: what the file leaves out keeps its
// default. With any problem there are no priors; all that were found are returned.
func ParsePriors(file string, src []byte) (Priors, []plan.Problem) {
	src = bytes.TrimPrefix(src, []byte("\xef\xbb\xbf"))
	f := priorsFile{name: file, src: src}
	switch {
	case len(src) > mostBytes:
		f.fail(0, "the file is larger than 64 KiB", "priors are a page of numbers: is this the right file?")
		return Priors{}, f.problems
	case !utf8.Valid(src):
		f.fail(0, "this is not UTF-8 text", "save it again as UTF-8")
		return Priors{}, f.problems
	}
	p := DefaultPriors()
	d := toml.NewDecoder(bytes.NewReader(src)).DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		f.decode(err)
		return Priors{}, f.problems
	}
	at := f.keys()
	for _, n := range p.fields() {
		if why := n.wrong(); why != "" {
			f.fail(at[n.key], n.key+" is "+why, "")
		}
	}
	if len(f.problems) > 0 {
		return Priors{}, f.problems
	}
	return p, nil
}

// priorsFile is a file that is being read.
type priorsFile struct {
	name     string
	src      []byte
	problems []plan.Problem
}

func (f *priorsFile) fail(at int, what, instead string) {
	at = max(0, min(at, len(f.src)))
	begin := bytes.LastIndexByte(f.src[:at], '\n') + 1
	end := len(f.src)
	if k := bytes.IndexByte(f.src[begin:], '\n'); k >= 0 {
		end = begin + k
	}
	f.problems = append(f.problems, plan.Problem{File: f.name, Pos: plan.Pos{Line: 1 + bytes.Count(f.src[:at], []byte("\n")),
		Column: 1 + utf8.RuneCount(f.src[begin:at])}, Text: strings.TrimRight(string(f.src[begin:end]), "\r"),
		What: what, Instead: instead})
}

// decode puts a reader's error where it belongs.
func (f *priorsFile) decode(err error) {
	var strict *toml.StrictMissingError
	var one *toml.DecodeError
	switch {
	case errors.As(err, &strict):
		for i := range strict.Errors {
			e := &strict.Errors[i]
			key := strings.Join(e.Key(), ".")
			f.failAt(e, fmt.Sprintf("unknown key %q", key), nearestKey(key))
		}
	case errors.As(err, &one):
		f.failAt(one, strings.TrimPrefix(one.Error(), "toml: "), "")
	default:
		f.fail(0, err.Error(), "")
	}
}

func (f *priorsFile) failAt(e *toml.DecodeError, what, instead string) {
	line, col := e.Position()
	at := 0
	for range line - 1 {
		k := bytes.IndexByte(f.src[at:], '\n')
		if k < 0 {
			break
		}
		at += k + 1
	}
	f.fail(at+max(0, col-1), what, instead)
}

// keys finds where each key's value stands. The text has been decoded before, so
// it can be parsed.
func (f *priorsFile) keys() map[string]int {
	out := map[string]int{}
	var p unstable.Parser
	p.Reset(f.src)
	table := ""
	var walk func(prefix string, kv *unstable.Node)
	walk = func(prefix string, kv *unstable.Node) {
		key, where := prefix, 0
		for it := kv.Key(); it.Next(); {
			n := it.Node()
			key = strings.TrimPrefix(key+"."+string(n.Data), ".")
			where = int(n.Raw.Offset)
		}
		out[key] = where
		if v := kv.Value(); v != nil && v.Kind == unstable.InlineTable {
			for it := v.Children(); it.Next(); {
				if it.Node().Kind == unstable.KeyValue {
					walk(key, it.Node())
				}
			}
		}
	}
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table:
			table = ""
			for it := e.Key(); it.Next(); {
				table = strings.TrimPrefix(table+"."+string(it.Node().Data), ".")
			}
		case unstable.KeyValue:
			walk(table, e)
		}
	}
	return out
}

// nearestKey says what may have been meant.
func nearestKey(key string) string {
	best, most := "", 0.0
	for _, n := range DefaultPriors().fields() {
		if a := pairsAlike(key, n.key); a > most {
			best, most = n.key, a
		}
	}
	if most < 0.5 {
		return "leave it out; sealworthy's own file of priors lists every key"
	}
	return fmt.Sprintf("write %q", best)
}

// pairsAlike is the share of pairs of letters that two words have in common.
func pairsAlike(a, b string) float64 {
	pairs := func(s string) []string {
		var out []string
		for i := 0; i+1 < len(s); i++ {
			out = append(out, s[i:i+2])
		}
		return out
	}
	x, y := pairs(a), pairs(b)
	n := 0
	for _, p := range x {
		if i := slices.Index(y, p); i >= 0 {
			y = slices.Delete(y, i, i+1)
			n++
		}
	}
	return 2 * float64(n) / float64(max(1, len(x)+len(pairs(b))))
}

// PriorsText is a priors file with every default and what it means: changing
// nothing in it changes nothing.
func PriorsText() string {
	var b strings.Builder
	b.WriteString(`# How probable things are before anything is measured, for one group. These are
# defaults of common practice, no data stand behind them: change what your own
# bench has taught you. What is left out keeps its default. Probabilities are
# brought to a sum of 1; a fault's weight counts for each place that can have it.

`)
	write := func(v reflect.Value, prefix string) {
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if v.Field(i).Kind() == reflect.Struct {
				continue
			}
			key := f.Tag.Get("toml")
			fmt.Fprintf(&b, "%-24s = %-8g # %s\n", key, v.Field(i).Float(), meanings[prefix+key])
		}
	}
	p := reflect.ValueOf(DefaultPriors())
	write(p, "")
	for i := range p.NumField() {
		f := p.Type().Field(i)
		if p.Field(i).Kind() != reflect.Struct {
			continue
		}
		key := f.Tag.Get("toml")
		fmt.Fprintf(&b, "\n# %s\n[%s]\n", meanings[key], key)
		write(p.Field(i), key+".")
	}
	return b.String()
}

// meanings of the keys, in a maker's words.
var meanings = map[string]string{
	"none":             "nothing is wrong",
	"unknown":          "something that is not in the lists below",
	"two":              "a second fault of the same kind beside a first one, against the first alone",
	"model_error":      "not a probability: what the computed draw itself may be off, of the draw",
	"curve_error":      "not a probability: by how much the slope of an LED's curve may be off",
	"knee_volts":       "not a probability: volts by which LEDs inside strips may be off, at the right draw",
	"loose_tolerances": "parts scatter half as much again as the plan says",

	"fault":                       "Weights of faults.",
	"fault.open_branch":           "for each branch: a joint off, a wire broken, an LED dead",
	"fault.dark_segment":          "for each segment of a strip",
	"fault.reversed_led":          "for each LED that the maker solders; in a ready-made strip a fiftieth of it",
	"fault.shorted_led":           "for each LED: solder across its pads",
	"fault.missing_resistor":      "for each resistor",
	"fault.resistor_a_decade_off": "for each resistor, ten times and a tenth each",
	"fault.bad_joint_in_a_branch": "for each branch",
	"fault.bad_joint":             "in the group's own wire",
	"fault.extra_branch":          "for each light of the plan: one more than planned",
	"fault.overloaded_output":     "for a blinker's output",
	"fault.stuck_dark":            "for a board's output: it never lights",
	"fault.short":                 "plus and minus of the group touch",
	"fault.piece_reversed":        "for each strip or chain: joined the wrong way round",
	"fault.group_reversed":        "plus and minus of the whole group swapped",
	"fault.other":                 "any other kind",

	"plan":                  "Weights of a wrong plan, for each light of a group.",
	"plan.count_off":        "more or fewer than the plan says",
	"plan.another_part":     "another part than the plan says",
	"plan.another_resistor": "another resistor than the plan says, in all branches of the light",

	"common":              "Probabilities of what several groups have in common.",
	"common.joint":        "each joint that groups share, and each board's wire",
	"common.return":       "each return of its own",
	"common.jack":         "the jack, or the bench's leads",
	"common.open":         "of those, the part that is open and not only bad",
	"common.supply":       "the supply is off by more than its accuracy",
	"common.meter":        "the meter is off by more than its accuracy",
	"common.part_figures": "a part's figures are off by more than their tolerance",

	"joint": "Ohms of a bad joint: the middle one, and by how much they scatter (standard deviation of " +
		"the natural logarithm).",
	"joint.feed_ohms":    "in the group's wire, ohm",
	"joint.feed_sigma":   "1: two of three lie between a third and three times as much",
	"joint.branch_ohms":  "in one branch, ohm",
	"joint.branch_sigma": "as above",

	"return": "A model that came back: weights of single faults, shared out over what the three " +
		"probabilities leave.",
	"return.nothing": "a probability: nothing is wrong with it",
	"return.unknown": "a probability: something that is not in this list",
	"return.two":     "a probability: two faults at once",
	"return.unnoticed": "what nobody notices from outside, against the same where lights show it: about nothing / " +
		"(1 - nothing) times the share of your models that ever fail; .1 is for 4 of 10",
	"return.second_branch": "two dark branches of a group, against one",
	"return.dark_branch":   "for each group: an LED dead, a wire or a solder point off",
	"return.dead":          "for each group and joint: all of it draws nothing",
	"return.shorted_led":   "for each group: one LED of a chain is bridged",
	"return.bad_joint":     "for each group and joint: ohms where there should be none",
	"return.stuck_lit":     "for each blinking group",
	"return.stuck_dark":    "for each blinking group",
	"return.dead_board":    "for each board",
	"return.leak":          "dirt or damp between plus and minus",
	"return.bad_plug":      "ohms in the model's own plug or jack",

	"eye":                    "How far a look is believed.",
	"eye.overlooked":         "a dark light is not noticed",
	"eye.invented":           "something is called dark where all are lit",
	"eye.dim_is_dark":        "a dim or far too bright light is called dark",
	"eye.dim_overlooked":     "a dim group is called all right, where it isn't called dark",
	"eye.flicker_overlooked": "a group that flickers is called all right",
	"eye.joint_flickers":     "a bad joint flickers while somebody looks",
	"eye.miscounted":         "as many lit are counted as the plan has, though more or fewer are there",
	"eye.misread":            "what the plan says is read on a piece, though another figure stands there",
	"eye.hearsay":            "a client says anything, whatever the lights are",
	"eye.floor":              "no answer counts as less probable than this: looks are given without looking, too",
}
