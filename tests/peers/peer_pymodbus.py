#!/usr/bin/python3
"""An independent Modbus server: python3-pymodbus, on TCP or on a pty.

    peer_pymodbus.py tcp     prints "ready PORT"
    peer_pymodbus.py rtu     prints "ready PATH"

Ends when its standard input does.
"""
import asyncio
import os
import sys
import threading
import tty

import registers

try:
    from pymodbus.datastore import (ModbusSequentialDataBlock, ModbusServerContext,
                                    ModbusSlaveContext, ModbusSparseDataBlock)
    from pymodbus.framer.rtu_framer import ModbusRtuFramer
    from pymodbus.framer.socket_framer import ModbusSocketFramer
    from pymodbus.server.async_io import ModbusSerialServer, ModbusTcpServer
except ImportError as missing:
    sys.exit(f"{missing}: install Debian's python3-pymodbus")


def block(values):
    return ModbusSequentialDataBlock(0, registers.table(values))


def holding():
    """The low addresses whole, the SunSpec ones where they are."""
    values = dict(enumerate(registers.table(registers.HOLDING)))
    return ModbusSparseDataBlock({**values, **registers.HOLDING})


def context():
    unit = ModbusSlaveContext(di=block(registers.DISCRETE), co=block(registers.COILS), hr=holding(),
                              ir=block(registers.INPUT), zero_mode=True)
    return ModbusServerContext(slaves={registers.UNIT: unit}, single=False)


def end_with_stdin():
    sys.stdin.read()
    os._exit(0)


def say_ready(where):
    print("ready", where, flush=True)


async def serve_tcp():
    server = ModbusTcpServer(context(), framer=ModbusSocketFramer, address=("127.0.0.1", 0))
    asyncio.ensure_future(server.serve_forever())
    await server.serving
    say_ready(server.server.sockets[0].getsockname()[1])
    await asyncio.sleep(3600)


def pump(source, sink):
    while True:
        os.write(sink, os.read(source, 512))


def linked_ports():
    """Two ptys whose masters feed each other: what goes in at one port comes
    out at the other."""
    ports = [os.openpty() for _ in range(2)]
    for _, port in ports:
        tty.setraw(port)
    for a, b in ((0, 1), (1, 0)):
        threading.Thread(target=pump, args=(ports[a][0], ports[b][0]), daemon=True).start()
    return [os.ttyname(port) for _, port in ports]


async def serve_rtu():
    ours, theirs = linked_ports()
    server = ModbusSerialServer(context(), framer=ModbusRtuFramer, port=ours, baudrate=19200,
                                bytesize=8, parity="N", stopbits=1, timeout=1)
    await server.start()
    say_ready(theirs)
    await server.serve_forever()


threading.Thread(target=end_with_stdin, daemon=True).start()
asyncio.run({"tcp": serve_tcp, "rtu": serve_rtu}[sys.argv[1]]())
