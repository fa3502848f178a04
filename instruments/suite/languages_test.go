package suite_test

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/scpi"
)

// scpiFake answers what the built-in SCPI profiles send.
type scpiFake struct {
	id string
	// output in use; 0: it has one. What is said to another one is lost.
	output, selected int
}

func (*scpiFake) lines() {}

func (*scpiFake) take(got []byte) (int, []byte) {
	i := bytes.IndexByte(got, '\n')
	if i < 0 {
		return 0, nil
	}
	return i + 1, got[:i]
}

func (*scpiFake) spoil(p []byte) []byte { return bytes.Replace(p, p[:1], []byte("x"), 1) }

func (s *scpiFake) answer(f *fake, message []byte) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	m := string(message)
	if m == "" {
		return nil
	}
	if n, chooses := strings.CutPrefix(m, "INST:NSEL "); chooses && s.output > 0 {
		s.selected, _ = strconv.Atoi(n)
		return nil
	}
	if s.output != s.selected {
		return nil
	}
	// A person presses the key of another output after each command.
	if s.output > 0 {
		s.selected = 3 - s.output
	}
	if q, marked := strings.CutSuffix(m, ";*OPC?"); marked {
		if r, ok := s.ask(f, q); ok {
			return []byte(r + ";1\n")
		}
	}
	if r, ok := s.ask(f, m); ok {
		return []byte(r + "\n")
	}
	if !s.tell(f, m) {
		f.errors = append(f.errors, `-113,"Undefined header;`+strings.ReplaceAll(m, `"`, "")+`"`)
	}
	return nil
}

func (s *scpiFake) ask(f *fake, m string) (string, bool) {
	bit := map[bool]string{true: "1", false: "0"}
	reading := func(x float64) string {
		if f.over {
			return "+9.90000000E+37"
		}
		return fmt.Sprintf("%+.6E", x)
	}
	switch m {
	case "*IDN?":
		return s.id, true
	case "SYST:ERR?":
		if len(f.errors) == 0 {
			return `0,"No error"`, true
		}
		e := f.errors[0]
		f.errors = f.errors[1:]
		return e, true
	case "VOLT?":
		return fmt.Sprintf("%.4f", f.volts), true
	case "CURR?":
		return fmt.Sprintf("%.4f", f.amps), true
	case "OUTP?":
		return bit[f.on], true
	case "MEAS:VOLT?":
		return fmt.Sprintf("%.3f", f.trueV), true
	case "MEAS:CURR?":
		return fmt.Sprintf("%.4f", f.trueA), true
	case "STAT:QUES:COND?":
		return "0", true
	case "READ?":
		if f.function == instruments.Voltage {
			return reading(f.trueV), true
		}
		return reading(f.trueA), true
	case "ROUT:CLOS:STAT?":
		return "(@" + strings.Trim(strings.ReplaceAll(fmt.Sprint(f.closed), " ", ","), "[]") + ")", true
	}
	return "", false
}

func (s *scpiFake) tell(f *fake, m string) bool {
	head, arg, _ := strings.Cut(m, " ")
	number, err := scpi.ParseNumber(arg)
	set := func(to *float64) bool {
		if err == nil && !f.ignore {
			*to = number.Value
		}
		return err == nil
	}
	switch head {
	case "*CLS":
		f.errors = nil
	case "VOLT":
		return set(&f.volts)
	case "CURR":
		return set(&f.amps)
	case "VOLT:PROT":
		return set(&f.ovp)
	case "CURR:PROT":
		return set(&f.ocp)
	case "OUTP":
		if arg != "ON" && arg != "OFF" {
			return false
		}
		if !f.ignore {
			f.on = arg == "ON"
		}
	case "CONF:CURR:DC":
		f.function = instruments.Current
	case "CONF:VOLT:DC":
		f.function = instruments.Voltage
	case "ROUT:OPEN:ALL":
		if !f.ignore {
			f.closed = nil
		}
	case "ROUT:OPEN":
		list, err := scpi.ParseChannels(arg, 1, 64)
		if err != nil {
			return false
		}
		if !f.ignore {
			f.closed = slices.DeleteFunc(f.closed, func(c int) bool { return slices.Contains(list, c) })
		}
	case "ROUT:CLOS":
		list, err := scpi.ParseChannels(arg, 1, 64)
		if err != nil {
			return false
		}
		if !f.ignore {
			f.closed = append(f.closed, list...)
			slices.Sort(f.closed)
			f.closed = slices.Compact(f.closed)
		}
	default:
		return false
	}
	return true
}

