package plots_test

import (
	"bytes"
	"strings"
	"testing"

	"sealworthy/compare/returns"
	"sealworthy/plots"
)

// Both papers of a return say what their verdict rests on, and by a client's words alone nothing is known; the
// client's says it without a chance.
func TestPapersOfAReturnSayWhatTheyRestOn(t *testing.T) {
	for _, c := range []struct {
		rests        returns.Rests
		verdict      string
		mine, theirs string
	}{
		{returns.ByReadings, "it is known which", "It rests on what was read at its jack.",
			"It rests on what was read at its jack."},
		{returns.ByClient, "Most likely one place is at fault. It&#39;s to be looked at lit before anything is opened.",
			"on what the client said: nobody looked at its lights here.",
			"on what you told: nobody looked at its lights here."},
		{returns.ByOdds, "Most likely one place", "this one fails most often.", "this one fails most often."},
	} {
		d := comeBack()
		d.Set = d.Set[:1]
		d.Verdict, d.Named, d.Rests = returns.OnePlace, &d.Ranked[0], c.rests
		var mine, theirs bytes.Buffer
		x := plots.ReturnData{Build: "Brackwater", Diagnosis: d, Style: style()}
		if err := plots.ReturnSheet(&mine, x); err != nil {
			t.Fatal(err)
		}
		if err := plots.Reply(&theirs, x); err != nil {
			t.Fatal(err)
		}
		for _, p := range []struct {
			page  string
			wants []string
		}{{mine.String(), []string{c.verdict, c.mine, "%"}}, {theirs.String(), []string{c.verdict, c.theirs}}} {
			for _, want := range p.wants {
				if !strings.Contains(p.page, want) {
					t.Errorf("%s: %q isn't on the page", c.rests, want)
				}
			}
		}
		body := theirs.String()
		if body = body[strings.Index(body, "<body>"):]; strings.Contains(body, "%") ||
			strings.Contains(body, "chance") {
			t.Errorf("%s: a chance on the client's page", c.rests)
		}
		if known := strings.Contains(body, "It is this:"); known != d.Known() {
			t.Errorf("%s: known for the client: %v", c.rests, known)
		}
	}
}
