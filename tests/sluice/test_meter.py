#!/usr/bin/env python3
"""`sluice meter check` and `sluice meter read` as a person uses them: python3-pymodbus is
the meter, with the constructed register images of tests/meter.

usage: test_meter.py BUILD-DIR SOURCE-DIR
"""
import fcntl
import os
import pty
import re
import subprocess
from fractions import Fraction

from command import SOURCE, Case, main

MAPS = SOURCE / "conf/meters"
IMAGES = SOURCE / "tests/meter/images/maps.image"
READS = {"3", "4"}
# What one of the unit that is shown holds of the inside unit.
HOLDS = {"W": 1000, "A": 1000, "V": 1000, "Hz": 1000, "kWh": 1000000, "%": 10, "°C": 1000}
SETTINGS = """
site: {{name: Test, timezone: UTC, phases: 3, billing: net, supply_limit: 63 A}}
buses:
  line: {bus}
meters:
  house: {{role: grid, bus: line, unit: {unit}, map: {map}{more}}}
loads:
  heater:
    power: 2 kW
    phases: L1
    output: {{kind: topic, topic: test/heater}}
mqtt: {{host: localhost}}
"""


def expected():
    """The first case of each meter in the file: [(name, {quantity: inside units or None})]."""
    found, cases = [], 0
    for line in IMAGES.read_text().splitlines():
        words = line.split()
        if words[0] == "meter":
            found.append((words[1], {}))
            cases = 0
        elif words[0] == "case":
            cases += 1
        elif words[1] == "is" and cases == 1:
            found[-1][1][words[0]] = None if words[2] == "absent" else int(words[2])
    return found


METERS = expected()


def unit_of(name):
    return [meter for meter, _ in METERS].index(name) + 1


def shown(output):
    """{quantity: inside units}, from what was printed."""
    values = {}
    for line in output.splitlines():
        match = re.match(r"  ([a-z][a-z0-9-]*) +(-?[\d.]+) (\S+) +(holding|input) 0x", line)
        if match:
            value = Fraction(match[2]) * HOLDS[match[3]]
            values[match[1]] = value.numerator if value.denominator == 1 else value
    return values


