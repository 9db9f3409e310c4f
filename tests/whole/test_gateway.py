#!/usr/bin/env python3
"""The meter given to others, in real time: a peer that behaves as told is the meter, and
python3-pymodbus, the npm package jsmodbus and plain sockets are its other masters.

usage: test_gateway.py BUILD-DIR SOURCE-DIR
"""
import contextlib
import json
import os
import re
import select
import shutil
import socket
import struct
import subprocess
import sys
import threading
import tty

import dissect
from case import SOURCE, Case, main, seeded
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


class Other:
    """A master of tests/peers: a process of its own."""

    def __init__(self, case, *command):
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                        text=True)
        self.said = Spoken(self.process.stdout)
        case.addCleanup(self.close)
        self.said.wait_for("^ready")

    def ask(self, questions):
        for question in questions:
            self.process.stdin.write(" ".join(map(str, question)) + "\n")
        self.process.stdin.flush()

    def heard(self, count):
        with self.said.news:
            self.said.news.wait_for(lambda: len(self.said.lines) > count or self.said.ended, PATIENCE_S)
        return [json.loads(line) if line[0] == "[" else line for line in self.said.lines[1:]]

    def close(self):
        self.process.stdin.close()
        self.process.wait(PATIENCE_S)
        self.said.close()


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


