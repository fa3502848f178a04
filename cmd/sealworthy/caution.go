package main

import (
	"errors"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"sealworthy/compare/plan"
)

// cautionedFile holds the day on which the cautions were last shown in full, and which,
// in the maker's folder.
const cautionedFile = "cautioned.txt"

// cautionsFor are the cautions of a test: in full once a day, else in one line. Where
// it can't be known whether they were shown today, or these weren't, they are shown.
func cautionsFor(e env, p *plan.Plan, now time.Time) []string {
	all := cautions(p)
	dir, err := configDir(e)
	if err != nil {
		return all
	}
	file := filepath.Join(dir, cautionedFile)
	said := "# Cautions that were shown in full on " + now.Format("2006-01-02") + "\n" + strings.Join(all, "\n") + "\n"
	have, err := readFile(file, mostBytes)
	if err == nil && isSealed(have) && strings.HasPrefix(string(have), said) {
		return []string{"never solder with the output on; the rest as it was said today: sealworthy help care"}
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return all
	}
	if makeFolder(dir) == nil {
		_ = writeMade(file, writeBytes([]byte(said))) // then they are shown in full again
	}
	return all
}
