package modbus

import (
	"errors"
	"sync"
)

// illegalFunction is the refusal of a function that a module doesn't know (Application
// Protocol V1.1b3, section 7). Nothing was set then.
const illegalFunction = 1

func unknownFunction(err error) bool {
	var e Exception
	return errors.As(err, &e) && e.Code == illegalFunction
}

// instead are requests that set the same by another function; nil: there are none.
// Coils that go off come before those that go on.
func (r Request) instead() []Request {
	with := func(f Function, start uint16) Request {
		return Request{Address: r.Address, Function: f, Start: start}
	}
	switch {
	case r.Function == WriteRegister:
		x := with(WriteRegisters, r.Start)
		x.Registers = r.Registers
		return []Request{x}
	case r.Function == WriteRegisters && len(r.Registers) == 1:
		x := with(WriteRegister, r.Start)
		x.Registers = r.Registers
		return []Request{x}
	case r.Function == WriteCoil:
		x := with(WriteCoils, r.Start)
		x.Coils = r.Coils
		return []Request{x}
	case r.Function != WriteCoils:
		return nil
	}
	var out []Request
	for _, on := range []bool{false, true} {
		for i, coil := range r.Coils {
			if coil == on {
				x := with(WriteCoil, r.Start+uint16(i))
				x.Coils = []bool{coil}
				out = append(out, x)
			}
		}
	}
	return out
}

// unknown remembers which functions a module doesn't know.
type unknown struct {
	mu sync.Mutex
	of map[Function]bool
}

func (u *unknown) has(f Function) bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.of[f]
}

func (u *unknown) add(f Function) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.of == nil {
		u.of = map[Function]bool{}
	}
	u.of[f] = true
}