class Gateway(Case):
    def begin(self, more="", writable="", age="3 s", wait="900 ms", phases=1, answer="300 ms", wire="tcp"):
        self.meter = Meter(self, wire)
        self.start_on(self.meter.bus(), more, writable, age, wait, phases, answer)
        eventually("the first reading", lambda: self.daemon.status()["reading"]["quality"] == "fresh")

    def start_on(self, bus, more="", writable="", age="3 s", wait="900 ms", phases=1,
                 answer="300 ms"):
        self.port = free_port()
        maps = self.folder / "maps"
        maps.mkdir(exist_ok=True)
        (maps / "floats.yaml").write_text(FLOAT_MAP)
        self.settings.write_text(SETTINGS.format(
            folder=self.folder, bus=bus, port=self.port, more=more, age=age,
            wait=wait, writable=f", writable: {writable}" if writable else "", phases=phases,
            answer=answer))
        self.start_in_real_time(words=("--maps", maps))

    def master(self, **choices):
        master = Master(self.port, **choices)
        self.addCleanup(master.close)
        return master

    def state(self):
        return self.daemon.status()["gateway"]

    # ---- what is answered ----

    def test_what_a_poll_has_read_is_answered_from_it_word_for_word(self):
        self.begin()
        master = self.master()
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])  # -1500 W
        self.assertEqual(words(master.ask(read(4, 53, 1))), [0x8000])
        self.assertEqual(self.meter.asked(read(4, 53, 1)), 0)
        self.assertEqual(self.state()["passed"], 0)

    def test_what_no_poll_has_read_is_passed_on(self):
        self.begin()
        master = self.master()
        self.assertEqual(words(master.ask(UNPOLLED)), [555, 0, 100])
        self.assertEqual(master.ask(read(1, 19, 19)), bytes.fromhex("0103cd6b05"))
        self.assertEqual(self.meter.asked(UNPOLLED), 1)
        self.assertEqual(self.state()["passed"], 2)

    def test_an_exception_of_the_meter_is_passed_back(self):
        self.begin()
        self.meter.order("behave exception:2")
        self.assertEqual(self.master().exception(UNPOLLED), ADDRESS)

    # ---- other people's masters ----

    def test_pymodbus_and_jsmodbus_are_masters_at_once_by_tcp_and_by_serial_line(self):
        self.begin_serial(more="  rate: 1000", wait="20 s", answer="5 s")
        masters = [
            Other(self, "/usr/bin/python3", self.built.peers / "master_pymodbus.py", "tcp",
                  str(self.port)),
            Other(self, "node", self.built.peers / "master_jsmodbus.js", str(self.port),
                  str(UNIT), str(VIEW)),
            Other(self, "/usr/bin/python3", self.built.peers / "master_pymodbus.py", "rtu",
                  self.wire.theirs)]
        questions, answers = [], []
        for k in range(15):
            questions += [(UNIT, 4, 52, 2), (UNIT, 3, 107, 3), (UNIT, 3, 200 + k, 2),
                          (VIEW, 3, 40000, 4), (VIEW, 3, 39999, 1)]
            answers += [[0xC4BB, 0x8000], [555, 0, 100], [200 + k, 201 + k],
                        [0x5375, 0x6E53, 1, 66], "exception 2"]
        for master in masters:
            master.ask(questions)
        for master in masters:
            self.assertEqual(master.heard(len(questions)), answers)

    def begin_serial(self, more="", **choices):
        self.wire = Wire(self)
        self.begin(more=more + f"\n  port: {self.wire.ours}\n  baud: 19200", **choices)

    def test_tshark_sees_in_each_frame_what_we_meant(self):
        if not shutil.which("tshark"):
            self.fail("tshark is not installed: see tools/packages")
        self.begin(writable="[holding 100-103]")
        master, frames, meant = self.master(), [], []
        for unit, pdu in ((UNIT, POLLED), (UNIT, UNPOLLED), (UNIT, read(1, 19, 19)),
                          (UNIT, bytes.fromhex("0600640007")), (UNIT, bytes.fromhex("06006e0007")),
                          (UNIT, bytes.fromhex("10006500020400080009")), (VIEW, read(3, 40070, 100)),
                          (FLOATS, read(3, 40070, 120)), (1, POLLED), (VIEW, b"\x2b\x0e\x01\0")):
            answer = master.ask(pdu, unit)
            for is_answer, data in ((False, pdu), (True, answer)):
                frames.append((is_answer, struct.pack(">HHHB", master.transaction, 0, len(data) + 1,
                                                      unit) + data))
                meant.append((master.transaction, unit, data))
        layers = dissect.dissect(self.folder / "tcp.pcap", frames, "mbtcp")
        self.assertEqual(len(layers), len(frames))
        for seen, (transaction, unit, data), (is_answer, _) in zip(layers, meant, frames):
            self.assertEqual(seen["mbtcp"]["mbtcp.trans_id"], str(transaction))
            self.assertEqual(seen["mbtcp"]["mbtcp.prot_id"], "0")
            self.assertEqual(seen["mbtcp"]["mbtcp.len"], str(len(data) + 1))
            self.assertEqual(seen["mbtcp"]["mbtcp.unit_id"], str(unit))
            self.check_pdu(seen, data, is_answer)

    def check_pdu(self, seen, data, is_answer):
        text = json.dumps(seen)
        self.assertNotIn("malformed", text.lower())
        if data[0] & 0x80:
            self.assertIn(f'"modbus.exception_code": "{data[1]}"', text)
            self.assertIn(f'"modbus.func_code": "{data[0] & 0x7F}"', text)
            return
        self.assertEqual(seen["modbus"]["modbus.func_code"], str(data[0]))
        if is_answer and data[0] in (3, 4):  # each register that it lists, in order
            listed = re.findall(r'"modbus.regval_uint16": "(\d+)"', text)
            self.assertEqual(list(map(int, listed)), words(data))

    def test_tshark_finds_the_checksums_of_the_serial_line_good(self):
        if not shutil.which("tshark"):
            self.fail("tshark is not installed: see tools/packages")
        self.begin_serial(wait="20 s")
        master = Other(self, "/usr/bin/python3", self.built.peers / "master_pymodbus.py", "rtu",
                       self.wire.theirs)
        questions = [(UNIT, 4, 52, 2), (UNIT, 3, 107, 3), (VIEW, 3, 40000, 70), (VIEW, 3, 0, 1)]
        for count, question in enumerate(questions, 1):
            master.ask([question])
            master.heard(count)
        frames = []
        for ours, data in self.wire.went:  # a frame may have gone in pieces
            if frames and frames[-1][0] == ours:
                frames[-1] = (ours, frames[-1][1] + data)
            else:
                frames.append((ours, data))
        layers = dissect.dissect(self.folder / "rtu.pcap", frames, "mbrtu")
        self.assertEqual(len(layers), 2 * len(questions))
        for seen, (ours, data) in zip(layers, frames):
            self.assertEqual(seen["mbrtu"]["mbrtu.unit_id"], str(data[0]))
            self.assertEqual(int(seen["mbrtu"]["mbrtu.crc16"], 16),
                             struct.unpack(">H", data[-2:])[0])
            self.assertEqual(seen["mbrtu"]["mbrtu.crc16.status"], "1")  # good
            self.check_pdu(seen, data[1:-2], ours)

    # ---- any meter as a SunSpec meter ----

    def published(self, model):
        path = SOURCE / f"tests/meter/sunspec/model_{model}.json"
        return json.loads(path.read_text())["group"]["points"]

    def decode(self, registers, model):
        """By the published definition of the model: its points by name, None where not
        implemented, and each checked to be of a value that its type may have."""
        points, values, at = self.published(model), {}, 0
        for point in points:
            raw = registers[at:at + point["size"]]
            packed = struct.pack(f">{len(raw)}H", *raw)
            kind = point["type"]
            absent = {"int16": [0x8000], "sunssf": [0x8000], "pad": [0x8000], "uint16": [0xFFFF],
                      "acc32": [0, 0]}.get(kind)
            if raw == absent:
                values[point["name"]] = None
            elif kind in ("int16", "sunssf"):
                values[point["name"]] = struct.unpack(">h", packed)[0]
            elif kind == "float32":
                value = struct.unpack(">f", packed)[0]
                values[point["name"]] = None if value != value else value
            elif kind == "string":
                values[point["name"]] = packed.rstrip(b"\0").decode()
            else:
                values[point["name"]] = int.from_bytes(packed, "big")
            at += point["size"]
        self.assertEqual(at, len(registers))
        for point in points:
            value, exponent = values[point["name"]], point.get("sf")
            if value is not None and exponent:
                self.assertIsNotNone(values[exponent], point["name"])
                values[point["name"]] = round(value * 10.0 ** values[exponent], 6)
        return values

    def walk(self, master, unit):
        """As any SunSpec client: marker, then model after model to the end."""
        self.assertEqual(words(master.ask(read(3, 40000, 2), unit)), [0x5375, 0x6E53])
        address, models = 40002, {}
        while True:
            model, length = words(master.ask(read(3, address, 2), unit))
            if model == 0xFFFF:
                self.assertEqual(length, 0)
                return models
            got = []
            for first in range(address, address + 2 + length, 100):
                count = min(100, address + 2 + length - first)
                got += words(master.ask(read(3, first, count), unit))
            models[model] = self.decode(got, model)
            address += 2 + length

    def check_view(self, unit, model, phases):
        self.begin(phases=phases)
        models = self.walk(self.master(), unit)
        self.assertEqual(list(models), [1, model])
        common, meter = models[1], models[model]
        self.assertEqual((common["Mn"], common["Md"], common["SN"], common["DA"]),
                         ("sluice", "floats", "grid", unit))
        self.assertEqual(meter["W"], -1500)
        self.assertAlmostEqual(meter["PhVphA"], 230.2, places=4)
        self.assertEqual(meter["TotWhImp"], 1234500)
        self.assertEqual(meter["Evt"], 0)
        told = {"ID", "L", "W", "PhVphA", "TotWhImp", "Evt"}
        for name in set(meter) - told:
            if not name.endswith("_SF") and name != "PhV":
                self.assertIsNone(meter[name], name)
        return meter

    def test_a_meter_is_a_single_phase_sunspec_meter(self):
        meter = self.check_view(VIEW, 201, 1)
        self.assertEqual(meter["PhV"], 230.2)

    def test_a_meter_is_a_three_phase_sunspec_meter(self):
        meter = self.check_view(VIEW, 203, 3)
        self.assertIsNone(meter["PhV"])  # two phases are not known

    def test_a_meter_is_a_single_phase_sunspec_meter_in_floats(self):
        meter = self.check_view(FLOATS, 211, 1)
        self.assertAlmostEqual(meter["PhV"], 230.2, places=4)

    def test_a_meter_is_a_three_phase_sunspec_meter_in_floats(self):
        self.check_view(FLOATS, 213, 3)

    def test_the_view_turns_round_what_is_wired_the_other_way(self):
        self.begin()
        self.change_settings(("totals_every: 1 s", "totals_every: 1 s, inverted: yes"))
        self.daemon.order("reload")

        master = self.master()

        def power_and_energy():
            answer = master.ask(read(3, 40070, 107), VIEW)
            if answer[0] & 0x80:
                return None
            meter = self.decode(words(answer), 201)
            return (meter["W"], meter["TotWhExp"], meter["TotWhImp"])

        eventually("import is positive", lambda: power_and_energy() == (1500, 1234500, None))

    # ---- what the standard's exceptions say ----

    def test_a_silent_meter_is_told_as_such_and_never_by_old_numbers(self):
        self.begin(age="1 s", wait="5 s")
        master = self.master()
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.meter.order("behave silent")
        eventually("exception 0B", lambda: master.ask(POLLED) == bytes([0x84, SILENT]))
        self.assertEqual(master.exception(read(3, 40072, 20), VIEW), SILENT)
        self.assertEqual(words(master.ask(read(3, 40000, 2), VIEW)), [0x5375, 0x6E53])
        self.meter.order("behave good")
        eventually("it is back", lambda: master.ask(POLLED) == b"\x04\x04\xc4\xbb\x80\0")

    def test_a_meter_that_answers_wrongly_is_told_as_silent(self):
        # The first question it gets wrong is a poll, or the client's: both are asked so.
        for behaviour in ("wrong-unit", "short", "long", "other-function", "number", "truncated",
                          "garbage", "previous"):
            with self.subTest(behaviour):
                if not hasattr(self, "port"):
                    self.begin(wait="20 s")
                master = self.master()
                self.assertEqual(words(master.ask(UNPOLLED)), [555, 0, 100])
                self.meter.order(f"behave {behaviour}")
                # Whatever the meter says, no number of it may get through. Once its polls
                # have failed too its connection is down for a while: that is 0A.
                answer = master.ask(read(3, 301, 2))
                self.assertIn(answer, (bytes([0x83, SILENT]), bytes([0x83, PATH])))
                self.meter.order("behave good")
                eventually("it is well again",
                           lambda: master.ask(UNPOLLED) == b"\x03\x06\x02\x2b\0\0\0\x64")
                master.close()

    def test_a_serial_meter_gone_wrong_is_told_as_silent_and_the_next_answer_is_right(self):
        self.begin(wire="pty", wait="20 s")
        master = self.master()
        for behaviour in ("late:500", "wrong-unit", "bad-crc", "truncated", "garbage", "previous",
                          "echo", "echo-only"):
            with self.subTest(behaviour):
                self.meter.order(f"behave {behaviour}")
                self.assertEqual(master.exception(read(3, 301, 2)), SILENT)
                self.meter.order("behave good")
                eventually("it is well again",
                           lambda: master.ask(UNPOLLED) == b"\x03\x06\x02\x2b\0\0\0\x64")

    def test_a_meter_that_answers_twice_does_not_answer_the_next_question_with_it(self):
        for wire in ("tcp", "pty"):
            with self.subTest(wire):
                self.tearDown_daemon()
                self.begin(wire=wire, wait="20 s", more="  rate: 1000")
                master = self.master()
                self.meter.order("behave twice")
                for k in range(20):
                    answer = master.ask(read(3, 200 + k, 1))
                    self.assertIn(answer[1:], (struct.pack(">BH", 2, 200 + k), bytes([SILENT]),
                                               bytes([PATH])))

    def tearDown_daemon(self):
        if hasattr(self, "daemon"):
            self.daemon.close()

    def test_a_bus_that_is_down_is_a_path_unavailable(self):
        self.begin(age="1 s", wait="10 s")
        master = self.master()
        self.meter.order("vanish")
        eventually("exception 0A", lambda: master.ask(UNPOLLED) == bytes([0x83, PATH]))

    def test_a_unit_that_is_not_served_is_a_path_unavailable(self):
        self.begin()
        master = self.master()
        for unit in (0, 1, 16, 18, 247, 255):
            self.assertEqual(master.exception(UNPOLLED, unit), PATH)
        self.assertEqual(self.meter.asked(UNPOLLED, 18), 0)

    def test_whoever_waits_too_long_in_the_queue_hears_that_the_gateway_is_busy(self):
        self.begin(wait="700 ms", answer="5 s")
        self.meter.order("behave late:2000")
        masters = [self.master() for _ in range(4)]
        for k, master in enumerate(masters):
            master.send(read(3, 200 + k, 1))
        codes = sorted(master.hear()[2][1] for master in masters)
        # One at most was under way, and the meter did not answer it; the rest never got there.
        self.assertEqual(codes[:3], [BUSY] * 3)
        self.assertIn(codes[3], (BUSY, SILENT))

    # ---- one at a time, in turn, equal ones together ----

    def test_equal_questions_are_asked_once(self):
        self.begin(more="  connections_each: 8", wait="20 s", answer="5 s")
        masters = [self.master() for _ in range(4)]
        slow = self.master()
        self.meter.order("behave late:300")
        slow.send(read(3, 10, 1))  # whatever is under way, the others wait behind it
        for master in masters:
            master.send(UNPOLLED)
        self.assertEqual([words(master.hear()[2]) for master in masters], [[555, 0, 100]] * 4)
        self.assertEqual(words(slow.hear()[2]), [10])
        self.assertEqual(self.meter.asked(UNPOLLED), 1)
        self.assertEqual(self.state()["shared"], 3)

    def test_a_client_that_asks_a_lot_does_not_hold_up_one_that_asks_once(self):
        self.begin(more="  rate: 1000", wait="20 s", answer="5 s")
        greedy, modest = self.master(), self.master()
        self.meter.order("behave late:100")
        since = len(self.meter.said.lines)
        questions = [read(3, 200 + k, 1) for k in range(20)]
        for pdu in questions:
            greedy.send(pdu)
        modest.send(read(3, 300, 1))
        self.assertEqual(words(modest.hear()[2]), [300])
        self.assertEqual([words(greedy.hear()[2]) for _ in questions],
                         [[200 + k] for k in range(20)])
        order = self.meter.order_of([*questions, read(3, 300, 1)], since)
        self.assertEqual([k for k in order if k != 20], list(range(20)))
        self.assertEqual(order.count(20), 1)
        self.assertLess(order.index(20), 5)  # each takes 100 ms and more, so it came in early

    # ---- writing ----

    def test_nothing_is_written_unless_it_is_listed(self):
        self.begin()
        master = self.master()
        for pdu in ("05 0000 ff00", "06 0064 0001", "0f 0000 0001 01 01", "10 0064 0001 02 0001",
                    "16 0064 0000 0001", "17 0000 0001 0064 0001 02 0001"):
            self.assertEqual(master.exception(bytes.fromhex(pdu)), FUNCTION)
            self.assertEqual(master.exception(bytes.fromhex(pdu), VIEW), FUNCTION)
        self.assertEqual(words(master.ask(read(3, 100, 1))), [100])

    def test_what_is_listed_is_written_and_nothing_beside_it(self):
        self.begin(writable="[holding 100-103, coil 5]")
        master = self.master()
        for pdu in ("06 0064 0007", "10 0065 0002 04 0008 0009", "05 0005 ff00"):
            self.assertEqual(master.ask(bytes.fromhex(pdu))[0], int(pdu[:2], 16))
        self.assertEqual(words(master.ask(read(3, 100, 4))), [7, 8, 9, 103])
        self.assertEqual(master.ask(read(1, 5, 1)), b"\x01\x01\x01")
        for pdu in ("06 0063 0001", "06 0068 0001", "10 0067 0002 04 0001 0001", "05 0004 ff00",
                    "0f 0004 0002 01 03", "06 0005 0001", "10 ffff 0002 04 0001 0001"):
            self.assertEqual(master.exception(bytes.fromhex(pdu)), ADDRESS)
        self.assertEqual(words(master.ask(read(3, 99, 1))), [99])

    # ---- bad input ----

    def test_every_function_code_and_length_gets_its_exception_or_its_answer(self):
        """Application Protocol V1.1b3: 4.1 (253 bytes), 6 (functions), 7 (exceptions)."""
        self.begin(more="  rate: 100000")
        master = self.master()
        known = {1: 5, 2: 5, 3: 5, 4: 5, 5: 5, 6: 5, 8: 5, 15: 6, 16: 6, 22: 7, 23: 10}
        for function in range(256):
            for length in (1, 2, 4, 5, 6, 7, 10, 253):
                pdu = bytes([function]).ljust(length, b"\0")
                answer = master.ask(pdu, VIEW)
                self.assertEqual((len(answer), answer[0]), (2, function | 0x80))
                if function in known:  # a quantity of 0 is a wrong value, too
                    right = length == known[function] and function in (5, 6, 8, 22)
                    self.assertEqual(answer[1], FUNCTION if right else VALUE, pdu.hex())
                elif function != 0x2B:
                    self.assertEqual(answer[1], FUNCTION, pdu.hex())
        for pdu, code in ((read(3, 40000, 0), VALUE), (read(3, 40000, 126), VALUE),
                          (read(3, 39999, 1), ADDRESS), (read(3, 40178, 2), ADDRESS),
                          (read(3, 65535, 2), ADDRESS), (read(4, 40000, 1), FUNCTION)):
            self.assertEqual(master.exception(pdu, VIEW), code, pdu.hex())
        self.assertEqual(words(master.ask(read(3, 40177, 2), VIEW)), [0xFFFF, 0])

    def test_what_is_no_modbus_is_hung_up_on(self):
        """Messaging on TCP/IP V1.0b, 3.1.3: protocol 0; a length of unit and PDU."""
        self.begin()
        for header in ("0001 0001 0006 11", "0001 0000 0000 11", "0001 0000 0001 11",
                       "0001 0000 00ff 11", "0001 0000 ffff 11", "4745 5420 2f20 48"):
            master = self.master()
            master.line.sendall(bytes.fromhex(header) + b"\3\0\0\0\1")
            self.assertTrue(master.is_hung_up(), header)
        self.assertEqual(words(self.master().ask(POLLED)), [0xC4BB, 0x8000])
        self.assertEqual(self.state()["dropped"], 6)

    def test_random_bytes_do_no_harm(self):
        self.begin_serial(more="  rate: 100000\n  connections_each: 16")
        chance = seeded(7)
        line = os.open(self.wire.theirs, os.O_RDWR | os.O_NOCTTY)
        self.addCleanup(os.close, line)
        for _ in range(300):
            master = self.master()
            header = struct.pack(">HHHB", chance.randrange(65536), 0, chance.randrange(2, 255),
                                 chance.choice((UNIT, VIEW, FLOATS, 0, 255)))
            noise = chance.randbytes(chance.randrange(1, 600))
            with contextlib.suppress(ConnectionError):
                master.line.sendall(chance.choice((noise, header + noise, 3 * header + noise)))
            os.write(line, chance.choice((noise, with_crc(noise[:20]), bytes([UNIT]) + noise)))
            master.close()
        eventually("it answers as ever", lambda: self.state()["connections"] == 0)
        self.assertEqual(words(self.master().ask(POLLED)), [0xC4BB, 0x8000])
        os.write(line, with_crc(bytes([UNIT]) + POLLED))
        answer = with_crc(bytes([UNIT]) + b"\x04\x04\xc4\xbb\x80\0")
        heard = b""
        while not heard.endswith(answer):  # after exceptions, where noise was a request
            heard += read_exactly(line, 1)

    def test_slow_and_half_open_clients_hold_up_nobody(self):
        self.begin(more="  connections_each: 16")
        slow = [self.master() for _ in range(5)]
        frame = struct.pack(">HHHB", 1, 0, 6, UNIT) + POLLED
        for k, master in enumerate(slow):
            master.line.sendall(frame[:2 * k + 1])  # and no more
        master = self.master()
        for _ in range(20):
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        for k, late in enumerate(slow):  # byte by byte at last
            for byte in frame[2 * k + 1:]:
                late.line.sendall(bytes([byte]))
            self.assertEqual(words(late.hear()[2]), [0xC4BB, 0x8000])

    def test_half_a_request_does_not_hold_its_place_for_ever(self):
        self.begin()
        master = self.master()
        master.line.sendall(b"\0\1\0\0")
        self.assertTrue(master.is_hung_up())

    def test_a_client_that_shuts_its_side_still_hears_the_answer(self):
        self.begin()
        master = self.master()
        master.send(UNPOLLED)
        master.line.shutdown(socket.SHUT_WR)
        self.assertEqual(words(master.hear()[2]), [555, 0, 100])
        self.assertTrue(master.is_hung_up())

    def test_a_client_that_floods_and_one_that_does_not_read_hold_up_nobody(self):
        self.begin(more="  rate: 50")
        flood = struct.pack(">HHHB", 7, 0, 6, UNIT) + UNPOLLED
        flooding = [self.master() for _ in range(2)]
        for master in flooding:
            master.line.setblocking(False)
            with self.assertRaises(BlockingIOError):
                while True:  # until nobody takes it any more
                    master.line.send(1000 * flood)
        master = self.master()
        before = self.daemon.status()["reading"]
        for _ in range(20):
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        polls = self.meter.asked(POLLED)
        eventually("polling goes on", lambda: self.meter.asked(POLLED) > polls + 3)
        self.assertEqual(before["quality"], "fresh")
        self.assertEqual(self.daemon.status()["reading"]["quality"], "fresh")

    def test_connections_are_limited_for_all_and_for_each(self):
        self.begin(more="  connections: 5\n  connections_each: 3\n  allow: [127.0.0.0/8]")
        first = [self.master() for _ in range(3)]
        for master in first:
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.assertTrue(self.master().is_hung_up())
        others = [self.master(source="127.0.0.2") for _ in range(2)]
        for master in others:
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.assertTrue(self.master(source="127.0.0.3").is_hung_up())
        first[0].close()
        eventually("its place is free", lambda: self.state()["connections"] == 4)
        self.assertEqual(words(self.master(source="127.0.0.3").ask(POLLED)), [0xC4BB, 0x8000])
        self.assertEqual(self.state()["turned_away"], 2)

    def test_who_is_not_allowed_is_hung_up_on(self):
        self.begin(more="  allow: [127.0.0.2, 127.0.1.0/24, \"2001:db8::/32\"]")
        self.assertTrue(self.master().is_hung_up())
        self.assertTrue(self.master(source="127.0.0.3").is_hung_up())
        for source in ("127.0.0.2", "127.0.1.77"):
            self.assertEqual(words(self.master(source=source).ask(POLLED)), [0xC4BB, 0x8000])

    def test_it_listens_on_loopback_alone(self):
        self.begin()
        # /proc/net/tcp: local address in hex of the machine's byte order; state 0A listens
        with open("/proc/net/tcp") as table:
            listening = [line.split()[1] for line in table if line.split()[3] == "0A"]
        self.assertIn(f"0100007F:{self.port:04X}", listening)
        self.assertNotIn(f"00000000:{self.port:04X}", listening)

    def test_whoever_is_long_unused_makes_room(self):
        self.begin(more="  connections: 2")
        idle = [self.master() for _ in range(2)]
        for master in idle:
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])

        def gets_in():
            with contextlib.suppress(AssertionError, ConnectionError):
                return words(self.master().ask(POLLED))

        self.assertIsNone(gets_in())
        eventually("a third gets in", gets_in)
        self.assertTrue(idle[0].is_hung_up())

    # ---- the second serial line ----

    def test_noise_and_others_on_the_second_line_are_left_alone(self):
        self.begin_serial(wait="20 s")
        line = os.open(self.wire.theirs, os.O_RDWR | os.O_NOCTTY)
        self.addCleanup(os.close, line)
        request = with_crc(bytes([UNIT]) + UNPOLLED)
        answer = with_crc(bytes([UNIT]) + b"\x03\x06\x02\x2b\0\0\0\x64")
        for before in (b"", b"\xff\0\x11\3", os.urandom(40), request[:-1] + b"\0", request[:5],
                       with_crc(b"\x05" + UNPOLLED), with_crc(b"\x05\x03\x02\0\1"),
                       with_crc(b"\0" + read(6, 1, 1))):
            os.write(line, before + request)
            self.assertEqual(read_exactly(line, len(answer)), answer, before.hex())
        for odd, code in ((b"\x11\x41\0", FUNCTION), (b"\x11\x03\0\0\0\1\0", VALUE),
                          (b"\x11\x06\0\1\0\1", FUNCTION), (b"\x64\x03\0\0\0\1", ADDRESS)):
            os.write(line, with_crc(odd))
            self.assertEqual(read_exactly(line, 5),
                             with_crc(bytes([odd[0], odd[1] | 0x80, code])))

    def test_a_master_that_asks_anew_is_not_answered_with_what_it_has_given_up(self):
        self.begin_serial(wait="20 s", answer="5 s")
        line = os.open(self.wire.theirs, os.O_RDWR | os.O_NOCTTY)
        self.addCleanup(os.close, line)
        self.meter.order("behave late:400")
        os.write(line, with_crc(bytes([UNIT]) + read(3, 300, 1)))
        eventually("it was asked", lambda: self.meter.asked(read(3, 300, 1)))
        os.write(line, with_crc(bytes([UNIT]) + read(3, 301, 1)))
        self.assertEqual(read_exactly(line, 7),
                         with_crc(bytes([UNIT]) + struct.pack(">BBH", 3, 2, 301)))

    # ---- beside another master ----

    def test_on_a_bus_that_is_listened_to_what_is_overheard_is_given_and_nothing_is_asked(self):
        self.meter = Meter(self, "7", "peer_overheard.py")
        self.start_on(self.meter.bus(mode="listen"), age="60 s")
        for _ in range(3):
            self.meter.order("round")
        eventually("a reading", lambda: self.daemon.status()["reading"]["quality"] == "fresh")
        master = self.master()
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.assertEqual(words(master.ask(UNPOLLED)), [555, 0, 100])  # the other master asks it
        self.assertEqual(master.exception(read(3, 301, 2)), PATH)
        meter = self.walk(master, VIEW)[201]
        self.assertEqual(meter["W"], -1500)
        self.assertEqual([line for line in self.meter.said.lines if line.startswith("asked")], [])

    def test_connections_outlive_a_change_that_is_not_about_them(self):
        self.begin()
        master = self.master()
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.change_settings(("power: 1 kW", "power: 2 kW"))
        self.daemon.order("reload")
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.change_settings(("age: 3 s", "age: 4 s"))
        self.daemon.order("reload")
        self.assertTrue(master.is_hung_up())
        eventually("the new gateway has heard a poll",
                   lambda: self.master().ask(POLLED) == b"\x04\x04\xc4\xbb\x80\0")

    def test_a_port_in_use_is_told_and_taken_when_it_is_free(self):
        self.begin()
        with socket.create_server(("127.0.0.1", 0)) as other:
            taken = other.getsockname()[1]
            self.change_settings((f"tcp_port: {self.port}", f"tcp_port: {taken}"))
            self.daemon.order("reload")
            eventually("it is told", lambda: any(
                "in use" in text for text in self.daemon.status()["troubles"]))
        self.port = taken
        eventually("it is solved", lambda: not any(
            "gateway" in text for text in self.daemon.status()["troubles"]))
        self.assertEqual(self.master().exception(UNPOLLED, 1), PATH)


if __name__ == "__main__":
    main()
