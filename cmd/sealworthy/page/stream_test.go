package page

import (
	"bufio"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
)

// A stream that is opened tells of each region, of those that are empty, too: a page that
// was asleep or out of reach may still show a question that is answered long ago.
func TestAStreamBeginsWithAllRegions(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	a, err := http.DefaultClient.Do(x.request("GET", "/stream", "", x.enter()))
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	var first told
	for s := bufio.NewScanner(a.Body); s.Scan(); {
		if data, is := strings.CutPrefix(s.Text(), "data: {\"regions\""); is {
			if err := json.Unmarshal([]byte(`{"regions"`+data), &first); err != nil {
				t.Fatal(err)
			}
			break
		}
	}
	empty := 0
	for _, name := range regionNames {
		html, is := first.Regions[name]
		if !is {
			t.Errorf("nothing is told of %s", name)
		}
		if strings.TrimSpace(html) == "" {
			empty++
		}
	}
	if empty == 0 {
		t.Error("no region is empty: nothing is tested")
	}
}
