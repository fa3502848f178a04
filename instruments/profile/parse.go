package profile

import (
	"fmt"
	"regexp"
	"sort"
	"strings"

	"sealworthy/instruments"
	"sealworthy/instruments/profile/place"
)

// Parse reads the text of a profile. The error is a place.Problems with every
// mistake found, by line and column.
func Parse(file string, src []byte) (*Profile, error) {
	p := &Profile{File: file}
	f := place.Decode(file, src, p)
	if err := f.Err(); err != nil {
		return nil, err
	}
	c := check{p, f}
	c.head()
	c.line()
	c.talk()
	c.identity()
	c.kind()
	c.ranges()
	c.streams()
	if err := f.Err(); err != nil {
		return nil, err
	}
	return p, nil
}

// check fills in defaults and notes what can't be.
type check struct {
	p *Profile
	f *place.File
}

func (c check) oneOf(path, got string, allowed ...string) {
	for _, a := range allowed {
		if got == a {
			return
		}
	}
	c.f.Add(path, fmt.Sprintf("%q can't stand here", got), "write one of: "+strings.Join(allowed, ", "))
}

func (c check) within(path string, got, low, high float64) {
	if !(got >= low && got <= high) {
		c.f.Add(path, fmt.Sprintf("%v is out of range for %s", got, path), fmt.Sprintf("write a number from %v to %v",
			low, high))
	}
}

func (c check) head() {
	c.oneOf("kind", string(c.p.Kind), string(SupplyKind), string(MeterKind), string(RelaysKind))
	c.oneOf("speaks", string(c.p.Speaks), string(SCPI), string(Terse), string(Modbus), string(Text), string(LCD))
	if (c.p.Speaks == Text || c.p.Speaks == LCD) && c.p.Kind != MeterKind {
		c.f.Add("speaks", "only a meter sends by itself", `write kind = "meter", or another protocol`)
	}
}

func (c check) line() {
	l := &c.p.Line
	def(&l.Baud, 9600)
	def(&l.Bits, 8)
	def(&l.Parity, "none")
	def(&l.Stop, 1)
	c.within("line.baud", float64(l.Baud), 50, 4_000_000)
	c.within("line.bits", float64(l.Bits), 5, 8)
	c.within("line.stop", float64(l.Stop), 1, 2)
	c.oneOf("line.parity", l.Parity, "none", "even", "odd")
	if c.p.Speaks == Modbus && l.Bits != 8 {
		c.f.Add("line.bits", "Modbus RTU needs 8 data bits", "write bits = 8")
	}
}

func (c check) talk() {
	t := &c.p.Talk
	end := "lf"
	if c.p.Speaks == Terse || c.p.Speaks == Modbus {
		end = "none"
	}
	def(&t.End, end)
	def(&t.ReplyEnd, t.End)
	def(&t.Longest, 256)
	def(&t.QuietMs, 50)
	timeout := 300
	if c.p.Kind != SupplyKind {
		timeout = 1000
	}
	if c.p.Meter != nil {
		timeout += int(2 * c.p.Meter.IntegrationMs)
	}
	def(&t.TimeoutMs, timeout)
	c.oneOf("talk.end", t.End, "cr", "lf", "crlf", "none")
	c.oneOf("talk.reply_end", t.ReplyEnd, "cr", "lf", "crlf", "none")
	if c.p.Speaks == SCPI && (t.End == "none" || t.ReplyEnd == "none") {
		c.f.Add("talk.end", "an SCPI instrument needs line ends", `write end = "lf", "cr" or "crlf"`)
	}
	longest := 60_000.0
	if c.p.Kind == SupplyKind {
		// Off may have to wait for one exchange.
		longest = 300
	}
	c.within("talk.timeout_ms", float64(t.TimeoutMs), 1, longest)
	c.within("talk.gap_ms", float64(t.GapMs), 0, 250)
	c.within("talk.quiet_ms", float64(t.QuietMs), 1, 250)
	c.within("talk.boot_ms", float64(t.BootMs), 0, 60_000)
	c.within("talk.longest_reply", float64(t.Longest), 1, 65_536)
	c.prompt(t.Prompt)
}

