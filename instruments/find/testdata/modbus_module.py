"""Modbus RTU modules on a pseudo terminal: frames, requests, responses and registers are
python3-pymodbus 3.0.0rc1 of Debian 12. A pseudo terminal carries bytes at any speed and
parity; so what comes is dropped, as framing errors are, unless whoever opened it set the
speed and parity that the modules have. (Of even parity Linux leaves only that parity is
checked, INPCK without PARODD.)

Usage: /usr/bin/python3 modbus_module.py BAUD PARITY ADDRESS,ADDRESS,... [SECONDS] It
prints the name of its port, and answers SECONDS after a request came. On stdin "end"
makes it print how many requests of each function came, as JSON, and end.
"""
import json
import os
import pty
import select
import sys
import termios
import time
import tty

from pymodbus.datastore import ModbusSequentialDataBlock as block
from pymodbus.datastore import ModbusSlaveContext
from pymodbus.factory import ServerDecoder
from pymodbus.transaction import ModbusRtuFramer

baud, parity, addresses = sys.argv[1], sys.argv[2], [int(a) for a in sys.argv[3].split(",")]
late = float(sys.argv[4]) if len(sys.argv) > 4 else 0.0
inputs = [0] * 16
inputs[0], inputs[1], inputs[2] = 0xFFFF, 0xF000, 12345  # -4096 counts, 12.345 V
module = ModbusSlaveContext(di=block(0, [0] * 16), co=block(0, [0] * 16), hr=block(0, [0] * 16),
                            ir=block(0, inputs), zero_mode=True)
master, slave = pty.openpty()
tty.setraw(slave)
print(os.ttyname(slave), flush=True)
framer = ModbusRtuFramer(ServerDecoder(), client=None)
seen = {}


def fits():
    iflag, _, cflag, _, ispeed, _, _ = termios.tcgetattr(master)[:7]
    said = "none" if not iflag & termios.INPCK else "odd" if cflag & termios.PARODD else "even"
    return ispeed == getattr(termios, "B" + baud) and said == parity


def answer(request):
    seen[str(request.function_code)] = seen.get(str(request.function_code), 0) + 1
    response = request.execute(module)
    response.transaction_id, response.unit_id = request.transaction_id, request.unit_id
    time.sleep(late)
    os.write(master, framer.buildPacket(response))


while True:
    ready, _, _ = select.select([master, 0], [], [], 0.02)
    if 0 in ready:
        print(json.dumps(seen), flush=True)
        break
    if master in ready:
        data = os.read(master, 256)
        if fits():
            framer.processIncomingPacket(data, answer, unit=addresses)
    else:
        framer.resetFrame()  # a silence ends what was no frame
