#!/usr/bin/python3
"""A meter on a pty, as plain bytes of Modbus over Serial Line V1.02: it hears only what
is sent at its own baud, as a real one would. (A pty has no parity: Linux masks it; a port
with a mark in VEOL2 has the wrong one.)

    peer_meter.py KIND UNIT BAUD [FAULT]    prints "ready PATH"

KIND float is a three-phase float meter (input registers: volts at 0, 2, 4, watts at
0x34, hertz at 0x46), KIND sunspec has the SunSpec models of registers.py in holding
registers, KIND strange has registers that mean nothing known; FAULT
echo sends back what it hears before it answers. Every question is reported as
"asked HEX". Ends when its standard input does.
"""
import os
import select
import struct
import sys
import termios
import tty

import registers

KIND, UNIT, BAUD = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
FAULT = sys.argv[4] if len(sys.argv) > 4 else ""
SPEEDS = {2400: termios.B2400, 9600: termios.B9600, 19200: termios.B19200,
          115200: termios.B115200}
FLOATS = {0: 231.2, 2: 229.8, 4: 230.4, 6: 1.5, 8: 0.5, 10: 0.25, 0x0C: 345.0, 0x0E: 115.0,
          0x10: 57.0, 0x34: 517.0, 0x46: 50.02, 0x48: 1234.5, 0x4A: 12.25}


def crc(frame):
    """Serial Line V1.02, appendix B."""
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return struct.pack("<H", value)


def words():
    image = {}
    for address, value in FLOATS.items():
        image[address], image[address + 1] = struct.unpack(">HH", struct.pack(">f", value))
    return image


IMAGE = {"float": words, "sunspec": lambda: registers.sunspec(-1234, 1),
         "strange": lambda: {address: 7 for address in range(20)}}[KIND]()
LAST = {"float": 0x200, "sunspec": max(IMAGE), "strange": 19}[KIND]
FIRST = 40000 if KIND == "sunspec" else 0
TABLE = 4 if KIND == "float" else 3


def answer(frame):
    function, address, count = struct.unpack(">BHH", frame[1:6])
    if function != TABLE:
        return bytes([UNIT, function | 0x80, 1])
    if not 1 <= count <= 125 or address < FIRST or address + count - 1 > LAST:
        return bytes([UNIT, function | 0x80, 2])
    values = [IMAGE.get(address + i, 0) for i in range(count)]
    return struct.pack(f">BBB{count}H", UNIT, function, 2 * count, *values)


def is_our_line():
    """The master of a pty sees the settings of the port; see tests/sluice/parity_line.c."""
    line = termios.tcgetattr(ours)
    return line[5] == SPEEDS[BAUD] and line[6][termios.VEOL2] == b"\0"


ours, theirs = os.openpty()
tty.setraw(theirs)
print("ready", os.ttyname(theirs), flush=True)
heard = b""
while True:
    readable, _, _ = select.select([ours, sys.stdin], [], [])
    if sys.stdin in readable and not sys.stdin.readline():
        break
    if ours not in readable:
        continue
    heard += os.read(ours, 256)
    if len(heard) < 8:
        continue
    frame, heard = heard, b""
    print("asked", frame.hex(), flush=True)
    if FAULT == "echo":
        os.write(ours, frame)
    if is_our_line() and frame[0] == UNIT and crc(frame[:-2]) == frame[-2:]:
        reply = answer(frame)
        os.write(ours, reply + crc(reply))
