package main

import (
	"io"
	"strconv"
	"strings"
)

// shown writes to a terminal what an instrument, a file or a library said: all
// that a terminal would obey or that hides is written out.
type shown struct{ w io.Writer }

func (x shown) Write(p []byte) (int, error) {
	if _, err := io.WriteString(x.w, visible(string(p))); err != nil {
		return 0, err
	}
	return len(p), nil
}

func visible(s string) string {
	quoted := strconv.QuoteToGraphic(s)
	return strings.NewReplacer(`\n`, "\n", `\t`, "\t", `\"`, `"`, `\\`, `\`).Replace(quoted[1 : len(quoted)-1])
}
