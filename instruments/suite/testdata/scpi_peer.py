"""Instruments for the contract of the drivers, written from the standards by a hand that
had not seen the drivers: program messages, white space, numbers and responses after IEEE
488.2-1992 (7 and 8, common commands 10), the tree of headers, errors and subsystems after
SCPI-1999 (volume 1: 6, 7; volume 2: INSTrument, MEASure, OUTPut, ROUTe, SENSe, SOURce,
STATus, SYSTem; errors 21.8). Clauses are from memory. It takes any header of its tree in
short or long form, in either case, several in one message, with or without optional nodes,
and nothing else.

The oddities bend it as instruments of the trade do: common practice, no source; their
names are those of the simulated bench. SYSTem:REMote, SYSTem:LOCal and OUTPut:WATChdog
are no part of SCPI-1999 and are known with these oddities alone.

Usage: scpi_peer.py. It reads one JSON object a line and answers each with one:
  {"new": KIND, "odd": [NAMES], "identity": TEXT, "outputs": N}  a fresh instrument
  {"at": SECONDS, "hear": TEXT}                                   bytes came: what it says
  {"at": SECONDS, "world": {...}}                                 what there is to measure; what is spoiled
  {"at": SECONDS, "tell": true}                                   what it is set to
Or: scpi_peer.py --listen KIND ODD,ODD,... [IDENTITY] for a raw socket on 127.0.0.1; it prints the port.
"""
import json
import re
import socket
import sys
import time

INFINITY = 9.9e37  # SCPI-1999, volume 1, 7.2.1.4
WHITE = "".join(chr(c) for c in range(33) if c != 10)  # 488.2, 7.4.1.2


class Wrong(Exception):
    """An entry of the error queue."""

    TEXT = {-101: "Invalid character", -102: "Syntax error", -103: "Invalid separator", -104: "Data type error",
            -108: "Parameter not allowed", -109: "Missing parameter", -113: "Undefined header",
            -131: "Invalid suffix", -151: "Invalid string data", -171: "Invalid expression",
            -201: "Invalid while in local", -222: "Data out of range", -224: "Illegal parameter value",
            -350: "Queue overflow"}

    def __init__(self, code):
        super().__init__(code)
        self.code = code


def pieces(text, separator):
    """Split outside strings and expressions."""
    out, start, quote, depth = [], 0, "", 0
    for i, c in enumerate(text):
        if quote:
            quote = "" if c == quote else quote
        elif c in "\"'":
            quote = c
        elif c == "(":
            depth += 1
        elif c == ")":
            depth -= 1
        elif c == separator and depth == 0:
            out.append(text[start:i])
            start = i + 1
    if quote:
        raise Wrong(-151)
    if depth:
        raise Wrong(-171)
    return out + [text[start:]]


def header(notation):
    """The headers that a line in the standard's notation stands for: VOLTage[:LEVel] and so on."""
    def mnemonic(m):
        long = m.group(0)
        short = "".join(c for c in long if not c.islower())
        return "(?:%s|%s)" % (short, long.upper())

    pattern = re.sub(r"[A-Z][A-Za-z]*", mnemonic, notation)
    return re.compile("^" + pattern.replace("[", "(?:").replace("]", ")?") + "$")


def number(data, units, low, high):
    """DECIMAL NUMERIC PROGRAM DATA with a suffix, or MINimum, MAXimum."""
    word = data.upper()
    if word in ("MIN", "MINIMUM"):
        return low
    if word in ("MAX", "MAXIMUM"):
        return high
    m = re.match(r"^([+-]?(?:\d+\.?\d*|\.\d+)(?:[%s]*E[%s]*[+-]?\d+)?)[%s]*([A-Z]*)$" % ((re.escape(WHITE),) * 3), word)
    if not m:
        raise Wrong(-104)
    scale = {"": 1.0, units: 1.0, "M" + units: 1e-3, "U" + units: 1e-6, "K" + units: 1e3}.get(m.group(2))
    if scale is None:
        raise Wrong(-131)
    value = float(re.sub("[%s]" % re.escape(WHITE), "", m.group(1))) * scale
    if not low <= value <= high:
        raise Wrong(-222)
    return value


def boolean(data):
    word = data.upper()
    if word in ("ON", "OFF"):
        return word == "ON"
    return round(number(data, "", -32767, 32767)) != 0  # SCPI-1999, volume 1, 7.3


