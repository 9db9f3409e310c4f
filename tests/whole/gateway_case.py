"""What the tests of the gateway share: a daemon in real time between a meter that behaves as
told (tests/peers/peer_rogue.py) and masters of plain bytes."""
import os
import select
import socket
import struct
import subprocess
import sys
import threading
import tty

from case import SOURCE, Case
from programs import PATIENCE_S, Spoken, eventually, receive

sys.path.insert(0, str(SOURCE / "tests/peers"))
import registers

UNIT, VIEW, FLOATS = registers.UNIT, 100, 101
SETTINGS = """
site: {{name: Gateway, timezone: UTC, phases: {phases}, supply_limit: 60 A, billing: net, margin: 0 W,
        control_socket: "{folder}/control"}}
buses:
  line: {{{bus}, answer: {answer}}}
  board: {{host: 127.0.0.1, tcp_port: 1}}
meters:
  grid: {{role: grid, bus: line, unit: 17, map: floats, every: 200 ms, totals_every: 1 s}}
gateway:
  tcp_port: {port}
  age: {age}
  wait: {wait}
{more}
  serve:
    - {{meter: grid{writable}}}
    - {{meter: grid, view: sunspec, unit: 100}}
    - {{meter: grid, view: sunspec-float, unit: 101}}
loads:
  heater: {{power: 1 kW, phases: L1, output: {{kind: coil, bus: board, unit: 18, address: 0}}}}
storage: {{path: "{folder}/ledger.db"}}
{mqtt}
"""
FLOAT_MAP = """
title: floats in input registers
source: "invented for this test"
points:
  voltage-l1: {table: input, address: 0, type: float32, unit: V}
  power: {table: input, address: 52, type: float32, unit: W}
  import-energy: {table: input, address: 72, type: float32, unit: kWh}
"""
# Modbus Application Protocol V1.1b3, section 7.
FUNCTION, ADDRESS, VALUE, BUSY, PATH, SILENT = 1, 2, 3, 6, 0x0A, 0x0B


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def read(function, address, count):
    return struct.pack(">BHH", function, address, count)


def words(answer):
    """The registers of an answer to a read; Application Protocol V1.1b3, section 6.3."""
    if answer[0] & 0x80:
        raise AssertionError(f"exception {answer[1]}")
    assert answer[1] == len(answer) - 2, answer.hex()
    return list(struct.unpack(f">{answer[1] // 2}H", answer[2:]))


class Master:
    """A Modbus TCP client of plain bytes: Messaging on TCP/IP V1.0b, 3.1.3."""

    def __init__(self, port, source="127.0.0.1"):
        self.line = socket.create_connection(("127.0.0.1", port), PATIENCE_S, (source, 0))
        self.transaction = 0

    def send(self, pdu, unit=UNIT):
        self.transaction += 1
        self.line.sendall(struct.pack(">HHHB", self.transaction, 0, len(pdu) + 1, unit) + pdu)
        return self.transaction

    def hear(self):
        """Transaction, unit and PDU of the next answer."""
        transaction, protocol, length, unit = struct.unpack(">HHHB", receive(self.line, 7))
        assert protocol == 0
        return transaction, unit, receive(self.line, length - 1)

    def ask(self, pdu, unit=UNIT):
        sent = self.send(pdu, unit)
        transaction, answered, answer = self.hear()
        assert (transaction, answered) == (sent, unit)
        return answer

    def exception(self, pdu, unit=UNIT):
        answer = self.ask(pdu, unit)
        assert len(answer) == 2 and answer[0] == (pdu[0] | 0x80), answer.hex()
        return answer[1]

    def is_hung_up(self):
        try:
            return self.line.recv(1) == b""
        except ConnectionError:
            return True

    def close(self):
        self.line.close()


