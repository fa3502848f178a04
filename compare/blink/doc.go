// Package blink tells what a blinking light does from slow current readings:
// its period, the share of it that's lit, and the current while lit and dark.
//
// Start with [Pace] when nothing is known of the light and with [Match] when a
// plan says what it should do; [Which] tells a board's paces from each other.
// [Levels] separates the outputs of a board, [PartingS] says how long a trace
// that takes when they run free, [Joint] takes what blinks in a whole model apart,
// [Window] finds a meter's own averaging time.
//
// A meter averages over a window, so a reading that straddles an edge is
// neither lit nor dark, and a flash shorter than the window is never read in
// full. The fits put that averaging into the model instead of sorting readings
// into lit and dark ones. The window's length must be known: a flash shorter
// than it and the window itself can't be told apart.
//
// The package refuses to guess. Readings at an even spacing fit a pace and its
// mirror at the reading rate equally well: the verdict is then [Ambiguous] with
// all periods listed. Duty and levels carry standard uncertainties, and flags
// say when they must not be shown: when they're known too loosely, when another
// length of the flash fits about as well, or when the same few phases of the
// period were read over and over.
//
// What it can't do: tell a flash shorter than the window from a longer one
// without knowing the window; tell two flashes closer together than the window
// from one; tell a pace above 0.85 of the reading rate from a slow change. The
// error rates of each kind of light are measured by the tests, in full size
// under SEALWORTHY_LONG=1; SEALWORTHY_SEED=n draws other populations of the
// same kind.
//
// Times are seconds, currents amperes, frequencies hertz; a U beside a value is
// its standard uncertainty. The package imports nothing of the project and
// reads neither clocks nor files.
//
// Sources: the search over edges follows the box-fitting idea of Kovacs,
// Zucker and Mazeh, A&A 391 (2002) 369; levels are eliminated as in Golub and
// Pereyra, SIAM J. Numer. Anal. 10 (1973) 413; steps as events after Hart,
// Proc. IEEE 80 (1992) 1870.
package blink