def channels(data, most):
    """EXPRESSION PROGRAM DATA that is a channel list, SCPI-1999, volume 1, 8.3.2."""
    m = re.match(r"^\(@(.*)\)$", data)
    if not m:
        raise Wrong(-171 if data.startswith("(") else -104)
    out = []
    for entry in m.group(1).split(","):
        ends = entry.strip(WHITE).split(":")
        if not all(re.match(r"^\d+$", x) for x in ends) or len(ends) > 2:
            raise Wrong(-171)
        first, last = int(ends[0]), int(ends[-1])
        step = 1 if last >= first else -1
        out += range(first, last + step, step)
    if not all(1 <= c <= most for c in out):
        raise Wrong(-222)
    return out


def nr3(x):
    return "%.6E" % x  # 488.2, 8.7.4


class Output:
    """One output of a supply, and what hangs on it."""

    MOST = {"volts": 30.0, "amps": 3.0, "over_volts": 33.0, "over_amps": 3.3}

    def __init__(self):
        self.reset()
        self.true_volts = self.true_amps = 0.0

    def reset(self):
        self.volts, self.amps, self.on = 0.0, 0.1, False
        self.over_volts, self.over_amps = 33.0, 3.3
        self.limiting = False


class Instrument:
    def __init__(self, kind, odd=(), identity="", outputs=1):
        self.kind, self.odd = kind, set(odd)
        self.identity = identity or "INVENTED WORKS,%s,BK-0417,2.3" % kind.upper()
        self.outputs = [Output() for _ in range(outputs)]
        self.chosen = 0
        self.closed = set()
        self.function, self.ranges, self.auto = "CURR", {"CURR": 0.2, "VOLT": 20.0}, {"CURR": True, "VOLT": True}
        self.over = self.deaf = self.remote = False
        self.queue, self.event, self.enable, self.service = [], 0x80, 0, 0
        self.watch, self.heard = 0.0, 0.0
        self.buffer = ""
        self.tree = [(header(n), query, act) for n, query, act in self.commands()]

    # What goes on the line.

    def hear(self, text, at):
        self.look(at)
        self.heard = at
        said = text if "echo" in self.odd else ""
        self.buffer += text
        while "\n" in self.buffer:
            message, self.buffer = self.buffer.split("\n", 1)
            response = self.execute(message)
            said += response + "\n" if response else ""
            said += "> " if "prompt" in self.odd else ""
        return said

    def look(self, at):
        """The watchdog of an output."""
        if self.watch > 0 and at - self.heard > self.watch:
            for o in self.outputs:
                o.on = False

    def execute(self, message):
        """One PROGRAM MESSAGE; its RESPONSE MESSAGE, or none."""
        responses, path = [], ""
        try:
            for unit in pieces(message.strip(WHITE), ";"):
                unit = unit.strip(WHITE)
                if not unit:
                    continue
                name, data = re.match(r"^([^%s]*)(.*)$" % re.escape(WHITE), unit, re.S).groups()
                name, data = name.upper(), data.strip(WHITE)
                if name[0] != "*":
                    # SCPI-1999, volume 1, 6.2.4: a header begins where the last one stood.
                    name = name[1:] if name[0] == ":" else path + name
                    path = name.rstrip("?").rpartition(":")[0]
                    path += ":" if path else ""
                answer = self.unit(name, [d.strip(WHITE) for d in pieces(data, ",")] if data else [])
                if answer is not None:
                    responses.append(answer)
        except Wrong as w:
            self.failed(w)
        return ";".join(responses)

    def unit(self, name, data):
        if not re.match(r"^\*?[A-Z][A-Z0-9_:]*\??$", name):
            raise Wrong(-101 if re.search(r"[^\x20-\x7e]", name) else -102)
        query = name.endswith("?")
        for form, is_query, act in self.tree:
            if is_query == query and form.match(name.rstrip("?")):
                if "remote" in self.odd and not self.remote and not query and name[0] != "*" and not name.startswith("SYST"):
                    raise Wrong(-201)
                try:
                    return act(*data)
                except TypeError:
                    raise Wrong(-108 if len(data) >= act.__code__.co_argcount else -109) from None
        raise Wrong(-113)

    def failed(self, wrong):
        self.event |= 0x20 if wrong.code > -200 else 0x10
        if len(self.queue) == 16:
            self.queue[-1] = -350
        else:
            self.queue.append(wrong.code)

    # What it does.

    def commands(self):
        out = [
            (r"\*CLS", False, self.clear), (r"\*RST", False, self.reset), (r"\*WAI", False, lambda: None),
            (r"\*IDN", True, self.who), (r"\*OPC", True, lambda: "1"), (r"\*OPC", False, self.complete),
            (r"\*TST", True, lambda: "0"), (r"\*ESR", True, self.events), (r"\*STB", True, self.status),
            (r"\*ESE", True, lambda: str(self.enable)), (r"\*SRE", True, lambda: str(self.service)),
            ("SYSTem:ERRor[:NEXT]", True, self.error), ("SYSTem:VERSion", True, lambda: "1999.0"),
        ]
        if "remote" in self.odd:
            out += [("SYSTem:REMote", False, lambda: setattr(self, "remote", True)),
                    ("SYSTem:LOCal", False, lambda: setattr(self, "remote", False))]
        return out + {"supply": self.supply, "meter": self.meter, "relays": self.relays}[self.kind]()

    def supply(self):
        def level(what, unit, of):
            def put(data):
                value = number(data, unit, 0.0, Output.MOST[what])
                if what == "amps" and "coarse" in self.odd:
                    value = round(value / 0.01) * 0.01
                self.obey(lambda: setattr(self.output(), what, round(value, 4)))

            def get(least="", *more):
                if more or least.upper() not in ("", "MIN", "MAX"):
                    raise Wrong(-104)
                values = {"MIN": 0.0, "MAX": Output.MOST[what]}
                return self.written(values.get(least.upper(), getattr(self.output(), what)), "%.4f")

            return [(of, False, put), (of, True, get)]

        source = "[SOURce:]"
        out = (level("volts", "V", source + "VOLTage[:LEVel][:IMMediate][:AMPLitude]")
               + level("amps", "A", source + "CURRent[:LEVel][:IMMediate][:AMPLitude]")
               + level("over_volts", "V", source + "VOLTage:PROTection[:LEVel]")
               + level("over_amps", "A", source + "CURRent:PROTection[:LEVel]"))
        out += [
            ("OUTPut[:STATe]", False, self.switch), ("OUTPut[:STATe]", True, lambda: "%d" % self.output().on),
            ("MEASure[:SCALar]:VOLTage[:DC]", True, lambda: self.measured("V", self.output().true_volts)),
            ("MEASure[:SCALar]:CURRent[:DC]", True, lambda: self.measured("A", self.output().true_amps)),
        ]
        if "no-limiting" not in self.odd:
            out.append(("STATus:QUEStionable:CONDition", True, lambda: str(2 * self.output().limiting)))
        if "watchdog" in self.odd:
            out += [("OUTPut:WATChdog", False, self.watchdog), ("OUTPut:WATChdog", True, lambda: self.written(self.watch, "%.1f"))]
        if len(self.outputs) > 1:
            out += [("INSTrument:NSELect", False, self.select), ("INSTrument:NSELect", True, lambda: str(self.chosen + 1))]
        return out

    def meter(self):
        out = [("READ", True, self.reading), ("FETCh", True, self.reading), ("INITiate[:IMMediate]", False, lambda: None)]
        for function, most in (("CURRent", 2.0), ("VOLTage", 200.0)):
            short = function[:4]
            out += [
                ("CONFigure[:SCALar]:%s[:DC]" % function, False, lambda f=short: setattr(self, "function", f)),
                ("[SENSe:]%s[:DC]:RANGe[:UPPer]" % function, False, lambda d, f=short, m=most: self.range(f, d, m)),
                ("[SENSe:]%s[:DC]:RANGe[:UPPer]" % function, True, lambda f=short: self.written(self.ranges[f], "%.6E")),
                ("[SENSe:]%s[:DC]:RANGe:AUTO" % function, False, lambda d, f=short: self.auto.update({f: boolean(d)})),
                ("[SENSe:]%s[:DC]:RANGe:AUTO" % function, True, lambda f=short: "%d" % self.auto[f]),
            ]
        return out

    def relays(self):
        def change(data, closed):
            list_ = set(channels(data, 64))
            self.obey(lambda: self.closed.update(list_) if closed else self.closed.difference_update(list_))

        return [
            ("ROUTe:CLOSe", False, lambda d: change(d, True)), ("ROUTe:OPEN", False, lambda d: change(d, False)),
            ("ROUTe:OPEN:ALL", False, lambda: self.obey(self.closed.clear)),
            ("ROUTe:CLOSe", True, lambda d: ",".join("%d" % (c in self.closed) for c in channels(d, 64))),
            ("ROUTe:CLOSe:STATe", True, lambda: "(@%s)" % ",".join(map(str, sorted(self.closed)))),
        ]

    def obey(self, act):
        if not self.deaf:
            act()

    def output(self):
        return self.outputs[self.chosen]

    def switch(self, data):
        on = boolean(data)
        self.obey(lambda: setattr(self.output(), "on", on))

    def select(self, data):
        self.chosen = int(number(data, "", 1, len(self.outputs))) - 1

    def watchdog(self, data):
        self.watch = number(data, "S", 0.0, 600.0)

    def range(self, function, data, most):
        value = number(data, function[0].replace("C", "A"), 0.0, most)
        steps = [most / 100, most / 10, most]
        self.ranges[function] = min(s for s in steps if s >= value)
        self.auto[function] = False

    def reading(self):
        o = self.outputs[0]
        value = o.true_amps if self.function == "CURR" else o.true_volts
        if self.auto[self.function]:
            most = {"CURR": 2.0, "VOLT": 200.0}[self.function]
            self.ranges[self.function] = min([s for s in (most / 100, most / 10, most) if s * 1.1 >= abs(value)] or [most])
        said = self.written(INFINITY if self.over else value, "%+.8E")
        return "READ=" + said if "annotated" in self.odd else said

    def measured(self, unit, value):
        said = self.written(value, "%.6E")
        if "annotated" in self.odd:
            return "%s=%s %s" % ({"A": "I"}.get(unit, unit), said, unit)
        return said

    def written(self, value, form):
        """NR2 or NR3; the shortest form is NR1 where that will do."""
        return ("%.9g" % value).upper() if "shortest" in self.odd else form % value

    def who(self):
        fields = self.identity.split(",")  # 488.2, 10.14: maker, model, serial number, version
        if "one-field" in self.odd:
            return " ".join(fields)
        return ",".join(fields + ["2026"] if "five-fields" in self.odd else fields)

    def error(self):
        code = self.queue.pop(0) if self.queue else 0
        text = Wrong.TEXT.get(code, "No error")
        return ("%d,%s" if "unquoted" in self.odd else '%d,"%s"') % (code, text)

    def clear(self):
        self.queue, self.event = [], 0

    def reset(self):
        for o in self.outputs:
            o.reset()
        self.closed = set()

    def complete(self):
        self.event |= 1

    def events(self):
        was, self.event = self.event, 0
        return str(was)

    def status(self):
        return str(4 * bool(self.queue) + 32 * bool(self.event & self.enable))


