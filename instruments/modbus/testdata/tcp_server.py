# An independent Modbus TCP server for the tests: frames, requests, responses and
# registers are python3-pymodbus 3.0.0rc1 of Debian 12, the socket is Python's own.
# (Its own server also needs python3-serial-asyncio, so the loop is here.) Two units:
# 1 is a supply and 2 a shunt, with the registers of the built-in profiles.
# Usage: /usr/bin/python3 tcp_server.py. It prints its port once up.
import socket

from pymodbus.datastore import ModbusSequentialDataBlock as block
from pymodbus.datastore import ModbusSlaveContext
from pymodbus.factory import ServerDecoder
from pymodbus.transaction import ModbusSocketFramer

holding = [0] * 32
holding[2], holding[3] = 1199, 38  # 11.99 V and 0.038 A of the supply's registers
inputs = [0] * 16
inputs[0], inputs[1], inputs[2] = 0xFFFF, 0xF000, 12345  # -4096 counts, 12.345 V
units = {
    1: ModbusSlaveContext(hr=block(0, holding), ir=block(0, [0] * 4), zero_mode=True),
    2: ModbusSlaveContext(hr=block(0, [0] * 4), ir=block(0, inputs), zero_mode=True),
}

listening = socket.socket()
listening.bind(("127.0.0.1", 0))
listening.listen(1)
print(listening.getsockname()[1], flush=True)
while True:
    conn, _ = listening.accept()
    framer = ModbusSocketFramer(ServerDecoder(), client=None)

    def answer(request):
        response = request.execute(units[request.unit_id])
        response.transaction_id = request.transaction_id
        response.unit_id = request.unit_id
        conn.sendall(framer.buildPacket(response))

    try:
        while data := conn.recv(512):
            framer.processIncomingPacket(data, answer, unit=[1, 2])
    except Exception:  # what isn't Modbus: hang up and wait for the next
        pass
    conn.close()