// longestPrompt is far more than any instrument sends, in bytes.
const longestPrompt = 16

// prompt refuses what could be part of a number: a cut reply would pass for one.
func (c check) prompt(s string) {
	switch {
	case s == "":
	case c.p.Speaks != SCPI:
		c.f.Add("talk.prompt", "only an SCPI instrument sends a prompt", "take it out")
	case len(s) > longestPrompt:
		c.f.Add("talk.prompt", "no prompt is so long", `write what the instrument sends when it is ready, as "> "`)
	case !strings.ContainsAny(s, ">#$%:?]") || strings.ContainsAny(s, "0123456789+-.\r\n"):
		c.f.Add("talk.prompt", "a prompt needs a character that no number has, and no digit, sign, point or line end",
			`write what the instrument sends when it is ready, as "> "`)
	}
}

func (c check) identity() {
	id := &c.p.Identity
	c.point("identity.ask", &id.Ask, true, false)
	if _, err := regexp.Compile(id.Pattern); err != nil {
		c.f.Add("identity.pattern", "no regular expression: "+err.Error(), "escape . * + ? ( ) [ ] with a backslash")
	}
	ch := &c.p.Channel
	def(&ch.Number, 1)
	c.oneOf("channel.by", ch.By, "", "list", "node")
	c.within("channel.number", float64(ch.Number), 1, 99)
	if ch.By == "node" && ch.Select == "" {
		c.f.Add("channel.by", "the command that selects a node is missing", `write select = "INST:NSEL {channel}"`)
	}
	c.template("channel.select", ch.Select)
}

func (c check) template(path, s string) {
	if _, err := Fill(s, Args{Volts: 1, Amps: 1, Channel: 1, Channels: []int{1}, Range: "1"}); err != nil {
		c.f.Add(path, err.Error(), "placeholders are {volts} {amps} {seconds} {channel} {channels} {range}")
	}
}

// point checks one point. asks: it is answered.
func (c check) point(path string, p *Point, asks, needed bool) {
	if !p.Given() {
		if needed {
			c.f.Add(path, "the profile needs "+path, c.example(path))
		} else if c.f.Has(path) {
			c.f.Add(path, path+" says neither what to send nor which register", c.example(path))
		}
		return
	}
	def(&p.Scale, 1.0)
	if !(p.Scale > 0) {
		c.f.Add(path+".scale", "scale must be above 0", "write SI units per unit of the number sent: 0.001 for mA")
	}
	if re, err := regexp.Compile(p.Pattern); err != nil {
		c.f.Add(path+".pattern", "no regular expression: "+err.Error(), "")
	} else if re.SubexpIndex(unitGroup) >= 0 && re.SubexpIndex(valueGroup) < 0 {
		c.f.Add(path+".pattern", "the pattern has a group named unit and none named value",
			`write (?P<value>[-+]?[0-9.]+) where the number stands`)
	}
	c.within(path+".item", float64(p.Item), 0, 99)
	if p.Bit != nil {
		c.within(path+".bit", float64(*p.Bit), 0, 31)
	}
	switch c.p.Speaks {
	case Modbus:
		c.register(path, p, asks)
	case SCPI, Terse:
		if p.Register != nil {
			c.f.Add(path+".register", "registers belong to modbus", `write send = "…"`)
		}
		c.template(path+".send", p.Send)
		if c.p.Speaks == Terse && asks {
			if strings.Contains(p.Pattern, "(?P<"+valueGroup) {
				c.f.Add(path+".pattern", "a reply of fixed length says by from and digits where its number stands",
					"write from = 2 and digits = 5")
			}
			c.within(path+".length", float64(p.Length), 1, float64(c.p.Talk.Longest))
			if p.From < 0 || p.Digits < 0 || p.From+max(p.Digits, 1) > max(p.Length, 1) {
				c.f.Add(path, "the number lies outside the reply", "from + digits must be within length")
			}
			if p.Binary && (p.Digits > 4 || p.Digits == 0 && p.Length-p.From > 4) {
				c.f.Add(path, "a binary number has 1 to 4 bytes", "write digits = 1")
			}
		}
	default:
		c.f.Add(path, "a meter that sends by itself can't be asked", "take it out")
	}
}

