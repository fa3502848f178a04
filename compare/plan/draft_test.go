package plan

import (
	"testing"

	"pgregory.net/rapid"
)

// What was asked for is what the plan says: whatever names, parts and numbers a maker
// gives, the text that is written is a plan, and holds them.
func TestADraftIsAPlan(t *testing.T) {
	name := rapid.StringMatching(`[A-Za-zäß"'(][A-Za-z0-9 .\[\]"'=#]{0,12}[a-z0-9]`)
	strips, smds, leds, boards := builtIn().names(PartStrip), builtIn().names(PartSMD), builtIn().names(PartLED),
		builtIn().names(PartBoard)
	rapid.Check(t, func(rt *rapid.T) {
		unique := map[string]bool{"main": true}
		named := func(kind string) string {
			return rapid.Custom(func(rt *rapid.T) string { return name.Draw(rt, "name") }).Filter(func(s string) bool {
				what, _ := NameProblem(kind, s)
				return what == "" && !unique[lower(s)]
			}).Draw(rt, kind)
		}
		take := func(kind string) string { n := named(kind); unique[lower(n)] = true; return n }
		d := Draft{Build: take("build"), Jack: DraftJack{Volts: rapid.Float64Range(1, 24).Draw(rt, "volts"),
			Source: rapid.SampledFrom(sources).Draw(rt, "source")}}
		hull, keel := take("closure"), take("joint")
		d.Closures = []DraftClosure{{Name: hull}, {Name: take("closure"), Inside: hull}}
		d.Joints = []DraftJoint{{Name: keel, From: "main"}}
		board := DraftBoard{Name: take("board"), Part: rapid.SampledFrom(boards).Draw(rt, "board part"), Joint: keel,
			Closure: hull}
		d.Boards = []DraftBoard{board}
		for range rapid.IntRange(1, 4).Draw(rt, "groups") {
			g := DraftGroup{Name: take("group"), Closure: hull, Joint: keel}
			if rapid.Bool().Draw(rt, "wire") {
				g.Wire = DraftWire{Colour: "red, black", Pin: rapid.SampledFrom([]string{"", "3", "A3"}).Draw(rt,
					"pin"), LengthMm: 220}
			}
			n := rapid.IntRange(1, 9).Draw(rt, "n")
			switch rapid.IntRange(0, 5).Draw(rt, "kind") {
			case 0:
				g.Light = DraftLight{Part: rapid.SampledFrom(strips).Draw(rt, "strip"), Segments: n}
			case 1:
				g.Light = DraftLight{Part: rapid.SampledFrom(smds).Draw(rt, "smd"), Count: n}
			case 2:
				g.Light = DraftLight{Part: rapid.SampledFrom(leds).Draw(rt, "led"), InSeries: n, HasOhms: true,
					Ohms: 470, Count: n}
			case 3:
				g.Light = DraftLight{Behaves: "flicker", LowMA: 1, MeanMA: 2, HighMA: 4}
			case 4:
				g.Light = DraftLight{AsFound: true}
			case 5:
				g.Light = DraftLight{TestOhms: 680}
			}
			d.Groups = append(d.Groups, g)
		}
		p, problems := Parse("plan.toml", d.Text())
		if len(problems) > 0 {
			rt.Fatalf("%s\n%s", problemsText(problems), d.Text())
		}
		if p.Build != d.Build || len(p.Groups) != len(d.Groups) || p.Joints[0].Name != keel ||
			p.Boards[0].Name != board.Name {
			rt.Fatalf("%+v", p)
		}
		for i, g := range d.Groups {
			got := p.Groups[i]
			if got.Name != g.Name || got.Closure != g.Closure || got.Wire.Colour != g.Wire.Colour ||
				got.Wire.Pin != g.Wire.Pin || got.AsFound != g.Light.AsFound {
				rt.Fatalf("%+v became %+v", g, got)
			}
			if g.Light.Segments > 0 && got.Lights[0].Segments != g.Light.Segments || g.Light.HasOhms &&
				got.Lights[0].Ohms.Nominal != g.Light.Ohms {
				rt.Fatalf("%+v became %+v", g.Light, got.Lights[0])
			}
		}
	})
}

func lower(s string) string {
	out := []rune(s)
	for i, r := range out {
		if r >= 'A' && r <= 'Z' {
			out[i] = r + 'a' - 'A'
		}
	}
	return string(out)
}
