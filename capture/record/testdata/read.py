"""Reads the record of a build by the page FORMAT.md alone, with nothing but
Python's own library: verifies the chain of each sitting against the head, counts,
and puts together what a verdict rests on. Prints one JSON value.

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


class Build:
    """What a verdict rests on: the steps, and the maker's words about the build."""

    WORDS = ("reworked", "touched nothing", "allowed", "ticked", "answered")

    def __init__(self):
        self.steps, self.words, self.accepted, self.open = [], [], [], None

    def line(self, place, measurement, tags, fields, own):
        if measurement == "reading":
            if self.open and fields.get("step_id") == self.open["id"]:
                self.open["base" if fields.get("base") else "own"].append(
                    (own, tags["instrument"], tags["quantity"], fields.get("value"))
                )
        elif measurement == "step":
            self.mark(place, fields["mark"], tags, fields, own)

    def mark(self, place, mark, tags, fields, own):
        step, about = fields.get("step_id", ""), (fields.get("step_id", ""), tags["stage"])
        if mark == "begin":
            self.close()
            asked = json.loads(fields["step"])
            self.open = {"id": asked["id"], "feed": asked["feed"], "groups": asked["groups"] or [], "volts": asked["volts"]}
            self.open |= {"pace": asked.get("pace", ""), "stage": tags["stage"], "outcome": "", "redone": False}
            self.open |= {"settled": None, "swept": None, "looks": [], "unlooked": False, "base": [], "own": []}
        elif mark == "redone" and self.open and self.open["id"] == step:
            self.open = None
        elif mark == "redone":
            for s in self.last(about):
                s["redone"] = True
        elif mark == "accepted":
            for s in self.last(about) or [None]:
                self.accepted.append((place, s, fields.get("reason", "")))
        elif mark in self.WORDS:
            self.words.append((place, [mark, fields.get("by_name") or tags.get("group", ""), fields.get("reason", "")]))
        elif mark == "taken back":
            self.taken_back((fields["of_sitting"], fields["of_line"]))
        elif self.open and self.open["id"] == step:
            self.within(place, mark, fields, own)

    def within(self, place, mark, fields, own):
        s = self.open
        if mark == "settled":
            s["settled"] = own
        elif mark == "point" and s["swept"] is None:
            s["swept"] = own
        elif mark in ("tripped", "skipped"):
            s["outcome"] = mark
        elif mark == "looked":
            s["looks"].append((place, fields.get("seen", "")))
        elif mark == "end":
            s["outcome"] = fields["outcome"]
            if fields.get("seen") and not s["looks"] and not s["unlooked"]:
                s["looks"].append((place, fields["seen"]))
            self.close()

    def close(self):
        if self.open:
            self.open["outcome"] = self.open["outcome"] or "interrupted"
            self.steps.append(self.open)
        self.open = None

    def last(self, about):
        return [s for s in self.steps if (s["id"], s["stage"]) == about][-1:]

    def taken_back(self, place):
        self.words = [w for w in self.words if w[0] != place]
        self.accepted = [a for a in self.accepted if a[0] != place]
        for s in self.steps + [self.open] * bool(self.open):
            kept = [k for k in s["looks"] if k[0] != place]
            s["unlooked"], s["looks"] = s["unlooked"] or len(kept) < len(s["looks"]), kept

    def told(self):
        self.close()
        out = []
        for s in self.steps:
            from_, to = s["settled"], s["swept"]
            trace = [r for r in s["own"] if from_ is not None and r[0] >= from_ and (to is None or r[0] <= to)]
            draws = {}
            for _, instrument, quantity, value in trace:
                if quantity == "current" and value is not None:
                    draws.setdefault(instrument, []).append(value)
            x = {k: s[k] for k in ("id", "feed", "groups", "volts", "pace", "stage", "outcome", "redone")}
            x |= {"own": len(s["own"]), "base": len(s["base"]), "seen": s["looks"][-1][1] if s["looks"] else ""}
            x["draws"] = {k: sum(v) / len(v) for k, v in draws.items()}
            x["accepted"] = ([reason for _, of, reason in self.accepted if of is s] or [""])[-1]
            out.append(x)
        return out, [w for _, w in self.words]


def head(folder):
    with open(os.path.join(folder, "chain.json"), "rb") as f:
        raw = f.read()
    at = raw.rindex(b'"check"')
    told = json.loads(raw)
    if told["check"] != digest(raw[:at]) or told["version"] != 1:
        raise SystemExit("the head is damaged or newer")
    return told


def sitting(folder, build, listed, totals, verdict):
    """Whether the chain of a sitting is whole up to where the head counts."""
    verdict.close()
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
        verdict.line((listed["number"], number), measurement, tags, fields, own)
        if measurement == "reading":
            totals["readings"] += 1
            totals["instants"] += own
            if fields["status"] == "ok":
                totals["amperes"] += fields["value"]
        elif measurement == "step":
            totals["marks"] += 1
        elif measurement == "sitting" and number == 1:
            totals["names"].append(fields["name"])
        if measurement == "sitting" and fields.get("end"):
            totals["broke_off"].append(fields.get("broke_off", ""))
    return number >= listed["lines"] and check == listed["check"]


def main():
    folder = sys.argv[1]
    told = head(folder)
    totals = {"build": told["build"], "readings": 0, "marks": 0, "amperes": 0.0, "instants": 0, "names": [], "broke_off": []}
    verdict = Build()
    totals["whole"] = [sitting(folder, told["build"], s, totals, verdict) for s in told["sittings"]]
    totals["steps"], totals["words"] = verdict.told()
    json.dump(totals, sys.stdout)


if __name__ == "__main__":
    main()
