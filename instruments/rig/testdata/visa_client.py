# An independent SCPI client for the bench: pyvisa with its pure Python backend.
# Arguments: ports of supply, meter and relay board. Prints one JSON object.
import json
import sys

import pyvisa

rm = pyvisa.ResourceManager("@py")


def open_port(path):
    r = rm.open_resource("ASRL%s::INSTR" % path, baud_rate=9600)
    r.read_termination = "\n"
    r.write_termination = "\n"
    r.timeout = 10000
    return r


supply, meter, relays = [open_port(p) for p in sys.argv[1:4]]
out = {"who": [r.query("*IDN?") for r in (supply, meter, relays)]}
relays.write("ROUT:CLOS (@2)")
out["closed"] = relays.query("ROUT:CLOS:STAT?")
supply.write("VOLT 12;CURR 0.1")
supply.write("OUTP ON")
out["opc"] = supply.query("*OPC?")
meter.write("CONF:CURR:DC 0.1")
out["amps"] = float(meter.query_ascii_values("READ?")[0])
out["supply_amps"] = float(supply.query("MEAS:CURR?"))
meter.write("NONSENSE")
out["error"] = meter.query("SYST:ERR?")
supply.write("OUTP OFF")
out["output"] = supply.query("OUTP?")
for r in (supply, meter, relays):
    r.close()
print(json.dumps(out))
