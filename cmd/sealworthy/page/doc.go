// Package page is the bench page: a browser face of the session that the terminal
// and the stream of events use. A Server shows what goes on, takes answers and
// starts what its Work can do; it holds no arithmetic and no words of its own for
// what the session asks (package wording has them).
//
// Start at New; Handler is what it serves. What happened is folded into a State by a
// Watch, which is the session's Face; the State is written as regions of HTML, and each
// page follows the regions that changed over one stream of events for each browser. So
// a page that is loaded again shows the same, and one whose stream fell silent says
// that nothing is known.
//
// What takes a while to judge is never waited for (judged.go): a page is served at once with what is known
// without it, says that it's being worked out, and fetches it as regions once the stream tells
// that the judgement of its build has ended. Without script it says so beside a link.
// What was found is shown while the files that it was found from are the present ones, and withdrawn once
// they aren't (present.go): present.stillTrue alone decides that.
//
// A plan is changed as a draft (sketch*.go): steps on the file as it was read, kept by the
// server for all pages of a build until they're saved as one, taken back, or made anew on
// a file that was changed meanwhile. A draft ends with the program.
//
// What it holds to (fence.go has the order):
//   - It answers only to the names that it's served under, and only its own pages: Host,
//     Origin and Sec-Fetch-* are checked, and net/http's CrossOriginProtection.
//   - Nothing but the door is shown without the cookie, which a code that is good once is
//     swapped for; wrong codes are counted.
//   - Beyond this computer it's served over TLS alone, under names of its own. Codes that
//     are wrong shut the door for the address that sent them, for nobody else. That is begun
//     and ended on this computer alone (listening.go): by its leading page, or its command.
//   - One page starts tests and answers (roles.go); a helper's may look, photograph and STOP,
//     whatever it sends.
//   - No script, style or frame but its own: the content security policy has no inline part.
//   - What comes in is bounded in size and number; nothing that was uploaded is served. A
//     photo is decoded and written anew, and shown as a JPEG picture alone.
//   - All text of a page goes through package plain, as a whole, after it was escaped.
//   - Who doesn't read is dropped; nothing is queued for him.
//
// What nobody can see isn't powered: the page that starts tests answers a beat of the
// stream while it's to be seen, and a test without such an answer for a second pauses with
// the output off. A page that was hidden or slept opens the stream anew and shows nothing
// known until it was told all.
package page
