package session

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"sealworthy/instruments/driver"
	"sealworthy/instruments/find"
	"sealworthy/instruments/profile"
)

// Looked is what came of one port where the instruments of a bench are looked for.
type Looked struct {
	find.Looked
	DrivenBy string `json:"driven_by,omitempty"` // the profile, by name
	Trial    *Trial `json:"trial,omitempty"`
	Tried    bool   `json:"tried,omitempty"` // with the maker's hands
	// Spare: another one of its kind is taken.
	Spare   bool    `json:"spare,omitempty"`
	Channel int     `json:"channel,omitempty"` // the output in use, of a supply that chooses; 0: it doesn't
	Jack    string  `json:"jack,omitempty"`    // of a meter, that the lead is in; "": it isn't known
	FuseA   float64 `json:"fuse_a,omitempty"`  // behind that, A; 0: it isn't known

	Use *profile.Profile `json:"-"` // nil: none drives it
	Src []byte           `json:"-"` // of a profile that is to be written; nil: it is there
}

// Simulated: one of a simulated bench answers on it.
func (x Looked) Simulated() bool { return x.Found != nil && driver.IsSimulated(x.Found.Identity) }

// Usable are those that can be driven and are taken, one of each kind at most.
func Usable(all []Looked) (out []*Looked) {
	seen := map[profile.Kind]bool{}
	for i := range all {
		x := &all[i]
		if x.Use != nil && !x.Spare && !seen[x.Use.Kind] {
			seen[x.Use.Kind] = true
			out = append(out, x)
		}
	}
	return out
}

// look finds who is on a port, and what drives it: by is the profile that the maker
// chose; nil: none. The error is an end of ctx only.
func (s *Search) look(ctx context.Context, port string, by *profile.Profile) (Looked, error) {
	x := Looked{Looked: find.Looked{Port: port}}
	if by != nil {
		x.Use, x.DrivenBy = by, by.Name
		x.Found = &find.Found{Port: port, Kind: by.Kind, Speaks: by.Speaks, Profile: by.Name}
	} else {
		var err error
		if x.Looked, err = s.Finder.Port(ctx, port); err != nil || x.Found == nil {
			return x, err
		}
		if err := s.derive(&x); err != nil {
			x.Why = err.Error()
			return x, nil
		}
	}
	if x.Use == nil {
		return x, nil
	}
	s.onChannel(&x, s.Channel)
	err := s.asks(ctx, &x)
	if err != nil && ctx.Err() == nil && by != nil && by.Speaks == profile.Modbus {
		err = s.elsewhere(ctx, &x, err)
	}
	if ctx.Err() != nil {
		return x, ctx.Err()
	}
	if err != nil {
		x.Why, x.Use = "it can't be driven as "+x.DrivenBy+": "+err.Error(), nil
	}
	return x, nil
}

// onChannel takes an output of a supply that chooses between several.
func (s *Search) onChannel(x *Looked, channel int) {
	if channel > 0 && x.Use.Kind == profile.SupplyKind {
		own := *x.Use
		own.Channel.Number = channel
		x.Use, x.Channel = &own, channel
	}
}

// asks asks the instrument who it is, and for a reading.
func (s *Search) asks(ctx context.Context, x *Looked) error {
	t, err := Try(ctx, s.World, x.Port, x.Use, x.DrivenBy)
	x.Trial = &t
	return err
}

// elsewhere looks for a Modbus module at another address, speed or parity than those of
// the profile that was chosen, and makes one of it that says so.
func (s *Search) elsewhere(ctx context.Context, x *Looked, was error) error {
	found, err := s.Finder.Port(ctx, x.Port)
	switch {
	case err != nil:
		return err
	case found.Found == nil:
		x.Asked = found.Asked
		return was
	case found.Found.Bus == nil:
		return was
	}
	changes := found.Found.Bus.Changes(x.Use)
	if len(changes) == 0 {
		return was
	}
	x.Found.Bus, x.Found.Changes = found.Found.Bus, changes
	x.Found.Notes = append(x.Found.Notes, found.Found.Notes...)
	if err := s.derive(x); err != nil {
		return err
	}
	s.onChannel(x, s.Channel)
	return s.asks(ctx, x)
}

// derive makes the profile that an instrument needs.
func (s *Search) derive(x *Looked) error {
	if x.Found.Profile == "" {
		return nil
	}
	x.DrivenBy = x.Found.Profile
	src, err := profile.Source(x.Found.Profile, s.Folder)
	if len(x.Found.Changes) == 0 || err != nil {
		for _, p := range s.Finder.Profiles {
			if p.Name == x.Found.Profile {
				x.Use = p
			}
		}
		return nil
	}
	comment := fmt.Sprintf("What sealworthy bench found of %q, made from the profile %q.\n"+
		"Accuracy and ranges are generic: "+
		"put those of its data sheet here before you rely on a narrow band.", x.Found.Identity, x.Found.Profile)
	x.Src = profile.Derive(src, comment, x.Found.Changes)
	x.DrivenBy = ownName(x.Found)
	if x.Use, err = profile.Parse(x.DrivenBy+".toml", x.Src); err != nil {
		return errors.Join(errors.New("the profile that was made for it doesn't hold"), err)
	}
	x.Use.Name = x.DrivenBy
	return nil
}

// ownName is what a profile made for an instrument is called: maker and model, as
// it says them.
func ownName(x *find.Found) string {
	fields := strings.Split(strings.ToLower(x.Identity), ",")
	text := strings.Join(fields[:min(2, len(fields))], " ")
	words := strings.FieldsFunc(text, func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9') })
	name := strings.Join(words, " ")
	const longest = 40
	if len(name) > longest {
		name = strings.TrimSpace(name[:longest])
	}
	if name == "" {
		return "own " + string(x.Kind)
	}
	return name
}
