// Package out gives readings to other programs: as a table (CSV, RFC 4180), as lines of
// JSON, as plain line protocol, and to a server that takes line protocol over HTTP.
//
// Start with Write for a file and Sender.Send for a server. Only lines that count go out:
// what is damaged stays in the record and is named.
package out