def serve_lines():
    it = None
    for line in sys.stdin:
        ask = json.loads(line)
        if "new" in ask:
            it = Instrument(ask["new"], ask.get("odd") or (), ask.get("identity", ""), ask.get("outputs") or 1)
            answer = {}
        elif "hear" in ask:
            answer = {"say": it.hear(ask["hear"], ask["at"])}
        elif "world" in ask:
            w = ask["world"]
            o = it.outputs[-1]  # the one in use: of several the last
            o.true_volts, o.true_amps = w.get("volts", o.true_volts), w.get("amps", o.true_amps)
            it.over, it.deaf = w.get("over", it.over), w.get("deaf", it.deaf)
            answer = {}
        else:
            it.look(ask["at"])
            o = it.outputs[-1]
            answer = {"volts": o.volts, "amps": o.amps, "on": o.on, "closed": sorted(it.closed), "remote": it.remote,
                      "others_on": any(x.on for x in it.outputs[:-1])}
        print(json.dumps(answer), flush=True)


def serve_socket(kind, odd, identity=""):
    it = Instrument(kind, odd, identity)
    it.outputs[0].true_volts, it.outputs[0].true_amps = 11.99, 0.038
    listener = socket.create_server(("127.0.0.1", 0))
    print(listener.getsockname()[1], flush=True)
    while True:
        line, _ = listener.accept()
        with line:
            while True:
                got = line.recv(4096)
                if not got:
                    break
                if "slow" in odd:
                    time.sleep(0.25 * got.count(b"\n"))
                said = it.hear(got.decode("latin-1"), time.monotonic())
                line.sendall(said.encode("latin-1"))


if sys.argv[1:2] == ["--listen"]:
    serve_socket(sys.argv[2], [o for o in sys.argv[3].split(",") if o], *sys.argv[4:5])
else:
    serve_lines()
