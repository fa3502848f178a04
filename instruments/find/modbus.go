package find

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/modbus"
	"sealworthy/instruments/profile"
)

// The addresses of Modbus modules.
const (
	modbusAddress = 1   // that they come with from the maker (common practice, no source)
	modbusServer  = 255 // of a server on a network itself (Modbus Messaging on TCP/IP guide, 4.4.2)
	lastAddress   = 247 // on a serial line (Modbus over Serial Line V1.02, 2.2)
)

// OnBus is where Modbus modules answer.
type OnBus struct {
	Addresses []int  `json:"addresses"` // the first is the one that was found first
	Baud      int    `json:"baud,omitempty"`
	Parity    string `json:"parity,omitempty"` // none, even or odd; over a network "", as Baud is 0
}

// Changes are those that a profile of a module there needs: one of its own address stays
// with it.
func (b OnBus) Changes(p *profile.Profile) []profile.Change {
	var out []profile.Change
	if b.Baud > 0 && p.Line.Baud != b.Baud {
		out = append(out, profile.Change{Table: "line", Key: "baud", Value: strconv.Itoa(b.Baud)})
	}
	if had := p.SerialLine().Parity; b.Baud > 0 && had != b.Parity {
		out = append(out, profile.Change{Table: "line", Key: "parity", Value: strconv.Quote(b.Parity)})
	}
	if p.Bus == nil || len(b.Addresses) > 0 && !slices.Contains(b.Addresses, p.Bus.Address) {
		out = append(out, profile.Change{Table: "modbus", Key: "address", Value: strconv.Itoa(b.Addresses[0])})
	}
	return out
}

// modbus reads one register at each address, and where nothing comes one coil: a relay
// board may know nothing else. Neither changes anything. Where one module answers the
// line has its settings, and the others on it are asked for, too.
func (f Finder) modbus(ctx context.Context, a *asker, name string, s attempt) (*Found, error) {
	within := answerWithin
	if len(s.modules) > 1 {
		within = moduleWithin
	}
	at, err := a.modules(ctx, name, s.modules, within)
	if err != nil || len(at) == 0 {
		return nil, err
	}
	if _, network := instruments.Network(name); !network {
		others := slices.DeleteFunc(f.otherAddresses(), func(x byte) bool { return slices.Contains(s.modules, x) })
		more, err := a.modules(ctx, name, others, moduleWithin)
		if err != nil {
			return nil, err
		}
		at = append(at, more...)
	}
	return modulesAt(name, OnBus{Addresses: at, Baud: s.baud, Parity: s.parity}), nil
}

// modules asks at each address and gives those at which a server answers, if only to
// refuse. An answer that comes late, while the next is asked, counts for who sent it.
func (a *asker) modules(ctx context.Context, name string, addresses []byte, within time.Duration) (
	at []int, err error) {
	var sent []modbus.Request
	var got []byte
	a.port.Discard()
	for _, address := range addresses {
		for _, function := range []modbus.Function{modbus.ReadHolding, modbus.ReadCoils} {
			if slices.Contains(at, int(address)) {
				break
			}
			r := modbus.Request{Address: address, Function: function, Quantity: 1}
			m, err := encode(name, r, len(sent))
			if err != nil {
				return at, err
			}
			sent = append(sent, r)
			came, err := a.within(ctx, m, within)
			if err != nil {
				return at, err
			}
			got = append(got, came...)
			for i, r := range sent {
				if answered(name, r, i, got) && !slices.Contains(at, int(r.Address)) {
					at = append(at, int(r.Address))
				}
			}
		}
	}
	return at, nil
}

func encode(name string, r modbus.Request, number int) ([]byte, error) {
	if _, network := instruments.Network(name); network {
		return r.EncodeTCP(uint16(number + 1))
	}
	return r.Encode()
}

// answered tells whether what came holds an answer to a request.
func answered(name string, r modbus.Request, number int, got []byte) bool {
	split := r.Split
	if _, network := instruments.Network(name); network {
		split = r.SplitTCP(uint16(number + 1))
	}
	n, _, _ := split(got)
	return n > 0
}

func modulesAt(name string, b OnBus) *Found {
	text := fmt.Sprintf("A Modbus module answers at address %d", b.Addresses[0])
	if b.Baud > 0 {
		text += fmt.Sprintf(", %d baud, %s parity", b.Baud, parityWord(b.Parity))
	}
	x := &Found{Port: name, Speaks: profile.Modbus, Bus: &b, Notes: []string{
		text + ". Its registers say nothing of what it is: choose the profile for it with --profile, and put those " +
			"of its " +
			"manual into one of your own where they differ.",
	}}
	if more := b.Addresses[1:]; len(more) > 0 {
		var list []string
		for _, m := range more {
			list = append(list, strconv.Itoa(m))
		}
		x.Notes = append(x.Notes, "On the same line another answers at address "+strings.Join(list, ", ")+".")
	}
	return x
}
