package plots

import (
	"encoding/base64"
	"html/template"
	"time"

	"sealworthy/compare/words"
)

// SheetPhoto is a photo on a printed page.
type SheetPhoto struct {
	Of, Stage string // the closure that it is of, "" for all of it, and when in its making
	At        time.Time
	JPEG      []byte // of the program's own making
}

// mostOnSheet of the photos stand on a page, the latest: each weighs half a megabyte.
const mostOnSheet = 24

// pagePhoto is one as a template wants it.
type pagePhoto struct {
	Src            template.URL
	Caption, Plain string // for the maker, and for a client
}

// pagePhotos are the latest of some photos, in their order, and how many are left out.
func pagePhotos(all []SheetPhoto, where *time.Location) (out []pagePhoto, left int) {
	if left = len(all) - mostOnSheet; left > 0 {
		all = all[left:]
	}
	for _, p := range all {
		x := pagePhoto{Src: template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(p.JPEG)),
			Plain: p.Of}
		x.Caption = p.Of
		if x.Caption == "" {
			x.Caption = "the model"
		}
		x.Caption += ", " + p.Stage + ", " + words.PaperMinute(p.At, where)
		out = append(out, x)
	}
	return out, max(0, left)
}
