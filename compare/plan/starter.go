package plan

import (
	"bytes"
	_ "embed"
)

//go:embed starter.toml
var starter []byte

// Starter returns a commented plan for a new build that parses without
// problems. A name that the record can't hold is mended.
func Starter(build string) []byte {
	if what, _ := nameFault(build, true); what != "" {
		build = mendedName(build, true)
	}
	return bytes.Replace(starter, []byte("BUILD"), []byte(tomlText(build)), 1)
}
