// Package plots draws what was measured and prints the sheet of a build.
//
// Start with Trace for the draw of one group over time, Blinkers for one with
// what blinks in it drawn in, Closure for measured against expected, Trend for
// the draw over the stages, Sweep for a return against its signature, Bands for
// what a plan expects, FeedTree for currents and drops at the joints, Years for groups or
// reels over the years, Shop for every build of a shop. Sheet is
// the page of the test, Delivery that of the client, ReturnSheet that of a
// return and Reply what a client is told of it, Label the label beside the jack.
// TraceOf and its kin make their data from records, findings and budgets.
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
