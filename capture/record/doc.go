// Package record keeps what was measured: one file for each sitting, one line
// for each reading and each mark of a step, in InfluxDB line protocol with
// nanosecond times.
//
// Start with OpenRecorder to write and Scan to read; Fold turns what Scan
// hands out back into the steps of the test. NewName and ListSittings know how
// files are called.
//
// What a file keeps to:
//
//   - It is only ever appended to. The newline is the last byte of a line.
//   - A line is called kept only after it was synced to disk.
//   - Every line carries a check, CRC-32C over all its bytes but the check
//     field itself, so that a damaged line can't pass for a reading.
//   - Times rise strictly within a series (a measurement with its tags), by at
//     least 1 ns.
//   - Bytes after the last newline are a torn line. On opening to write they
//     are copied to NAME.torn, synced, then cut and reported, once. Nothing
//     before them is touched.
//   - A line that is damaged is skipped and reported with its number; the lines
//     after it don't depend on it.
//
// The package refuses to repair a damaged line, to write a line without a time
// and to write to a file that another process has open for writing.
//
// Units are SI; fields that end in _s are seconds, in _a amperes, in _c degC.
package record
