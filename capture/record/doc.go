// Package record keeps what was measured of a build, and reads it back. This is its
// format, version 1.
//
// Start with Begin to write and ReadDir to read. What is damaged is named, left
// as it is and not used; Repair copies what is sound, beside it.
//
// # Files
//
//	BUILD/chain.json                           the head of the chain
//	BUILD/readings/20261125T064500Z-loose.lp   one sitting: one run of the program
//	BUILD/readings/NAME.lp.torn                bytes of torn last lines, put aside
//	BUILD/readings/NAME.lp.repaired            a copy of the sound lines of a damaged one; no record
//
// A sitting's file is named by its start and stage, with -NUMBER before .lp where that
// name is taken. It is only appended to, and only by the program that began it. Each
// sitting has a number, one above all that were there before: order comes from sittings
// and line numbers, never from a clock.
//
// # Lines
//
// A file is InfluxDB line protocol, UTF-8, times in nanoseconds UTC; a time-series
// server takes it as it is. The newline is the last byte of a line, as in
//
//	reading,build=9f…e1,closure=hull,…,sitting=3,stage=fitted
//	check="0c…77",seq=12i,v=1i,simulated=false,…,value=0.0381 1795589100700000000
//
// which is one line, a space between its two parts. In each:
//
//   - the tag build is the build's own identity: 16 hex digits, drawn once. It
//     survives renaming and moving. The tag sitting is the sitting's number.
//   - check, seq, v and simulated are the first fields, in this order. seq counts
//     the lines of the sitting from 1; v is the version of the format. All
//     versions keep the places of build, sitting, check, seq and v.
//   - check is the first 16 hex digits of the SHA-256 of the check of the line
//     before, as text, and the bytes of this line without its newline and without
//     the check field and the comma after it. For the first line of a sitting
//     "build=BUILD,sitting=NUMBER" stands for the check of the line before. It
//     guards against accidents, not against somebody who computes it anew.
//   - times rise strictly in a file: the start and what went by since on a clock
//     that only goes forward. Where a reading's own instant is not after the line
//     before, the line has the next nanosecond, and shift_ns is what to take off.
//   - tags are names; an empty one is left out. Units are SI: fields that end in
//     _s are seconds, in _a amperes, in _c degC, in _ns whole nanoseconds. Text in
//     raw is quoted to ASCII as in Go, without the quotes. Some fields hold JSON.
//
// Line ends of an editor (CR before the newline), its byte order mark and empty lines
// are no part of the chain, and harmless.
//
// # Measurements
//
//   - sitting: the first line of a file: name (the build's, for people), what it
//     was opened for, plan_revision, program, bench, goes_on (the sitting that it
//     goes on with), behind_s (how far its start lies before the last time of the
//     sitting before). The last line has end=true; without it the program died. It says in
//     broke_off, in words, what broke the sitting off, if anything did: a stop, a failure.
//   - instrument: what an instrument is (tag instrument; is, JSON), before the
//     first step that names it, and again only when it changed.
//   - step: an event; mark says which. A step begins with mark="begin" (step,
//     JSON, leads in it: ohm and half_ohm of the bench's leads and clips where
//     they are known; instruments, the names) and ends with mark="end". What a mark is
//     about: by_name, groups, reason, seen, of_sitting and of_line for what is
//     taken back. Words of the maker are marks, too.
//   - reading: one reply of one instrument: value where status is ok, unit, raw,
//     range, half_width, window_s, latency_s; step_id says for which step.
//   - file: name, bytes and sha256 of a file that lies beside the chain: a photo,
//     what concerns a client. Whoever takes it away harms nothing.
//   - damage: that the head was missing or damaged when the sitting began.
//
// # What a verdict rests on
//
// The lines of a sitting in their order, the sittings by their numbers. A mark is of the
// step in step_id; that of another step than the one that is open is not used.
//
//   - mark="begin" opens a step; what it was to be stands in its JSON: id, feed, groups
//     judged from it, pace, stage by the tag, volts, and planned, which is what each of its
//     groups was by the plan then with all on its way to the jack. Readings with its step_id up to its end
//     are its own; those with base=true are of what was on before its feed was added.
//   - Its trace are its own readings from the time of mark="settled" on, up to that of the
//     first mark="point", both included: before it the voltage rises, after it the sweep
//     sets one voltage after the other. What it draws is the mean of the current over it,
//     of one instrument.
//   - mark="end" closes it with its outcome: measured, tripped, skipped, interrupted. So do
//     the next begin and the end of the file: then it is tripped or skipped where
//     such a mark stands in it, else interrupted.
//   - mark="redone" of the open step takes what there is of it away. Else the last step of
//     that step_id and stage, which stays, counts no more.
//   - mark="looked": seen is all that was seen so far in the step; the last one counts, and
//     that of the end where there was none.
//   - mark="accepted", closed over by choice, is of the last step of its step_id and stage.
//     "reworked", "touched nothing", "allowed", "ticked" and "answered" are of the build: what
//     each is about is by_name or, without it, the tag group.
//   - mark="taken back": the mark at of_sitting, of_line counts no more; of looks the one
//     before it does, but not that of the end.
//
// # The head
//
// chain.json lists every sitting with its number, file, lines known to be on disk, the
// check of the last of them, its time and whether it is the end. A sitting is listed, with 0
// lines, before its file is made. After each sync the head is replaced whole (a
// temporary file, synced, renamed). Only then its lines are called kept. Its last member
// is a check: the first 16 hex digits of the SHA-256 of all bytes before the name of
// that member, from the first byte of the file to the space before the quote.
//
// A file longer than its head is fine where the chain goes on: the program died between
// the two. A torn last line beyond the head is harmless; the next sitting puts it aside
// and cuts it. All else is damage: a changed, missing, doubled, moved or foreign line, a
// missing tail, a file that is missing, not listed or of another build, a head that is
// missing, damaged or names other lines. A line that doesn't carry on is not used. A file
// that holds nothing but the first lines of a listed one is a copy, as synchronised
// folders make them: harmless.
//
// What it can't know: that the folder was put back whole, head and all, as it was earlier,
// and what a person did who computed checks and head anew.
//
// # Before the chain
//
// Files of before have no tag sitting; their check is CRC-32C (8 hex digits) of each line
// alone. The head lists those that were there when the chain began, with their length and
// SHA-256. Their order is that of their names, before all chained sittings.
package record
