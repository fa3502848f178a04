package returns

import "strings"

// paceOf takes one board's pace out of what Whole.Pace says: "beacon: blink;
// lamp driver: slow".
func paceOf(all, board string) string {
	for part := range strings.SplitSeq(all, ";") {
		b, pace, ok := strings.Cut(part, ":")
		if ok && strings.TrimSpace(b) == board {
			return strings.TrimSpace(pace)
		}
	}
	return ""
}