func (c check) register(path string, p *Point, asks bool) {
	if p.Send != "" {
		c.f.Add(path+".send", "a modbus instrument has registers", "write register = … and function = …")
		return
	}
	c.within(path+".register", float64(*p.Register), 0, 65535)
	if p.Function == 0 {
		p.Function = 6
		if asks {
			p.Function = 3
		}
	}
	reads := p.Function >= 1 && p.Function <= 4
	writes := p.Function == 5 || p.Function == 6 || p.Function == 15 || p.Function == 16
	if asks && !reads {
		c.f.Add(path+".function", "this function doesn't read", "write 1, 2, 3 or 4")
	}
	if !asks && !writes {
		c.f.Add(path+".function", "this function doesn't write", "write 5, 6, 15 or 16")
	}
	def(&p.Words, 1)
	def(&p.Order, "high first")
	c.within(path+".words", float64(p.Words), 1, 2)
	c.oneOf(path+".order", p.Order, "high first", "low first")
	c.within(path+".count", float64(p.Count), 0, 1968)
	if p.Words == 2 && p.Function == 6 {
		c.f.Add(path+".function", "function 6 writes one register", "write function = 16")
	}
	if p.Value != nil {
		c.within(path+".value", float64(*p.Value), 0, 65535)
	}
}

func (c check) example(path string) string {
	if c.p.Speaks == Modbus {
		return fmt.Sprintf("write %s = { register = 0, function = 3 }", path)
	}
	return fmt.Sprintf(`write %s = { send = "…" }`, path)
}

func (c check) kind() {
	sections := map[Kind]bool{SupplyKind: c.p.Supply != nil, MeterKind: c.p.Meter != nil,
		RelaysKind: c.p.Relays != nil}
	for _, k := range []Kind{SupplyKind, MeterKind, RelaysKind} {
		switch {
		case k == c.p.Kind && !sections[k]:
			c.f.Add(string(k), fmt.Sprintf("the section [%s] is missing", k),
				"write it; the built-in profiles show its keys")
		case k != c.p.Kind && sections[k]:
			c.f.Add(string(k), fmt.Sprintf("a %s has no section [%s]", c.p.Kind, k), "take it out")
		}
	}
	switch {
	case c.p.Kind == SupplyKind && c.p.Supply != nil:
		c.supply(c.p.Supply)
	case c.p.Kind == MeterKind && c.p.Meter != nil:
		c.meter(c.p.Meter)
	case c.p.Kind == RelaysKind && c.p.Relays != nil:
		c.relays(c.p.Relays)
	}
	if c.p.Speaks == Modbus {
		if c.p.Bus == nil {
			c.p.Bus = &Bus{}
		}
		def(&c.p.Bus.Address, 1)
		def(&c.p.Bus.Frames, "tcp")
		c.oneOf("modbus.frames", c.p.Bus.Frames, "tcp", "rtu")
		c.within("modbus.address", float64(c.p.Bus.Address), 1, 255)
		c.within("modbus.spare", float64(c.p.Bus.Spare), 0, 100)
	} else if c.p.Bus != nil {
		c.f.Add("modbus", "only modbus has an address", "take [modbus] out")
	}
}

