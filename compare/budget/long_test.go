package budget

import (
	"os"
	"testing"
)

// long asks for the full size of the statistical tests.
var long = os.Getenv("SEALWORTHY_LONG") == "1"

// skipStatistics leaves a test of many trials out under the race detector: it
// races nothing and would take minutes.
func skipStatistics(t *testing.T) {
	t.Helper()
	if raceOn {
		t.Skip("statistics run without the race detector")
	}
}