class Check(Case):
    def check(self, name, *words):
        return self.sluice("meter", "check", name, "--maps", MAPS, *words)

    def test_every_shipped_map_is_right_and_explained(self):
        for name, values in METERS:
            run = self.check(name)
            self.assert_done(run)
            for part in ("source: ", "line: ", "quantities:", "requests:", "sign: positive power",
                         "known by:", "missing:", *values):
                self.assertIn(part, run.stdout, name)

    def test_bytes_and_times_are_those_of_the_wire(self):
        # By hand: a character of 10 bits
        # at 9600 baud is 1.0417 ms; a frame is preceded by 3.5 of them; 8 bytes are asked,
        # 5 and 2 a register answered: (8 + 5 + 2 * 42 + 7) characters are 108.3 ms.
        run = self.check("carlo-gavazzi-em530")
        self.assert_done(run)
        self.assertIn("input 0x0000, 42 registers: 8 + 89 bytes, 108.3 ms\n", run.stdout)
        # 11 bits with parity: (8 + 5 + 2 * 45 + 7) * 11 / 19200 s = 63.0 ms.
        run = self.check("abb-b23")
        self.assertIn("holding 0x5b00, 45 registers: 8 + 95 bytes, 63.0 ms\n", run.stdout)
        self.assertIn("(totals, seldom)", run.stdout)
        # Above 19200 baud the gap is 1.75 ms: (8 + 95) * 11 / 115200 s + 3.5 ms = 13.3 ms.
        run = self.check("abb-b23", "--baud", 115200)
        self.assertIn("8 + 95 bytes, 13.3 ms\n", run.stdout)

    def test_sunspec_is_right_though_no_file_has_that_name(self):
        run = self.check("sunspec")
        self.assert_done(run)
        self.assertIn("there is no map file", run.stdout)

    def test_every_map_is_listed_with_its_source_and_how_sure_it_is(self):
        run = self.sluice("meter", "maps", "--maps", MAPS)
        self.assert_done(run)
        for name, _ in METERS:
            self.assertRegex(run.stdout, rf"(?m)^{name} +\S.*\n(?: .*\n)* +source: .+\n(?: .*\n)*? "
                                         r"+verified: \w+", name)
        for line in run.stdout.splitlines():
            self.assertLessEqual(len(line), 80, line)
        said = " ".join(run.stdout.split())
        self.assertRegex(said, r"carlo-gavazzi-em530 .*? unsure: the sign of power\. .*mode B or C")
        names = re.findall(r"(?m)^([a-z0-9-]+) ", run.stdout)
        self.assertEqual(names, sorted(names[:-1]) + ["sunspec"])
        for line in self.sluice("meter", "maps", "--maps", MAPS, COLUMNS="60").stdout.splitlines():
            self.assertLessEqual(len(line), 60, line)
            self.assertFalse(line.endswith("~"), line)
        self.assert_complains(self.sluice("meter", "maps", "--maps", "/nowhere"), 3, "/nowhere")

    def test_what_stays_unsure_is_said_with_what_to_look_at(self):
        said = self.check("carlo-gavazzi-em112").stdout
        self.assertIn("verified: compared with the published sources", said)
        self.assertIn("unsure: the sign of power.", said)
        self.assertIn("2 stop bits", self.check("siemens-pac2200").stdout)

    def test_what_is_from_memory_is_said(self):
        self.assertIn("from memory, not read", self.check("goodwe-et-meter").stdout)
        bare = self.folder / "mine.yaml"
        bare.write_text("title: A\nsource: the maker's table\npoints:\n"
                        "  power: {table: input, address: 52, type: float32, unit: W}\n")
        run = self.check(bare)
        self.assert_done(run)
        self.assertNotIn("from memory", run.stdout)
        for part in ("per_phase sees no spare power", "supply limit", "voltage", "frequency",
                     "totals are reckoned from power"):
            self.assertIn(part, run.stdout)

    def test_signs_and_roles_are_said(self):
        for name, said in (("sma-inverter", "production: role solar"),
                           ("huawei-sun2000-battery", "charging: role battery"),
                           ("huawei-sun2000-meter", "own definition"),
                           ("eastron-sdm630", "inverted: yes")):
            self.assertIn(said, self.check(name).stdout)
        self.assertIn("turned round", self.check("huawei-sun2000-meter").stdout)

    def test_a_map_with_mistakes_is_refused_with_their_places(self):
        bad = self.folder / "bad.yaml"
        bad.write_text("title: A\nsource: b\nfingerprint:\n"
                       "  - {table: input, address: 1, type: uint16}\n"
                       "points:\n  powr: {table: input, address: 52, type: float32, unit: W}\n")
        run = self.check(bad)
        self.assertEqual((run.returncode, run.stdout), (1, ""))
        self.assertRegex(run.stderr, r"bad\.yaml:4:5: a mark needs either is")
        self.assertRegex(run.stderr, r'bad\.yaml:6:3: "powr" is no quantity.*"power"')
        self.assertIn("2 mistakes; no meter could be read with it", run.stderr)

    def test_what_is_no_map_is_quoted(self):
        self.assert_complains(self.check("nothing"), 3, "nothing.yaml", "--maps DIR")
        self.assert_complains(self.check("abb-b23", "--baud", "fast"), 2, "--baud", '"fast"')
        self.assert_complains(self.sluice("meter", "check"), 2, "usage: sluice meter")
        self.assert_complains(self.sluice("meter"), 2, "usage: sluice meter")
        self.assert_complains(self.sluice("meter", "write"), 2, "usage: sluice meter")
        for content in (b"\x00\xff" * 50, b"", b"- 1\n"):
            odd = self.folder / "odd.yaml"
            odd.write_bytes(content)
            self.assertEqual(self.check(odd).returncode, 1)