class Meter:
    """tests/peers/peer_rogue.py, or another peer that takes orders."""

    def __init__(self, case, wire="tcp", program="peer_rogue.py"):
        self.process = subprocess.Popen(["/usr/bin/python3", case.built.peers / program, wire],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        case.addCleanup(self.close)
        self.said = Spoken(self.process.stdout)
        self.name = self.said.wait_for("^ready (.*)").group(1)

    def bus(self, mode="poll"):
        if self.name.isdigit():
            return f"host: 127.0.0.1, tcp_port: {self.name}"
        return f"port: {self.name}, baud: 19200, mode: {mode}"

    def order(self, text):
        since = len(self.said.lines)
        self.process.stdin.write(text + "\n")
        self.process.stdin.flush()
        self.said.wait_for("^done", since)

    def asked(self, pdu, unit=UNIT):
        """How often it was asked just that."""
        tail = (bytes([unit]) + pdu).hex()
        return sum(line.startswith("asked ") and line.endswith(tail) for line in list(self.said.lines))

    def order_of(self, pdus, since, unit=UNIT):
        """Which of these it was asked, in order."""
        tails = {(bytes([unit]) + pdu).hex(): k for k, pdu in enumerate(pdus)}
        heard = [line[-2 * len(pdus[0]) - 2:] for line in self.said.lines[since:]]
        return [tails[tail] for tail in heard if tail in tails]

    def close(self):
        self.process.stdin.close()
        self.process.wait(PATIENCE_S)
        self.said.close()


def with_crc(frame):
    """Modbus over Serial Line V1.02, 6.2.2."""
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return frame + struct.pack("<H", crc)


def read_exactly(line, count):
    got = b""
    while len(got) < count:
        if not select.select([line], [], [], PATIENCE_S)[0]:
            raise AssertionError(f"only {got.hex()} came")
        got += os.read(line, count - len(got))
    return got


class Wire:
    """A serial line: two ptys joined, and what went over it."""

    def __init__(self, case):
        self.ports = [os.openpty() for _ in range(2)]
        for _, port in self.ports:
            tty.setraw(port)
        self.ours, self.theirs = (os.ttyname(port) for _, port in self.ports)
        self.went = []  # pairs of whether it came from us, and the bytes
        for k in (0, 1):
            threading.Thread(target=self.carry, args=(k,), daemon=True).start()

    def carry(self, k):
        while True:
            data = os.read(self.ports[k][0], 512)
            self.went.append((k == 0, data))
            os.write(self.ports[1 - k][0], data)


POLLED = read(4, 52, 2)     # total power, read by each poll
UNPOLLED = read(3, 107, 3)  # the standard's own example of function 03: 555, 0, 100


class GatewayCase(Case):
    def begin(self, more="", writable="", age="3 s", wait="900 ms", phases=1,
              answer="300 ms", wire="tcp", mqtt=""):
        self.meter = Meter(self, wire)
        self.start_on(self.meter.bus(), more, writable, age, wait, phases, answer, mqtt)
        eventually("the first reading", lambda: self.daemon.status()["reading"]["quality"] == "fresh")

    def start_on(self, bus, more="", writable="", age="3 s", wait="900 ms", phases=1,
                 answer="300 ms", mqtt=""):
        self.port = free_port()
        maps = self.folder / "maps"
        maps.mkdir(exist_ok=True)
        (maps / "floats.yaml").write_text(FLOAT_MAP)
        self.settings.write_text(SETTINGS.format(
            folder=self.folder, bus=bus, port=self.port, more=more, age=age,
            wait=wait, writable=f", writable: {writable}" if writable else "", phases=phases,
            answer=answer, mqtt=mqtt))
        self.start_in_real_time(words=("--maps", maps))

    def master(self, **choices):
        master = Master(self.port, **choices)
        self.addCleanup(master.close)
        return master

    def state(self):
        return self.daemon.status()["gateway"]

    def begin_serial(self, more="", **choices):
        self.wire = Wire(self)
        self.begin(more=more + f"\n  port: {self.wire.ours}\n  baud: 19200", **choices)
