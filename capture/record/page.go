package record

import _ "embed"

// page is the description of the format; the package's own words are the same.
//
//go:embed FORMAT.md
var page string

// Page is the description of the format on one page.
func Page() string { return page }