class Read(Case):
    def start(self, kind):
        self.peer = subprocess.Popen(
            ["/usr/bin/python3", SOURCE / "tests/peers/peer_images.py", kind, IMAGES],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.addCleanup(self.end)
        line = self.peer.stdout.readline()
        self.assertRegex(line, "^ready ", "python3-pymodbus is missing?")
        return line.split()[1]

    def end(self):
        """What the peer was asked."""
        if self.peer.stdin.closed:
            return []
        self.peer.stdin.close()
        asked = self.peer.stdout.read().splitlines()
        self.peer.stdout.close()
        self.peer.wait()
        return asked

    def read_by_tcp(self, name, port, *words):
        return self.sluice("meter", "read", "--map", name, "--maps", MAPS, "--tcp",
                           f"127.0.0.1:{port}", "--unit", unit_of(name), *words)

    def configured(self, bus, name, more=""):
        path = self.folder / "sluice.yaml"
        path.write_text(SETTINGS.format(bus=bus, unit=unit_of(name), map=name, more=more))
        return lambda *words: self.sluice("meter", "read", *words, "--settings", path, "--maps",
                                          MAPS)

    def test_every_shipped_map_shows_its_meters_values_and_never_writes(self):
        port = self.start("tcp")
        for name, values in METERS:
            run = self.read_by_tcp(name, port)
            self.assert_done(run)
            self.assertEqual(shown(run.stdout), values, name)
        asked = self.end()
        self.assertEqual({line.split()[0] for line in asked}, {"asked"})
        self.assertLessEqual({line.split()[2] for line in asked}, READS)

    def test_registers_stand_beside_their_values(self):
        port = self.start("tcp")
        run = self.read_by_tcp("carlo-gavazzi-em530", port)
        # -1250.0 W are -12500 tenths, FFFF CF2C, with the low word first.
        self.assertRegex(run.stdout, r"power +-1250 W +input 0x0028: cf2c ffff\n")
        self.assertRegex(run.stdout, r"3 requests, \d+\.\d ms\n")

    def test_a_serial_line_is_read_as_well(self):
        path = self.start("rtu")
        name = "carlo-gavazzi-em112"
        run = self.sluice("meter", "read", "--map", name, "--maps", MAPS, "--serial",
                          f"{path},9600,none", "--unit", unit_of(name))
        self.assert_done(run)
        self.assertEqual(shown(run.stdout), dict(METERS)[name])

    def test_it_repeats_as_often_as_told(self):
        port = self.start("tcp")
        run = self.read_by_tcp("chint-ddsu666", port, "--every", "100 ms", "--times", 3)
        self.assert_done(run)
        self.assertEqual(len(re.findall(r"^  power ", run.stdout, re.M)), 3)

    def test_a_meter_of_the_settings_is_read_by_its_name(self):
        port = self.start("tcp")
        read = self.configured(f"{{host: 127.0.0.1, tcp_port: {port}}}", "eastron-sdm630",
                               ", inverted: yes")
        run = read("house")
        self.assert_done(run)
        self.assertEqual(shown(run.stdout), dict(METERS)["eastron-sdm630"])
        self.assertIn("the settings turn them round", run.stdout)
        self.assert_complains(read("hose"), 1, 'no meter "hose"', '"house"')

    def test_a_bus_that_is_only_listened_to_is_not_asked(self):
        read = self.configured("{port: /dev/null, mode: listen}", "eastron-sdm630")
        self.assert_complains(read("house"), 1, "only listened to", "sluice bus listen /dev/null")

    def test_a_map_that_does_not_fit_is_said(self):
        # Every register is there, but SunSpec's marker stands at none of its three places.
        port = self.start("tcp")
        run = self.sluice("meter", "read", "--map", "sunspec", "--tcp", f"127.0.0.1:{port}")
        self.assert_complains(run, 1, "no SunSpec meter or inverter")

    def test_a_refusal_is_shown_where_it_was(self):
        peer = subprocess.Popen(
            ["/usr/bin/python3", SOURCE / "tests/peers/peer_pymodbus.py", "tcp"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        port = peer.stdout.readline().split()[1]
        run = self.sluice("meter", "read", "--map", "abb-b23", "--maps", MAPS, "--tcp",
                          f"127.0.0.1:{port}", "--unit", 17)
        peer.communicate()
        self.assertEqual(run.returncode, 1)
        self.assertRegex(run.stdout, r"power +refused +holding 0x5b14: exception 2\n")
        self.assertIn("requests: the map abb-b23 is not this meter's", run.stderr)

    def test_a_block_that_is_refused_is_asked_in_parts_and_the_value_named(self):
        mine = self.folder / "mine.yaml"
        mine.write_text("title: A\nsource: invented for this test\npoints:\n"
                        "  power: {table: input, address: 52, type: float32, unit: W}\n"
                        "  current-l1: {table: input, address: 58, type: uint16, unit: A}\n")
        run = self.sluice("meter", "check", mine)
        self.assertIn("across 4 unused registers, from 0x0036 on; a meter that refuses that is "
                      "asked in 2 parts\n", run.stdout)
        peer = subprocess.Popen(
            ["/usr/bin/python3", SOURCE / "tests/peers/peer_rogue.py", "tcp"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        port = peer.stdout.readline().split()[1]
        for refused, status, said in (
                ("55 56", 0, r"refuses 7 input registers at 0x0034 together: asked in 2 parts\n"
                             r"(?s:.*)current-l1 +58 A +input 0x003a: 003a\n"),
                ("58 60", 1, r"power +-1500 W (?s:.*)current-l1 +refused +input 0x003a: "
                             r"exception 2\n")):
            peer.stdin.write(f"refuse {refused}\n")
            peer.stdin.flush()
            while peer.stdout.readline() != "done\n":
                pass
            run = self.sluice("meter", "read", "--map", mine, "--tcp", f"127.0.0.1:{port}",
                              "--unit", 17)
            self.assertEqual(run.returncode, status, run.stderr)
            self.assertRegex(run.stdout, said)
        self.assertIn("refuses 1 of 2 requests: what is marked refused is left out", run.stderr)
        peer.communicate()

    def test_silence_and_closed_doors_are_said(self):
        port = self.start("tcp")
        run = self.sluice("meter", "read", "--map", "abb-b23", "--maps", MAPS, "--tcp",
                          f"127.0.0.1:{port}", "--unit", 99, "--answer", "100 ms")
        self.assertEqual(run.returncode, 3)
        self.assertIn("unit 99 does not answer within 100 ms", run.stderr)
        self.end()
        run = self.read_by_tcp("abb-b23", port)
        self.assertEqual(run.returncode, 3)
        self.assertIn("refused", run.stderr)
        run = self.sluice("meter", "read", "--map", "abb-b23", "--maps", MAPS, "--serial",
                          "/dev/nowhere")
        self.assertEqual(run.returncode, 3)
        self.assertIn("/dev/nowhere", run.stderr)

    def test_a_port_that_another_program_uses_is_left_alone(self):
        master, slave = pty.openpty()
        self.addCleanup(os.close, master)
        self.addCleanup(os.close, slave)
        fcntl.flock(slave, fcntl.LOCK_EX)
        run = self.sluice("meter", "read", "--map", "abb-b23", "--maps", MAPS, "--serial",
                          os.ttyname(slave))
        self.assertEqual(run.returncode, 3)
        self.assertIn("in use by another program", run.stderr)

    def test_help_names_every_option(self):
        run = self.sluice("meter", "--help")
        self.assert_done(run)
        self.assert_fits(run.stdout)
        for option in ("map", "tcp", "serial", "unit", "every", "times", "answer", "settings",
                       "baud", "maps"):
            self.assertIn(f"--{option} ", run.stdout)

    def test_a_wrong_command_line_says_what_was_expected(self):
        by_map = ("meter", "read", "--map", "abb-b23", "--maps", MAPS)
        for words, *wanted in (
                (("meter", "read"), "usage: sluice meter"),
                (by_map, "--map needs one line"),
                ((*by_map, "--tcp", "a", "--serial", "b"), "--map needs one line"),
                ((*by_map, "house", "--tcp", "a"), "either a meter of the settings"),
                (("meter", "read", "--tcp", "a:1"), "--map MAP is needed"),
                ((*by_map, "--tcp", ":502"), '":502" is not HOST:PORT'),
                ((*by_map, "--tcp", "a:b"), "--tcp", '"b"'),
                ((*by_map, "--tcp", "a:70000"), '"70000"', "65535"),
                ((*by_map, "--tcp", "[::1"), '"[::1"'),
                ((*by_map, "--serial", ""), "not PORT,BAUD,PARITY"),
                ((*by_map, "--serial", "/dev/x,fast"), '"fast"'),
                ((*by_map, "--serial", "/dev/x,9600,N"), '"N" is not a parity'),
                ((*by_map, "--serial", "/dev/x", "--unit", "0"), '--unit: "0"'),
                ((*by_map, "--serial", "/dev/x", "--unit", "248"), '--unit: "248"'),
                ((*by_map, "--tcp", "a", "--every", "soon"), '--every: "soon"'),
                ((*by_map, "--tcp", "a", "--every", "1 s", "--times", "0"), '--times: "0"'),
                ((*by_map, "--tcp", "a", "--answer", "1 h"), '--answer: "1 h"')):
            self.assert_complains(self.sluice(*words), 2, *wanted)
        run = self.sluice("meter", "read", "house", "--settings", self.folder / "none.yaml")
        self.assert_complains(run, 3, "none.yaml", "settings file is expected")


if __name__ == "__main__":
    main()
