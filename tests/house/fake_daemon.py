#!/usr/bin/python3
"""The smallest thing that keeps a lock-step clock: polls a meter, switches a coil.

Its rule is deliberately crude (on while enough is spare, and from 14:00 on until
3 h have been run): it is there to exercise the house, not to control it well.
Modbus TCP is written out by hand, so that a whole day runs in seconds and shares
no code with the house or the daemon.

usage: fake_daemon.py CLOCK_SOCKET TCP_PORT [--exit-off] [--stop-at MONO_MS]
"""
import socket
import struct
import sys

START_W, STOP_W = 3600, 300


class Modbus:
    def __init__(self, port):
        self.peer = socket.create_connection(("127.0.0.1", port))
        self.peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.transaction = 0

    def ask(self, unit, pdu):
        self.transaction = (self.transaction + 1) & 0xFFFF
        self.peer.sendall(struct.pack(">HHHB", self.transaction, 0, len(pdu) + 1, unit) + pdu)
        answer = self.peer.recv(260)
        transaction, protocol, length, who = struct.unpack(">HHHB", answer[:7])
        assert (transaction, protocol, who) == (self.transaction, 0, unit), answer
        assert length == len(answer) - 6, answer
        return answer[7:]

    def float_input(self, unit, address):
        answer = self.ask(unit, struct.pack(">BHH", 4, address, 2))
        assert answer[:2] == b"\x04\x04", answer
        return struct.unpack(">f", answer[2:])[0]

    def write_coil(self, unit, coil, on):
        request = struct.pack(">BHH", 5, coil, 0xFF00 if on else 0)
        assert self.ask(unit, request) == request

    def read_coil(self, unit, coil):
        return bool(self.ask(unit, struct.pack(">BHH", 1, coil, 1))[2])


def main():
    clock = socket.socket(socket.AF_UNIX)
    clock.connect(sys.argv[1])
    lines = clock.makefile("r")
    modbus = Modbus(int(sys.argv[2]))
    stop_at = int(sys.argv[sys.argv.index("--stop-at") + 1]) if "--stop-at" in sys.argv else None
    on, on_ms, last_ms, start_ms = modbus.read_coil(10, 0), 0, None, None
    for line in lines:
        word, mono, wall, trusted = line.split()
        assert word == "grant" and trusted in "01"
        mono = int(mono)
        if stop_at is not None and mono >= stop_at:
            return
        start_ms = mono if start_ms is None else start_ms
        on_ms += (mono - last_ms) if on and last_ms is not None else 0
        last_ms = mono
        grid_w = modbus.float_input(1, 0x34)
        late = mono - start_ms >= 14 * 3600000 and on_ms < 3 * 3600000
        want = late or (grid_w < STOP_W if on else grid_w < -START_W)
        if want != on:
            modbus.write_coil(10, 0, want)
            on = modbus.read_coil(10, 0)
            assert on == want
        clock.sendall(b"done\n")
    if "--exit-off" in sys.argv:
        modbus.write_coil(10, 0, False)


main()
