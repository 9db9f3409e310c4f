#!/usr/bin/env python3
"""The gateway and the programs of others: python3-pymodbus and the npm package jsmodbus as its
masters, tshark, clients that know only SunSpec, and a second serial line.

usage: test_gateway_masters.py BUILD-DIR SOURCE-DIR
"""
import json
import os
import re
import shutil
import struct
import subprocess

import dissect
from case import SOURCE, main
from gateway_case import (ADDRESS, FLOATS, FUNCTION, PATH, POLLED, UNIT, UNPOLLED, VALUE, VIEW,
                          GatewayCase, Meter, read, read_exactly, with_crc, words)
from programs import PATIENCE_S, Spoken, eventually


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


class Masters(GatewayCase):
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


if __name__ == "__main__":
    main()
