package record

// remainsOf is what can be shown of a line, in ASCII.
func remainsOf(b []byte) string {
	if len(b) > maxRemains {
		b = b[:maxRemains]
	}
	return quote(string(b))
}
