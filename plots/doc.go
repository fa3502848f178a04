// Package plots draws what was measured and prints the sheet of a build.
//
// Start with Trace for the draw of one group over time, Closure for measured
// against expected, Bands for what a plan expects, FeedTree for currents and
// drops at the joints, and Sheet for the page that goes with the model. TraceOf
// and its kin make their data from records, findings and budgets.
//
// Every picture goes to an io.Writer as SVG, PNG or PDF; the caller owns files.
// The same data give the same bytes as SVG and PNG; a PDF carries its creation
// time. PDF text is ASCII and never bold, since the library writes no other
// letters right ("µ" becomes "u", an unknown letter "?").
//
// The package refuses to draw without data, and numbers that aren't finite. A
// gap in a trace is drawn as a gap. Verdicts are told by word and shape, never
// by colour alone.
//
// Units: A, V, s, ohm in the data, mm and points in a Style.
package plots
