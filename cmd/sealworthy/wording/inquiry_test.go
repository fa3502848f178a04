package wording

import (
	"strings"
	"testing"

	"sealworthy/cmd/sealworthy/session"
)

// What limits stay below where a fuse isn't known is said where there is such a fuse.
func TestAFuseThatIsNotKnown(t *testing.T) {
	for fuseA, want := range map[float64]bool{0: false, 0.4: true} {
		q := session.Question{About: &session.About{Least: 0.01, Most: 30, FuseA: fuseA}}
		q.Kind = session.AskFuse
		text := strings.Join(Inquired(q), " ")
		if strings.Contains(text, "Not known") != want || strings.Contains(text, "0.4 A") != want {
			t.Errorf("%g A: %s", fuseA, text)
		}
	}
}
