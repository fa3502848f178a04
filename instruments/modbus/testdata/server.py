# An independent Modbus RTU server for the tests: frames, requests, responses and
# registers are python3-pymodbus 3.0.0rc1 of Debian 12, the port is python3-serial.
# (Its own serial server also needs python3-serial-asyncio, so the loop is here.)
# Usage: /usr/bin/python3 server.py PORT [FUNCTIONS [silent]]. It prints "ready" once up.
# With FUNCTIONS, as 3,6, it knows these alone: to others it answers with exception 1, as
# pymodbus does, or says nothing.
import sys

import serial
from pymodbus.datastore import ModbusSequentialDataBlock as block
from pymodbus.datastore import ModbusSlaveContext
from pymodbus.exceptions import NoSuchSlaveException
from pymodbus.factory import ServerDecoder
from pymodbus.pdu import ModbusExceptions
from pymodbus.transaction import ModbusRtuFramer

holding = [0] * 32
holding[2], holding[3] = 1199, 38  # 11.99 V and 0.038 A of the supply's registers
inputs = [0] * 16
inputs[0], inputs[1], inputs[2] = 0xFFFF, 0xF000, 12345  # -4096 counts, 12.345 V
slave = ModbusSlaveContext(
    di=block(0, [1, 0, 1] + [0] * 13), co=block(0, [0] * 32),
    hr=block(0, holding), ir=block(0, inputs), zero_mode=True)

port = serial.Serial(sys.argv[1], 9600, timeout=0.02)
known = [int(f) for f in sys.argv[2].split(",")] if len(sys.argv) > 2 else None
silent = sys.argv[3:] == ["silent"]
framer = ModbusRtuFramer(ServerDecoder(), client=None)


def answer(request):
    unknown = known is not None and request.function_code not in known
    if unknown and silent:
        return
    try:
        response = request.doException(ModbusExceptions.IllegalFunction) if unknown else request.execute(slave)
    except NoSuchSlaveException:
        response = request.doException(ModbusExceptions.GatewayNoResponse)
    response.transaction_id = request.transaction_id
    response.unit_id = request.unit_id
    port.write(framer.buildPacket(response))


print("ready", flush=True)
while True:
    data = port.read(256)
    if data:
        framer.processIncomingPacket(data, answer, unit=[1, 2])
