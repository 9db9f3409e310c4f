#!/usr/bin/env python3
"""`sluice bus listen` and `sluice bus scan`, on pseudo-terminals with real peers.

usage: test_bus.py BUILD-DIR SOURCE-DIR
"""
import os
import signal
import subprocess
import threading

from command import BUILD, SLUICE, SOURCE, Case, main

MAPS = SOURCE / "conf/meters"
READS = {3, 4}
SETTINGS = """
site: {name: Test, timezone: UTC, phases: 3, billing: net, supply_limit: 63 A}
loads:
  heater:
    power: 2 kW
    phases: L1
    output: {kind: topic, topic: test/heater}
mqtt: {host: localhost}
"""


class Peer:
    """A process that says "ready PATH", reports what it was asked, and takes orders."""

    def __init__(self, case, program, *arguments):
        self.process = subprocess.Popen(
            ["/usr/bin/python3", SOURCE / "tests/peers" / program, *map(str, arguments)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        case.addCleanup(self.end)
        self.path = self.process.stdout.readline().split()[1]
        self.asked, self.done = [], threading.Semaphore(0)
        self.reader = threading.Thread(target=self.read, daemon=True)
        self.reader.start()

    def read(self):
        for line in self.process.stdout:
            words = line.split()
            if words[:1] == ["asked"]:
                self.asked.append(bytes.fromhex(words[1]))
            elif words == ["done"]:
                self.done.release()

    def order(self, text):
        self.process.stdin.write(text + "\n")
        self.process.stdin.flush()
        self.done.acquire(timeout=30)

    def end(self):
        self.process.stdin.close()
        self.process.wait()
        self.reader.join()
        self.process.stdout.close()


def line_of(parity):
    """An environment in which the other end hears and is heard at this parity alone."""
    return {"LD_PRELOAD": str(BUILD / "tests/sluice/libparity_line.so"), "LINE_PARITY": parity,
            "ASAN_OPTIONS": "verify_asan_link_order=0"}


class Bus(Case):
    def while_talking(self, peer, *words, **environment):
        """Runs sluice while the two others talk; its status, what it said, its complaints."""
        run = subprocess.Popen([SLUICE, "bus", *map(str, words)], stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE, text=True, env={**os.environ, **environment})
        run.stderr.readline()  # it says that it listens: the port is about to be open
        while run.poll() is None:
            peer.order("round")
        out, error = run.communicate()
        return run.returncode, out, error

    def test_listening_shows_who_asks_what_with_values_and_sends_nothing(self):
        peer = Peer(self, "peer_overheard.py", 7)
        status, out, _ = self.while_talking(peer, "listen", peer.path, "--maps", MAPS, "--map",
                                            "eastron-sdm120", "--unit", 17, "--exchanges", 12)
        self.assertEqual(status, 0, out)
        self.assertIn("unit 17 input 0x0000 x 2: voltage-l1 230.2 V", out)
        self.assertIn("unit 17 holding 0x006b x 3: 022b 0000 0064", out)
        self.assertEqual(out.count("unit 17 matches the map eastron-sdm120\n"), 1)
        self.assertIn("mode: listen", out)
        self.assertIn("never polled", out)
        self.assertEqual(peer.asked, [])

    def test_listening_finds_the_speed_by_whole_frames(self):
        peer = Peer(self, "peer_overheard.py", 64, 19200)
        status, out, error = self.while_talking(peer, "listen", peer.path, "--maps", MAPS,
                                                "--exchanges", 4)
        self.assertEqual(status, 0, error)
        self.assertIn("19200 baud", out)
        self.assertIn("unit 17 holding 0x006b x 3: 022b 0000 0064", out)
        self.assertEqual(peer.asked, [])

    def test_listening_finds_the_parity_by_whole_frames(self):
        peer = Peer(self, "peer_overheard.py", 64, 19200)
        status, out, error = self.while_talking(peer, "listen", peer.path, "--maps", MAPS,
                                                "--exchanges", 4, **line_of("even"))
        self.assertEqual(status, 0, error)
        self.assertIn("19200 baud, even parity", out)
        self.assertEqual(peer.asked, [])

    def test_a_told_map_of_which_nothing_is_read_is_not_spoken(self):
        peer = Peer(self, "peer_overheard.py", 64)
        status, out, error = self.while_talking(peer, "listen", peer.path, "--maps", MAPS, "--map",
                                                "abb-b23", "--unit", 17, "--exchanges", 8)
        self.assertEqual(status, 0, error)
        self.assertIn("unit 17: no master polls anything of the map abb-b23", out)
        self.assertNotIn("matches", out)
        self.assertNotIn("meters:", out)

    def test_a_unit_that_nobody_asks_is_told_as_never_heard(self):
        peer = Peer(self, "peer_overheard.py", 64)
        run = subprocess.Popen([SLUICE, "bus", "listen", peer.path, "--maps", MAPS, "--unit", "9",
                                "--baud", "9600"], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                               text=True)
        run.stderr.readline()
        peer.order("round")
        run.send_signal(signal.SIGINT)
        out, error = run.communicate()
        self.assertEqual((run.returncode, error),
                         (1, "sluice: unit 9 was never polled\n"), out)
        self.assertNotIn("unit 17", out)

    def test_listening_ends_on_a_silent_line_and_says_where_to_look(self):
        peer = Peer(self, "peer_overheard.py", 64)
        for line in ([], ["--baud", "9600"]):
            run = self.sluice("bus", "listen", peer.path, "--maps", MAPS, "--for", "200 ms", *line)
            self.assertEqual((run.returncode, run.stdout), (1, ""), run.stderr)
            self.assertIn(f"nothing received on {peer.path}: check that A and B", run.stderr)
            self.assertIn("that a master polls, and the baud rate", run.stderr)

    def test_scan_stops_when_another_master_talks_and_sends_nothing(self):
        peer = Peer(self, "peer_overheard.py", 64)
        status, out, error = self.while_talking(peer, "scan", peer.path, "--maps", MAPS)
        self.assertEqual((status, out), (1, ""))
        self.assertIn("another master polls", error)
        self.assertEqual(peer.asked, [])

    def scan(self, peer, *more, **environment):
        return self.sluice("bus", "scan", peer.path, "--maps", MAPS, "--listen", "100 ms",
                           "--answer", "60 ms", *more, **environment)

    def assert_only_read(self, peer):
        self.assertGreater(len(peer.asked), 0)
        for frame in peer.asked:
            self.assertIn(frame[1], READS, frame.hex())

    def assert_settings(self, sections):
        """What was printed makes a settings file whole."""
        path = self.folder / "house.yaml"
        path.write_text(SETTINGS + sections)
        run = self.sluice("check", path, "--maps", MAPS)
        self.assertEqual(run.returncode, 0, run.stderr)

    def test_scan_finds_a_meter_at_its_baud_and_unit_and_prints_its_settings(self):
        for baud, unit in ((9600, 1), (19200, 2)):
            peer = Peer(self, "peer_meter.py", "float", unit, baud)
            run = self.scan(peer)
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assertIn(f"baud: {baud}\n", run.stdout)
            self.assertIn(f"unit: {unit}\n    map: eastron-sdm630", run.stdout)
            self.assert_only_read(peer)
            self.assert_settings(run.stdout)

    def test_scan_knows_a_sunspec_meter_by_its_models(self):
        peer = Peer(self, "peer_meter.py", "sunspec", 2, 9600)
        run = self.scan(peer)
        self.assertEqual(run.returncode, 0, run.stderr)
        self.assertIn("# SunSpec model 203: Invented Meter, serial number 0001", run.stdout)
        self.assertIn("unit: 2\n    map: sunspec\n", run.stdout)
        self.assert_only_read(peer)
        self.assert_settings(run.stdout)

    def test_scan_finds_the_parity_of_the_line(self):
        peer = Peer(self, "peer_meter.py", "float", 3, 9600)
        run = self.scan(peer, **line_of("even"))
        self.assertEqual(run.returncode, 0, run.stderr)
        self.assertIn("baud: 9600\n    parity: even\n", run.stdout)
        self.assertIn("unit: 3\n", run.stdout)
        self.assert_only_read(peer)

    def test_scan_names_a_device_that_no_map_knows(self):
        peer = Peer(self, "peer_meter.py", "strange", 1, 9600)
        run = self.scan(peer)
        self.assertEqual(run.returncode, 1)
        self.assertIn("unit 1 answers", run.stderr)
        self.assertIn("no known device", run.stderr)
        self.assert_only_read(peer)

    def test_scan_says_that_the_adapter_echoes(self):
        peer = Peer(self, "peer_meter.py", "float", 1, 9600, "echo")
        run = self.scan(peer)
        self.assertEqual(run.returncode, 1)
        self.assertIn("switch its echo off", run.stderr)
        self.assert_only_read(peer)

    def test_help_names_every_option(self):
        run = self.sluice("help", "bus")
        self.assert_done(run)
        self.assert_fits(run.stdout)
        for option in ("baud", "parity", "unit", "map", "for", "exchanges", "listen", "answer",
                       "maps"):
            self.assertRegex(run.stdout, rf"(?m)^ +--{option} ")
        self.assertEqual(self.sluice("bus", "--help").stdout, run.stdout)
        self.assertEqual(self.sluice("bus", "scan", "--help").stdout, run.stdout)

    def test_what_is_no_port_is_said_so(self):
        nowhere = self.sluice("bus", "scan", self.folder / "none", "--maps", MAPS)
        self.assert_complains(nowhere, 3, "no such device")
        self.assertEqual(nowhere.stderr.count("\n"), 1)
        self.assert_complains(self.sluice("bus", "listen", self.folder / "none", "--baud", "9600",
                                          "--maps", MAPS), 3, "no such device")
        self.assert_complains(self.sluice("bus", "listen"), 2, "usage: sluice bus")
        self.assert_complains(self.sluice("bus", "sing"), 2, "usage: sluice bus")
        self.assert_complains(self.sluice("bus", "listen", "x", "--parity", "left", "--maps", MAPS),
                              2, "none, even or odd")

    def test_words_that_are_no_numbers_or_out_of_range_are_told_apart(self):
        for option, word, wanted in (
                ("--for", "3", '--for: "3" is not a duration such as 30 s or 2 min\n'),
                ("--for", "2 d", '--for: "2 d" is not in the range of 1 ms to 1 d\n'),
                ("--unit", "x", '--unit: "x" is not a whole number, such as 4\n'),
                ("--unit", "248", '--unit: "248" is not in the range of 1 to 247\n')):
            self.assert_complains(self.sluice("bus", "listen", "x", "--maps", MAPS, option, word),
                                  2, wanted)


if __name__ == "__main__":
    main()
