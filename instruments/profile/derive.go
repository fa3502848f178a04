package profile

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
)

// Source gives the text of a profile, to be printed and to start one from.
func Source(name, folder string) ([]byte, error) {
	_, src, err := find(name, folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, unknown(name, folder)
	}
	if err != nil {
		return nil, fmt.Errorf("profile %q: %w", name, err)
	}
	return src, nil
}

// Change is one key of a profile that is to be another. Table is "" at the top; an
// empty Value takes the key out. Value is written as TOML has it.
type Change struct {
	Table string `json:"table"`
	Key   string `json:"key"` // in that table
	Value string `json:"value"`
}

func (c Change) String() string {
	at := c.Key
	if c.Table != "" {
		at = c.Table + "." + c.Key
	}
	if c.Value == "" {
		return "without " + at
	}
	return at + " = " + c.Value
}

// Derive is the text of a profile with some keys changed and a comment on top, which
// takes the place of the old one. All else stays, with its comments.
func Derive(src []byte, comment string, changes []Change) []byte {
	lines := strings.Split(strings.TrimRight(string(src), "\n"), "\n")
	first := 0
	for first < len(lines) && strings.HasPrefix(lines[first], "#") {
		first++
	}
	lines = lines[first:]
	for _, c := range changes {
		lines = c.in(lines)
	}
	var out strings.Builder
	for _, l := range strings.Split(strings.TrimSpace(comment), "\n") {
		fmt.Fprintf(&out, "# %s\n", l)
	}
	out.WriteString(strings.Join(lines, "\n") + "\n")
	return []byte(out.String())
}

// in changes the lines of a file.
func (c Change) in(lines []string) []string {
	from, to := tableIn(lines, c.Table)
	if from < 0 {
		if c.Value == "" {
			return lines
		}
		at := slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, "[[") })
		if at < 0 {
			at = len(lines)
		}
		return slices.Insert(lines, at, "["+c.Table+"]", c.Key+" = "+c.Value, "")
	}
	for i := from; i < to; i++ {
		key, _, has := strings.Cut(lines[i], "=")
		if !has || strings.TrimSpace(key) != c.Key {
			continue
		}
		if c.Value == "" {
			return slices.Delete(lines, i, i+1)
		}
		lines[i] = c.Key + " = " + c.Value
		return lines
	}
	if c.Value == "" {
		return lines
	}
	return slices.Insert(lines, from, c.Key+" = "+c.Value)
}

// tableIn gives the lines of a table, without its head; from is below 0 where
// there is none.
func tableIn(lines []string, table string) (from, to int) {
	from = -1
	if table == "" {
		from = 0
	}
	for i, l := range lines {
		head := strings.TrimSpace(l)
		if !strings.HasPrefix(head, "[") {
			continue
		}
		if from >= 0 {
			return from, i
		}
		if head == "["+table+"]" {
			from = i + 1
		}
	}
	return from, len(lines)
}