func (c check) meter(m *Meter) {
	streams := c.p.Speaks == Text || c.p.Speaks == LCD
	for _, x := range []struct {
		path string
		f    *MeterFunction
		of   instruments.Quantity
	}{{"meter.current", &m.Current, instruments.Current}, {"meter.voltage", &m.Voltage, instruments.Voltage}} {
		x.f.Read.Unit, x.f.GetRange.Unit = x.of.Unit(), x.of.Unit()
		c.point(x.path+".configure", &x.f.Configure, false, false)
		c.point(x.path+".fix", &x.f.Fix, false, false)
		c.point(x.path+".auto", &x.f.Auto, false, false)
		c.point(x.path+".get_range", &x.f.GetRange, true, false)
		c.point(x.path+".read", &x.f.Read, true, false)
	}
	if !streams && !m.Current.Read.Given() && !m.Voltage.Read.Given() {
		c.f.Add("meter", "the profile doesn't say how the meter is read", c.example("current.read"))
	}
	if !(m.IntegrationMs > 0) {
		c.f.Add("meter", "the integration time is missing", "write integration_ms = 100.0")
	}
	c.within("meter.settling_ms", m.SettlingMs, 0, 60_000)
	c.within("meter.jack_fuse_amps", m.JackFuseAmps, 0, 100)
	if streams {
		def(&m.EveryMs, m.IntegrationMs)
		c.within("meter.every_ms", m.EveryMs, 1, 60_000)
		if !c.f.Has("talk.timeout_ms") {
			c.p.Talk.TimeoutMs = int(2*m.IntegrationMs+3*m.EveryMs) + 300
		}
	}
}

func (c check) relays(r *Relays) {
	c.point("relays.close", &r.Close, false, !r.Exactly.Given())
	c.point("relays.open", &r.Open, false, false)
	c.point("relays.open_all", &r.OpenAll, false, !r.Exactly.Given() && !r.Open.Given())
	c.point("relays.exactly", &r.Exactly, false, false)
	c.point("relays.closed", &r.Closed, true, true)
	for _, p := range []*Point{&r.Close, &r.Open, &r.Exactly} {
		p.Of = "channels"
	}
	if r.First == 0 && !c.f.Has("relays.first") {
		r.First = 1
	}
	c.within("relays.channels", float64(r.Channels), 1, 1968)
	c.within("relays.first", float64(r.First), 0, 65535)
	c.within("relays.settle_ms", float64(r.SettleMs), 0, 60_000)
	for _, p := range []*Point{&r.Exactly, &r.Closed} {
		if p.Register != nil && p.Count == 0 {
			p.Count = r.Channels
		}
	}
}

func (c check) ranges() {
	for i := range c.p.Ranges {
		r := &c.p.Ranges[i]
		at := fmt.Sprintf("range.%d", i)
		c.oneOf(at+".quantity", string(r.Quantity), string(instruments.Current), string(instruments.Voltage))
		if !(r.Max > 0) {
			c.f.Add(at+".max", "a range needs its largest value above 0, in A or V", "write max = 0.1")
		}
		if !(r.Resolution > 0) || r.Resolution >= r.Max {
			c.f.Add(at+".resolution", "a range needs the value of one count, below its max",
				"write resolution = 0.00001")
		}
		c.within(at+".percent", r.Percent, 0, 100)
		c.within(at+".counts", r.Counts, 0, 1e6)
		c.within(at+".burden_ohm", r.BurdenOhm, 0, 1e6)
		if r.Percent == 0 && r.Counts == 0 {
			c.f.Add(at, "a range without accuracy would claim to be exact",
				"write percent = … and counts = … from the data sheet")
		}
		def(&r.Name, fmt.Sprintf("%v %s", r.Max, r.Quantity.Unit()))
		def(&r.Ask, fmt.Sprintf("%v", r.Max))
	}
	sort.SliceStable(c.p.Ranges, func(i, j int) bool {
		a, b := c.p.Ranges[i], c.p.Ranges[j]
		return a.Quantity < b.Quantity || a.Quantity == b.Quantity && a.Max < b.Max
	})
	if c.p.Kind != RelaysKind && len(c.p.Ranges) == 0 {
		c.f.Add("range", "no [[range]]: without accuracy a reading can't be judged", "write at least one")
	}
}

func def[T comparable](p *T, v T) {
	var zero T
	if *p == zero {
		*p = v
	}
}
