package plots_test

import (
	"os"
	"testing"

	"sealworthy/plots"
)

func feedTree() plots.FeedTreeData {
	return plots.FeedTreeData{Title: "Brackwater: feed tree, everything lit", Simulated: true,
		Notes: []string{"Voltages against the minus of the jack; the way back is counted in."},
		Nodes: []plots.TreeNode{
			{Name: "main", Kind: "jack", CurrentA: 0.642, VoltageV: 12, LowA: 0.618,
				HighA: 0.667},
			{Name: "keel", From: "main", Kind: "joint", Wire: "0.35 m AWG 26, diode", CurrentA: 0.642, VoltageV: 11.2,
				DropV: 0.8, LowA: 0.618, HighA: 0.667, LowDropV: 0.71, HighDropV: 0.88},
			{Name: "deckhouse", From: "keel", Kind: "joint", Wire: "0.2 m AWG 30", CurrentA: 0.51, VoltageV: 10.05,
				DropV: 1.15, Suspect: "bad joint, some 2 ohm"},
			{Name: "galley", From: "keel", Kind: "group", Wire: "0.2 mm, 0.22 m", CurrentA: 0.0379, VoltageV: 11.15,
				DropV: 0.05},
			{Name: "saloon windows", From: "deckhouse", Kind: "group", Wire: "0.2 mm, 0.12 m", CurrentA: 0.482,
				VoltageV: 9.9, DropV: 0.15},
			{Name: "beacon", From: "deckhouse", Kind: "board", CurrentA: 0.028, VoltageV: 10.04, DropV: 0.01},
			{Name: "port beacon", From: "beacon", Kind: "group", CurrentA: 0.0214, VoltageV: 5, DropV: 5.04},
			{Name: "chart room", From: "deckhouse", Kind: "group", CurrentA: 0.00904, VoltageV: 10.04, DropV: 0.01},
		}}
}

// ExampleFeedTree draws currents and drops, with a suspected joint.
func ExampleFeedTree() {
	drawTo("feedtree", func(w *os.File, f plots.Format) error { return plots.FeedTree(w, f, style(), feedTree()) })
	// Output:
}

func TestFeedTreeGolden(t *testing.T) { golden(t, "feedtree", ExampleFeedTree) }
