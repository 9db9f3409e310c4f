#!/usr/bin/python3
"""A peer that misbehaves as told: a meter, relay board or adapter gone wrong.

    peer_rogue.py tcp|pty    prints "ready PORT" or "ready PATH"

Every question is reported as "asked HEX" (the whole frame). Orders on standard
input, each answered by "done":

    behave A B C    the next questions are treated so, one each; the last stays
    vanish          the pty is pulled out: its name goes too (tcp: stop listening)
    return          it is back under the same name (tcp: the same port)
    say HEX         these bytes go onto the wire, unasked
    coil A V        another hand at the board; also: register A V
    refuse A B      reading any of the registers A to B is an illegal data address;
                    "refuse 1 0": none is

Written from the standard alone: it shares no code with sluice or its libraries.
Holding and input registers not listed in registers.py hold their own address.
"""
import os
import select
import socket
import struct
import sys
import tempfile
import time
import tty

import registers

registers_written = {}
coils = dict(registers.COILS)
discrete = dict(registers.DISCRETE)
listed = {3: registers.HOLDING, 4: registers.INPUT}


def crc(frame):
    """Serial Line V1.02, appendix B."""
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return struct.pack("<H", value)


def register(function, address):
    if address in registers_written:
        return registers_written[address]
    return listed[function].get(address, address)


