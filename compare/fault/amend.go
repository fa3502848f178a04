package fault

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"sealworthy/compare/plan"
)

// Amend is plan.EditWith that also adds a key to a light that lacks it: lights
// leave out what is one. Every other byte stays. The result has been parsed; if
// the change makes the plan wrong the error says so and nothing is returned.
func Amend(src []byte, path string, value any, o plan.Options) ([]byte, error) {
	out, err := plan.EditWith(src, path, value, o)
	if err == nil {
		return out, nil
	}
	group, light, key, ok := lightKey(path)
	if !ok {
		return nil, err
	}
	p, problems := plan.ParseWith("plan.toml", src, o)
	if len(problems) > 0 {
		return nil, err
	}
	gi := p.GroupAt(group)
	if gi < 0 || light >= len(p.Groups[gi].Lights) {
		return nil, err
	}
	at, ok := offset(src, p.Groups[gi].Lights[light].Pos)
	if !ok || src[at] != '{' {
		return nil, err
	}
	text := " " + key + " = " + tomlValue(value) + ","
	out = slices.Concat(src[:at+1], []byte(text), src[at+1:])
	now, problems := plan.ParseWith("plan.toml", out, o)
	if len(problems) > 0 {
		return nil, fmt.Errorf("%s = %s makes the plan wrong: %w", path, tomlValue(value), problems[0])
	}
	if len(now.Groups) != len(p.Groups) || len(now.Groups[gi].Lights) != len(p.Groups[gi].Lights) {
		return nil, errors.New("something else would change with " + path)
	}
	return out, nil
}

// lightKey takes group."NAME".lights[N].KEY apart.
func lightKey(path string) (group string, light int, key string, ok bool) {
	rest, ok := strings.CutPrefix(path, "group.")
	if !ok {
		return "", 0, "", false
	}
	if strings.HasPrefix(rest, `"`) {
		group, rest, ok = strings.Cut(rest[1:], `".lights[`)
	} else {
		group, rest, ok = strings.Cut(rest, ".lights[")
	}
	if !ok {
		return "", 0, "", false
	}
	n, key, ok := strings.Cut(rest, "].")
	light, err := strconv.Atoi(n)
	return group, light, key, ok && err == nil && light >= 0 && key != "" && !strings.ContainsAny(key, `.["`)
}

// offset is where a place lies in the file, in bytes.
func offset(src []byte, at plan.Pos) (int, bool) {
	i := 0
	if len(src) >= 3 && string(src[:3]) == "\xef\xbb\xbf" {
		i = 3
	}
	for line := 1; line < at.Line; line++ {
		k := slices.Index(src[i:], '\n')
		if k < 0 {
			return 0, false
		}
		i += k + 1
	}
	// Columns count characters.
	col := 1
	for k := range string(src[i:]) {
		if col == at.Column {
			return i + k, true
		}
		if src[i+k] == '\n' {
			break
		}
		col++
	}
	return 0, false
}

// tomlValue writes a number, a name or a list of names as TOML. Names hold no
// control characters and no backslash: the plan refuses them.
func tomlValue(v any) string {
	switch x := v.(type) {
	case string:
		return `"` + strings.ReplaceAll(x, `"`, `\"`) + `"`
	case float64:
		return strconv.FormatFloat(x, 'f', -1, 64)
	case []string:
		var parts []string
		for _, s := range x {
			parts = append(parts, tomlValue(s))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return fmt.Sprint(v)
}

// ParseEdit takes a change written as PATH = VALUE apart, as Suspect.Edit writes
// it: for a maker who gives it by hand. Value is a text, a number, a bool or a
// list of texts, as Amend takes it.
func ParseEdit(line string) (path string, value any, err error) {
	bad := func(what string) (string, any, error) {
		return "", nil, fmt.Errorf(`the change %q %s; write it like group."cabin windows".lights[0].segments = 5`,
			line, what)
	}
	quoted, at := false, -1
	for i, c := range line {
		if c == '"' {
			quoted = !quoted
		}
		if c == '=' && !quoted {
			at = i
			break
		}
	}
	if at < 0 {
		return bad("has no =")
	}
	path = strings.TrimSpace(line[:at])
	if path == "" {
		return bad("names nothing to change")
	}
	text := strings.TrimSpace(line[at+1:])
	if text == "" || strings.ContainsAny(text, "\r\n") {
		return bad("has no value")
	}
	var v struct{ V any }
	if err := toml.Unmarshal([]byte("V = "+text), &v); err != nil {
		return bad("has a value that can't be read: texts stand in quotes, decimals with a point")
	}
	switch x := v.V.(type) {
	case string, bool, float64:
		return path, x, nil
	case int64:
		return path, int(x), nil
	case []any:
		var list []string
		for _, e := range x {
			s, ok := e.(string)
			if !ok {
				return bad("has a list of something else than texts")
			}
			list = append(list, s)
		}
		return path, list, nil
	}
	return bad("has a value of a kind that no plan has there")
}
