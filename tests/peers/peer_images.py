#!/usr/bin/python3
"""python3-pymodbus serving the register images of tests/meter, one meter a unit: 1 is the
first in the file. Registers that no image has hold 0xABCD, as in the tests of the room.

    peer_images.py tcp FILE     prints "ready PORT"
    peer_images.py rtu FILE     prints "ready PATH"

Each request is told as "asked UNIT FUNCTION ADDRESS COUNT", each write as "written UNIT".
Ends when its standard input does.
"""
import asyncio
import os
import sys
import threading
import tty

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.framer.rtu_framer import ModbusRtuFramer
from pymodbus.framer.socket_framer import ModbusSocketFramer
from pymodbus.server.async_io import ModbusSerialServer, ModbusTcpServer


class Told(ModbusSlaveContext):
    unit = 0

    def getValues(self, fc_as_hex, address, count=1):
        print("asked", self.unit, fc_as_hex, address, count, flush=True)
        return super().getValues(fc_as_hex, address, count)

    def setValues(self, fc_as_hex, address, values):
        print("written", self.unit, flush=True)
        super().setValues(fc_as_hex, address, values)


def images(path):
    """The first case of each meter: its registers by table."""
    found, cases = [], 0
    for line in open(path, encoding="ascii"):
        words = line.split()
        if words[0] == "meter":
            found.append({"holding": [0xABCD] * 65536, "input": [0xABCD] * 65536})
            cases = 0
        elif words[0] == "case":
            cases += 1
        elif words[0] in ("holding", "input") and cases == 1:
            at = int(words[1], 16)
            found[-1][words[0]][at:at + len(words) - 2] = [int(word, 16) for word in words[2:]]
    return found


def context(path):
    units = {}
    for number, image in enumerate(images(path), 1):
        units[number] = Told(hr=ModbusSequentialDataBlock(0, image["holding"]),
                             ir=ModbusSequentialDataBlock(0, image["input"]), zero_mode=True)
        units[number].unit = number
    return ModbusServerContext(slaves=units, single=False)


def end_with_stdin():
    sys.stdin.read()
    os._exit(0)


async def serve_tcp():
    server = ModbusTcpServer(context(sys.argv[2]), framer=ModbusSocketFramer,
                             address=("127.0.0.1", 0))
    asyncio.ensure_future(server.serve_forever())
    await server.serving
    print("ready", server.server.sockets[0].getsockname()[1], flush=True)
    await asyncio.sleep(3600)


def pump(source, sink):
    while True:
        os.write(sink, os.read(source, 512))


async def serve_rtu():
    ports = [os.openpty() for _ in range(2)]
    for _, port in ports:
        tty.setraw(port)
    for a, b in ((0, 1), (1, 0)):
        threading.Thread(target=pump, args=(ports[a][0], ports[b][0]), daemon=True).start()
    ours, theirs = (os.ttyname(port) for _, port in ports)
    server = ModbusSerialServer(context(sys.argv[2]), framer=ModbusRtuFramer, port=ours,
                                baudrate=9600, bytesize=8, parity="N", stopbits=1, timeout=1)
    await server.start()
    print("ready", theirs, flush=True)
    await server.serve_forever()


threading.Thread(target=end_with_stdin, daemon=True).start()
asyncio.run({"tcp": serve_tcp, "rtu": serve_rtu}[sys.argv[1]]())
