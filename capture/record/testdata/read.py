"""Reads the record of a build by the page FORMAT.md alone, with nothing but
Python's own library: verifies the chain of each sitting against the head, and
counts. Prints one JSON value.

    python3 read.py BUILD
"""

import hashlib
import json
import os
import re
import sys

UNESCAPE = re.compile(r"\\([,= \\])")


def digest(*parts):
    return hashlib.sha256(b"".join(parts)).hexdigest()[:16]


def split(text, at, quoted):
    """Splits text at a sign that no backslash escapes and no quotes hold."""
    out, part, inside, i = [], "", False, 0
    while i < len(text):
        c = text[i]
        if c == "\\" and i + 1 < len(text):
            part += text[i : i + 2]
            i += 2
            continue
        if c == '"' and quoted:
            inside = not inside
        if c == at and not inside:
            out.append(part)
            part = ""
        else:
            part += c
        i += 1
    return out + [part]


def value(text):
    if text.startswith('"'):
        names = {"n": "\n", "r": "\r", "t": "\t"}
        return re.sub(r"\\(.)", lambda m: names.get(m[1], m[1]) if m[1] in 'nrt"\\' else m[0], text[1:-1])
    if text in ("true", "false"):
        return text == "true"
    return int(text[:-1]) if text.endswith("i") else float(text)


def parse(line):
    """The measurement, tags, fields and time of a line."""
    series, fields, time = split(line, " ", True)
    names = split(series, ",", False)
    tags = dict(split(t, "=", False) for t in names[1:])
    pairs = (f.split("=", 1) for f in split(fields, ",", True))
    return names[0], {k: UNESCAPE.sub(r"\1", v) for k, v in tags.items()}, {k: value(v) for k, v in pairs}, int(time)


def head(folder):
    with open(os.path.join(folder, "chain.json"), "rb") as f:
        raw = f.read()
    at = raw.rindex(b'"check"')
    told = json.loads(raw)
    if told["check"] != digest(raw[:at]) or told["version"] != 1:
        raise SystemExit("the head is damaged or newer")
    return told


def sitting(folder, build, listed, totals):
    """Whether the chain of a sitting is whole up to where the head counts."""
    before = b"build=%s,sitting=%d" % (build.encode(), listed["number"])
    number, last, check = 0, 0, ""
    path = os.path.join(folder, "readings", listed["file"])
    if not os.path.exists(path):
        return listed["lines"] == 0
    with open(path, "rb") as f:
        raw = f.read()
    for line in raw.split(b"\n")[:-1]:
        if line.endswith(b"\r"):
            line = line[:-1]
        if not line:
            continue
        m = re.match(rb'((?:\\.|[^ \\])* )check="([0-9a-f]{16})",(.*)$', line)
        if not m or digest(before, m[1], m[3]) != m[2].decode():
            return False
        measurement, tags, fields, time = parse(line.decode())
        number += 1
        own = time - fields.get("shift_ns", 0)
        if fields["seq"] != number or fields["v"] != 1 or time <= last or tags["build"] != build or tags["sitting"] != str(listed["number"]):
            return False
        before, last = m[2], time
        if number == listed["lines"]:
            check = m[2].decode()
        if measurement == "reading":
            totals["readings"] += 1
            totals["instants"] += own
            if fields["status"] == "ok":
                totals["amperes"] += fields["value"]
        elif measurement == "step":
            totals["marks"] += 1
        elif measurement == "sitting" and number == 1:
            totals["names"].append(fields["name"])
    return number >= listed["lines"] and check == listed["check"]


def main():
    folder = sys.argv[1]
    told = head(folder)
    totals = {"build": told["build"], "readings": 0, "marks": 0, "amperes": 0.0, "instants": 0, "names": []}
    totals["whole"] = [sitting(folder, told["build"], s, totals) for s in told["sittings"]]
    json.dump(totals, sys.stdout)


if __name__ == "__main__":
    main()
