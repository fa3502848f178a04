package machine

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Edits of a plan that change what one group draws by it. Each also comes as "fit ...": then by just so much that the
// plan says what the group draws.
var drawEdits = []string{"ohms", "part", "wire", "figures", "outputs", "count", "pace"}

// untold are those that nothing tells but the draw: a plan that was put right in one of them closes by choice alone.
var untold = []string{"figures", "outputs"}

// edited is the build with its plan changed; false where the change doesn't fit. drawn is what the group draws as a
// part of what its plan says.
func (b Build) edited(of, what string, drawn float64) (Build, bool) {
	s := b.spec
	s.groups, s.parts, s.boards = slices.Clone(s.groups), slices.Clone(s.parts), slices.Clone(s.boards)
	if of == "jack" {
		if what != "24 V" {
			return b, false
		}
		s.volts = 24
		return Build{b.Shape, s}, true
	}
	i := slices.IndexFunc(s.groups, func(g specGroup) bool { return g.name == of })
	if i < 0 {
		return b, false
	}
	g := &s.groups[i]
	switch {
	case what == "one more":
		g.count++
	case what == "gone" && len(s.groups) > 1 && g.board == "":
		s.groups = slices.Delete(s.groups, i, i+1)
	case what == "one less" && g.count > 1:
		g.count--
	case what == "22 ohm" && g.ohms > 0:
		g.ohms = 22
	case what == "fit any" && drawn > 0.05 && drawn < 5:
		for _, kind := range drawEdits {
			if s.redrawn(g, kind, drawn) {
				return Build{b.Shape, s}, true
			}
		}
		return b, false
	case what == "like part":
		return Build{b.Shape, s}, s.refigured(g, true, 1)
	default:
		kind, fits := strings.CutPrefix(what, "fit ")
		if !fits {
			drawn = 0.7
		}
		if !(drawn > 0.05 && drawn < 5) || !s.redrawn(g, kind, drawn) {
			return b, false
		}
	}
	return Build{b.Shape, s}, true
}

// redrawn changes one thing of a plan by which a group draws so much times what it drew.
func (s *spec) redrawn(g *specGroup, what string, times float64) bool {
	board := slices.IndexFunc(s.boards, func(x specBoard) bool { return x.name == g.board })
	switch what {
	case "count":
		n := int(math.Round(float64(g.count) * times))
		if n == g.count || n < 1 {
			return false
		}
		g.count = n
	case "ohms":
		if g.ohms == 0 {
			return false
		}
		g.ohms = math.Max(1, math.Round(g.ohms/times))
	case "wire":
		if g.ohms == 0 || times >= 1 {
			return false
		}
		// What a wire drops more, all branches go without: (V - Vf) (1/I' - 1/I).
		ohms := (s.volts - float64(g.series)*forwardV[g.part]) * (1/times - 1) / (g.drawMA(s.volts) / 1e3)
		g.wireMM += int(1e3 * ohms / (2 * ohmsPerM))
		return g.wireMM < 90_000
	case "figures", "part":
		return s.refigured(g, what == "part", times)
	case "pace":
		if board < 0 || !strings.Contains(s.boards[board].paces, "period_s") {
			return false
		}
		s.boards[board].paces = `{ name = "blink", period_s = 3.1, duty = 0.4 }`
	case "outputs":
		if board < 0 || times >= 1 {
			return false
		}
		s.boards[board].moreOhms += int(g.ohms / float64(g.count) * (1/times - 1))
	default:
		return false
	}
	return true
}

// ohmsPerM is about what a conductor of 0.25 mm has (copper, IEC 60317).
const ohmsPerM = 0.35

// draws is the figure of a part's draw.
var draws = regexp.MustCompile(`(segment_mA|draw_mA) = ([0-9.]+)`)

// refigured changes the figures of a group's part, or gives it another part that is like it.
func (s *spec) refigured(g *specGroup, another bool, times float64) bool {
	i := slices.IndexFunc(s.parts, func(p string) bool { return strings.HasPrefix(p, fmt.Sprintf("[part.%q]", g.part)) })
	if i < 0 {
		return false
	}
	m := draws.FindStringSubmatch(s.parts[i])
	if m == nil {
		return false
	}
	was, err := strconv.ParseFloat(m[2], 64)
	if err != nil {
		return false
	}
	text := strings.Replace(s.parts[i], m[0], fmt.Sprintf("%s = %.2f", m[1], was*times), 1)
	if !another {
		s.parts[i] = text
		return true
	}
	name := "other " + g.part
	if slices.ContainsFunc(s.parts, func(p string) bool { return strings.HasPrefix(p, fmt.Sprintf("[part.%q]", name)) }) {
		return false
	}
	s.parts = append(s.parts, strings.Replace(text, fmt.Sprintf("%q", g.part), fmt.Sprintf("%q", name), 1))
	g.part = name
	return true
}
