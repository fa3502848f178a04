package find

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
)

// attempt is one way in which a port is opened and asked.
type attempt struct {
	baud    int // 0: over a network
	parity  string
	listen  time.Duration // before anything is asked
	text    bool          // who is there, in words
	modules []byte        // the addresses at which a Modbus module is asked for a register
}

func (a attempt) line() instruments.Line {
	return instruments.Line{Baud: a.baud, DataBits: 8, Parity: a.parity, StopBits: 1}
}

const listenShort = 100 * time.Millisecond

// usual are the attempts that are made first, in their order: the usual speeds, the first
// two of which meters have that send by themselves. Over a network lines of text would
// confuse a Modbus server, and it gets a connection of its own.
func usual(name string) []attempt {
	if address, network := instruments.Network(name); network {
		modbusOnly := attempt{listen: listenShort, modules: []byte{modbusAddress, modbusServer}}
		if strings.HasSuffix(address, ":502") { // Modbus Messaging on TCP/IP guide, 4.2
			return []attempt{modbusOnly}
		}
		return []attempt{{listen: listenShort, text: true}, modbusOnly}
	}
	const sends = 1100 * time.Millisecond
	var out []attempt
	for _, baud := range []int{9600, 2400, 115200, 19200, 57600, 38400, 4800} {
		listen := listenShort
		if len(out) < 2 {
			listen = sends
		}
		out = append(out, attempt{baud, "none", listen, true, []byte{modbusAddress}})
	}
	return out
}

// further are the attempts that are made where nobody answered: a Modbus module at other
// addresses and parities. Even parity and 19200 baud are the standard's own default
// (Modbus over Serial Line V1.02, 2.5.1); 9600 baud and no parity are common practice, no
// source. What has two stop bits answers at one.
func (f Finder) further(name string) []attempt {
	if _, network := instruments.Network(name); network {
		return nil
	}
	first, others := []byte{modbusAddress}, f.otherAddresses()
	all := slices.Concat(first, others)
	return []attempt{
		{19200, "even", listenShort, false, all},
		{9600, "none", listenShort, false, others},
		{9600, "even", listenShort, false, all},
		{19200, "none", listenShort, false, others},
		{9600, "odd", listenShort, false, first},
		{19200, "odd", listenShort, false, first},
	}
}

// otherAddresses are the first few, which modules get on a line of several, and those of
// the maker's own profiles.
func (f Finder) otherAddresses() []byte {
	const most = 8
	var out []byte
	for i := byte(modbusAddress + 1); i <= most; i++ {
		out = append(out, i)
	}
	for _, p := range f.Profiles {
		own := f.Own[p.Name] && p.Speaks == profile.Modbus && p.Bus != nil
		if own && p.Bus.Address > most && p.Bus.Address <= lastAddress {
			out = append(out, byte(p.Bus.Address))
		}
	}
	return out
}

// asked says what was asked in vain, and what wasn't.
func asked(usual, further []attempt) []string {
	var speeds, modules []string
	text := false
	for _, a := range usual {
		text = text || a.text
		if a.baud > 0 {
			speeds = append(speeds, strconv.Itoa(a.baud))
		}
	}
	if speeds == nil {
		who := ""
		if text {
			who = "who is there, and "
		}
		return []string{
			fmt.Sprintf("Asked was %sfor one register of a Modbus server, as unit %s.", who,
				addresses(usual[len(usual)-1].modules)),
			"Not asked were other units.",
		}
	}
	for _, a := range further {
		modules = append(modules, fmt.Sprintf("%d baud, %s parity: address %s", a.baud, parityWord(a.parity),
			addresses(a.modules)))
	}
	return []string{
		fmt.Sprintf("Asked was who is there, and for one register of a Modbus module at address %d, at %s baud "+
			"without parity; then for a register at %s.",
			modbusAddress, strings.Join(speeds, ", "), strings.Join(modules, "; at ")),
		"Not asked were other speeds, other addresses, and parity at other speeds. What its manual says goes into a " +
			"profile of your own, which is then chosen for it.",
	}
}

func parityWord(parity string) string {
	if parity == "none" {
		return "no"
	}
	return parity
}

// addresses writes a list: 2 to 8, 12.
func addresses(list []byte) string {
	var out []string
	for i := 0; i < len(list); {
		j := i
		for j+1 < len(list) && list[j+1] == list[j]+1 {
			j++
		}
		s := strconv.Itoa(int(list[i]))
		if j > i {
			s += fmt.Sprintf(" to %d", list[j])
		}
		out, i = append(out, s), j+1
	}
	return strings.Join(out, ", ")
}

// speed is the change that a profile needs for a line.
func speed(p *profile.Profile, name string, line instruments.Line) []profile.Change {
	if _, network := instruments.Network(name); network || p.Line.Baud == line.Baud {
		return nil
	}
	return []profile.Change{{Table: "line", Key: "baud", Value: strconv.Itoa(line.Baud)}}
}