def bits(of, address, count):
    data = bytearray((count + 7) // 8)
    for i in range(count):
        data[i // 8] |= of.get(address + i, 0) << i % 8
    return bytes([len(data)]) + bytes(data)


def right_answer(question, does=True):
    """Application Protocol V1.1b3, section 6; unit and function included."""
    function = question[1]
    address, second = struct.unpack(">HH", question[2:6])
    if function in (1, 2):
        data = bits(coils if function == 1 else discrete, address, second)
    elif function in (3, 4):
        words = [register(function, address + i) for i in range(second)]
        data = bytes([2 * second]) + struct.pack(f">{second}H", *words)
    else:
        data = question[2:6]
        if does:
            obey(function, address, second, question)
    return question[:2] + data


def obey(function, address, second, question):
    if function == 5:
        coils[address] = 1 if second else 0
    elif function == 6:
        registers_written[address] = second
    elif function == 16:
        for i, value in enumerate(struct.unpack(f">{second}H", question[7:7 + 2 * second])):
            registers_written[address + i] = value


class Serial:
    """A pty under a name that stays."""

    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="sluice-peer-")
        self.name = os.path.join(self.folder, "port")
        self.open()

    def open(self):
        self.master, self.port = os.openpty()
        tty.setraw(self.port)
        os.symlink(os.ttyname(self.port), self.name)
        self.input = b""

    def vanish(self):
        os.unlink(self.name)
        os.close(self.master)
        os.close(self.port)
        self.master = None

    def files(self):
        return [] if self.master is None else [self.master]

    def read(self, _):
        self.input += os.read(self.master, 512)
        while len(self.input) >= 8:
            size = 9 + self.input[6] if self.input[1] == 16 else 8
            if len(self.input) < size:
                return
            frame, self.input = self.input[:size], self.input[size:]
            yield frame, frame[:-2]

    def changed(self):
        return False

    def frame(self, answer):
        return answer + crc(answer)

    def write(self, frame):
        if self.master is not None:
            os.write(self.master, frame)

    def end(self):
        if self.master is not None:
            os.unlink(self.name)
        os.rmdir(self.folder)


class Tcp:
    def __init__(self):
        self.number = 0
        self.open()

    def open(self):
        self.listener = socket.socket()
        self.listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.listener.bind(("127.0.0.1", self.number))
        self.listener.listen(5)
        self.number = self.name = self.listener.getsockname()[1]
        self.peer, self.input, self.transaction, self.new = None, b"", b"\0\0", False

    def vanish(self):
        self.hang_up()
        self.listener.close()
        self.listener = None

    def hang_up(self):
        if self.peer:
            self.peer.close()
        self.peer, self.input = None, b""

    def files(self):
        return [f for f in (self.listener, self.peer) if f]

    def read(self, ready):
        if ready is self.listener:
            self.hang_up()
            self.peer, self.new = self.listener.accept()[0], True
            return
        try:
            got = self.peer.recv(512)
        except ConnectionError:
            got = b""
        if not got:
            self.hang_up()
            return
        self.input += got
        while len(self.input) >= 6:
            size = 6 + struct.unpack(">H", self.input[4:6])[0]
            if len(self.input) < size:
                return
            frame, self.input = self.input[:size], self.input[size:]
            self.transaction = frame[:2]
            yield frame, frame[6:]

    def changed(self):
        """Another connection than at the last call."""
        new, self.new = self.new, False
        return new

    def frame(self, answer):
        return self.transaction + struct.pack(">HH", 0, len(answer)) + answer

    def write(self, frame):
        if self.peer:
            try:
                self.peer.sendall(frame)
            except ConnectionError:
                self.hang_up()

    def end(self):
        pass


class Rogue:
    def __init__(self, wire):
        self.wire = wire
        self.plan = ["good"]
        self.previous = None
        self.refused = (1, 0)
        self.later = []  # (when, frame): a slow device's, to the peer that asked

    def behave(self, name, frame, question):
        """What goes onto the wire for this question."""
        wire = self.wire
        name, _, number = name.partition(":")
        number = int(number or 0)
        good = right_answer(question, does=name not in ("silent", "lie", "exception", "deaf"))
        whole = wire.frame(good)
        if name in ("good", "lie"):
            return self.refusal(question) or whole
        if name == "twice":
            return whole + whole
        if name in ("silent", "deaf"):
            return b""
        if name == "garbage":
            return bytes((37 * i + 11) % 256 for i in range(40))
        if name == "wrong-unit":
            return wire.frame(bytes([good[0] + 1]) + good[1:])
        if name == "truncated":
            return whole[:-3]
        if name == "bad-crc":
            return whole[:-1] + bytes([whole[-1] ^ 0x55])
        if name == "short":  # well-formed, but one register less than was asked for
            return wire.frame(good[:2] + bytes([good[2] - 2]) + good[3:-2])
        if name == "long":
            return wire.frame(good[:2] + bytes([good[2] + 2]) + good[3:] + b"\0\0")
        if name == "other-function":
            return wire.frame(bytes([good[0], 7 - good[1]]) + good[2:])
        if name == "other-order":  # confirms another address
            return wire.frame(good[:2] + bytes([good[2], good[3] ^ 1]) + good[4:])
        if name == "exception":
            return wire.frame(bytes([good[0], good[1] | 0x80, number]))
        if name == "previous":  # a peer that lags one question behind
            return self.previous or b""
        if name == "late":
            self.later.append((time.monotonic() + number / 1000, whole))
            return b""
        if name == "drip":
            for i in range(len(whole)):
                self.later.append((time.monotonic() + number * (i + 1) / 1000, whole[i:i + 1]))
            return b""
        if name == "echo":  # the adapter's fault: the question comes back first
            return frame + whole
        if name == "echo-only":
            return frame
        if name == "close":
            wire.hang_up()
            return b""
        if name == "number":  # another transaction number, all else right
            return bytes([whole[0] ^ 0x40]) + whole[1:]
        if name == "protocol":
            return whole[:3] + b"\x07" + whole[4:]
        sys.exit(f"no behaviour named {name}")

    def refusal(self, question):
        """The unit has no register, and no input, from self.refused[0] to [1]."""
        address, count = struct.unpack(">HH", question[2:6])
        first, last = self.refused
        if question[1] not in (2, 3, 4) or max(first, address) > min(last, address + count - 1):
            return None
        return self.wire.frame(bytes([question[0], question[1] | 0x80, 2]))

    def asked(self, frame, question):
        print("asked", frame.hex(), flush=True)
        name = self.plan[0] if len(self.plan) == 1 else self.plan.pop(0)
        if self.wire.changed():
            self.later = []
        pending = bool(self.later)
        answer = self.behave(name, frame, question)
        self.previous = self.wire.frame(right_answer(question, does=False))
        if pending:  # a slow device does one thing after another
            self.later.append((max(when for when, _ in self.later) + 0.01, answer))
        elif answer:
            self.wire.write(answer)

    def order(self, line):
        word, *rest = line.split()
        if word == "behave":
            self.plan = rest
        elif word == "vanish":
            self.wire.vanish()
        elif word == "return":
            self.wire.open()
        elif word == "coil":  # another hand at the board
            coils[int(rest[0])] = int(rest[1])
        elif word == "input":  # something outside has opened or closed it
            discrete[int(rest[0])] = int(rest[1])
        elif word == "say":  # unasked
            self.wire.write(bytes.fromhex(rest[0]))
        elif word == "refuse":
            self.refused = (int(rest[0]), int(rest[1]))
        elif word == "register":
            registers_written[int(rest[0])] = int(rest[1])
        else:
            sys.exit(f"no order {word}")
        print("done", flush=True)

    def send_late(self):
        if self.wire.changed():
            self.later = []
        now = time.monotonic()
        due = [frame for when, frame in self.later if when <= now]
        self.later = [(when, frame) for when, frame in self.later if when > now]
        for frame in due:
            self.wire.write(frame)

    def run(self):
        orders = b""
        while True:
            wait = min((when for when, _ in self.later), default=None)
            wait = None if wait is None else max(0.0, wait - time.monotonic())
            ready, _, _ = select.select([0] + self.wire.files(), [], [], wait)
            self.send_late()
            for file in ready:
                if file == 0:
                    got = os.read(0, 4096)
                    if not got:
                        return
                    *lines, orders = (orders + got).split(b"\n")
                    for line in lines:
                        self.order(line.decode())
                elif file in self.wire.files():
                    for frame, question in self.wire.read(file):
                        self.asked(frame, question)


wire = {"tcp": Tcp, "pty": Serial}[sys.argv[1]]()
print("ready", wire.name, flush=True)
try:
    Rogue(wire).run()
finally:
    wire.end()
