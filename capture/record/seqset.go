package record

// seqSet is a set of line numbers.
type seqSet []uint64

func (s *seqSet) add(n int64) {
	for int64(len(*s)) <= n>>6 {
		*s = append(*s, 0)
	}
	(*s)[n>>6] |= 1 << (n & 63)
}

func (s seqSet) has(n int64) bool { return n>>6 < int64(len(s)) && s[n>>6]&(1<<(n&63)) != 0 }