// terseFake answers what the built-in terse supply sends.
type terseFake struct{}

var terseCommand = regexp.MustCompile(
	`^(VSET1:\d\d\.\d\d|ISET1:\d\.\d{3}|VSET1\?|ISET1\?|VOUT1\?|IOUT1\?|STATUS\?|OUT1|OUT0)`)

func (terseFake) take(got []byte) (int, []byte) {
	if m := terseCommand.Find(got); m != nil {
		return len(m), m
	}
	if len(got) > 20 {
		return 1, nil
	}
	return 0, nil
}

func (terseFake) spoil(p []byte) []byte { return bytes.Repeat([]byte("x"), len(p)) }

func (terseFake) answer(f *fake, message []byte) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	m := string(message)
	head, arg, _ := strings.Cut(m, ":")
	x, _ := strconv.ParseFloat(arg, 64)
	if f.ignore && !strings.HasSuffix(m, "?") {
		return nil
	}
	switch head {
	case "VSET1":
		f.volts = x
	case "ISET1":
		f.amps = x
	case "OUT1":
		f.on = true
	case "OUT0":
		f.on = false
	case "VSET1?":
		return fmt.Appendf(nil, "%05.2f", f.volts)
	case "ISET1?":
		return fmt.Appendf(nil, "%05.3f", f.amps)
	case "VOUT1?":
		return fmt.Appendf(nil, "%05.2f", f.trueV)
	case "IOUT1?":
		return fmt.Appendf(nil, "%05.3f", f.trueA)
	case "STATUS?":
		status := byte(1)
		if f.on {
			status |= 1 << 6
		}
		return []byte{status}
	}
	return nil
}

// textFake sends lines as the built-in text meter does.
type textFake struct{}

func (textFake) take(got []byte) (int, []byte) { return len(got), nil }
func (textFake) answer(*fake, []byte) []byte   { return nil }
func (textFake) spoil(p []byte) []byte         { return bytes.Replace(p, []byte("DC"), []byte("D?"), 1) }
func (textFake) every() time.Duration          { return 400 * time.Millisecond }

func (textFake) say(f *fake) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.over {
		return []byte("DC  OL mA\r\n")
	}
	return fmt.Appendf(nil, "DC  %+06.2f mA\r\n", f.trueA*1000)
}

// lcdFake sends frames as the built-in LCD meter does. The figures are written
// out once more here: a to g from the lowest bit.
type lcdFake struct{}

func (lcdFake) take(got []byte) (int, []byte) { return len(got), nil }
func (lcdFake) answer(*fake, []byte) []byte   { return nil }
func (lcdFake) every() time.Duration          { return 400 * time.Millisecond }

func (lcdFake) spoil(p []byte) []byte {
	out := slices.Clone(p)
	out[1], out[2] = 0x20|1, 0x30 // only the topmost segment
	return out
}

func (lcdFake) say(f *fake) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	figures := map[byte]string{'0': "abcdef", '1': "bc", '2': "abdeg", '3': "abcdg", '4': "bcfg", '5': "acdfg",
		'6': "acdefg", '7': "abc", '8': "abcdefg", '9': "abcdfg", 'L': "def", ' ': ""}
	text := fmt.Sprintf("%04d", int(math.Round(math.Abs(f.trueA)*1e5)))
	if f.over {
		text = " 0L "
	}
	out := make([]byte, 14)
	for i := range out {
		out[i] = byte(i+1) << 4
	}
	light := func(i, bit int) { out[i-1] |= 1 << bit }
	places := map[byte][2]int{'a': {0, 0}, 'f': {0, 1}, 'e': {0, 2}, 'b': {1, 0}, 'g': {1, 1}, 'c': {1, 2},
		'd': {1, 3}}
	for d := range 4 {
		for _, s := range []byte(figures[text[d]]) {
			light(2+2*d+places[s][0], places[s][1])
		}
	}
	light(6, 3) // the point before the third digit
	light(11, 3)
	light(13, 3)
	light(1, 2)
	if f.trueA < 0 {
		light(2, 3)
	}
	return out
}
