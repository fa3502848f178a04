package circuit

// AddStrip hangs segments in parallel from a node: the first sits on it,
// copperOhms (loop, both conductors) lie between each segment and the next. It
// returns the node and the branch of each segment. Without copper all share one node.
func (n *Net) AddStrip(at Node, ret Ground, segments []Branch, copperOhms float64) ([]Node, []BranchID) {
	nodes, ids := make([]Node, len(segments)), make([]BranchID, len(segments))
	for k, b := range segments {
		if k > 0 && copperOhms > 0 {
			at = n.AddResistor(at, copperOhms)
		}
		nodes[k], ids[k] = at, n.AddBranch(at, ret, b)
	}
	return nodes, ids
}
