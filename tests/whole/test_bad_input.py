#!/usr/bin/env python3
"""Files, arguments and clients that are wrong, and the service manager's side: what the
daemon says, and that it goes on.

usage: test_bad_input.py BUILD-DIR SOURCE-DIR
"""
import json
import os
import signal
import socket
import subprocess

from case import Case, main
from programs import PATIENCE_S, Sluiced, coils, eventually

NOBODY = "{host: 127.0.0.1, tcp_port: 1, answer: 300 ms}"
BOMB = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
    f"{name}: &{name} [{','.join(['*' + before] * 9)}]\n"
    for before, name in zip("abcdefgh", "bcdefghi"))
CLIENTS = 100
REFUSED = 78  # EX_CONFIG, sysexits.h: what the unit does not start again


class BadFiles(Case):
    """Each ends the daemon at once with one clear line; nothing was opened."""

    def refuse(self, content, *wanted):
        if content is not None:
            self.settings.write_bytes(content)
        run = subprocess.run([self.built.sluiced, "--settings", self.settings, "--maps",
                              self.built.maps], stderr=subprocess.PIPE, stdout=subprocess.PIPE,
                             timeout=PATIENCE_S)
        said = run.stderr.decode()
        self.assertEqual(run.returncode, REFUSED, said)
        self.assertEqual(run.stdout, b"")
        self.assertTrue(said.startswith("<3>"), said)
        self.assertIn(str(self.settings), said)
        for text in wanted:
            self.assertIn(text, said)
        self.assertLess(len(said), 10_000)
        self.assertLess(len(said.splitlines()), 60)
        return said

    def test_no_file(self):
        self.refuse(None, "No such file")

    def test_an_empty_file(self):
        self.refuse(b"")

    def test_a_folder(self):
        self.settings.mkdir()
        self.refuse(None)

    def test_ten_megabytes_of_yaml(self):
        self.refuse(b"site: {name: " + b"x" * 10_000_000 + b"}\n")

    def test_ten_megabytes_of_keys(self):
        self.refuse(b"".join(b"key%07d: 1\n" % k for k in range(800_000)))

    def test_a_yaml_bomb(self):
        self.refuse(BOMB.encode(), "house.yaml:1:4")

    def test_depth(self):
        self.refuse(b"site: " + b"[" * 100_000)

    def test_binary(self):
        self.refuse(bytes(range(256)) * 100)

    def test_what_cannot_be_read(self):
        self.settings.symlink_to("/proc/self/mem")  # a file, and nothing is mapped at 0
        self.refuse(None, "cannot be read: Input/output error")

    def test_a_link_to_nowhere(self):
        self.settings.symlink_to(self.folder / "nowhere")
        self.refuse(None, "No such file")

    def test_a_pipe(self):
        os.mkfifo(self.settings)
        self.refuse(None, "is a pipe or device, not a file")

    def test_a_folder_of_maps_that_is_not_there(self):
        self.built.maps = self.folder / "nowhere"
        self.refuse((self.built.scenarios / "house.yaml").read_text().replace(
            "@BUS@", NOBODY).replace("map: sunspec", "map: own-meter").encode(),
            "map: there is no own-meter.yaml in", str(self.built.maps))

    def test_an_endless_line_of_nul(self):
        self.refuse(b"\0" * 100_000)


class BadArguments(Case):
    def run_sluiced(self, *words):
        return subprocess.run([self.built.sluiced, *words], capture_output=True, text=True,
                              timeout=PATIENCE_S)

    def test_what_is_unknown_is_named_with_the_way_to_help(self):
        for words, named in ((("--bogus",), "bogus"), (("start",), '"start"'),
                             (("--settings",), "settings"), (("--log", "loud"), '"loud"'),
                             (("--help=yes",), "help"), (("--set", "x", "extra"), '"extra"')):
            run = self.run_sluiced(*words)
            self.assertEqual(run.returncode, 1, words)
            self.assertEqual(run.stdout, "")
            self.assertIn(named, run.stderr)

    def test_help_and_version_are_no_mistakes(self):
        for word, wanted in (("--help", "--fail-state"), ("--version", "sluiced ")):
            run = self.run_sluiced(word)
            self.assertEqual((run.returncode, run.stderr), (0, ""))
            self.assertIn(wanted, run.stdout)

    def test_a_clock_that_nobody_grants(self):
        self.settings.write_text((self.built.scenarios / "house.yaml").read_text().replace(
            "@BUS@", NOBODY).replace("@SOCKET@", str(self.folder / "control")).replace(
            "@STATE@", str(self.folder)))
        run = self.run_sluiced("--settings", self.settings, "--maps", self.built.maps, "--clock",
                               self.folder / "nobody")
        self.assertEqual(run.returncode, 1)
        self.assertIn("no simulator grants time", run.stderr)


class Running(Case):
    """In real time, with a house or without."""

    def write_settings(self, bus):
        text = (self.built.scenarios / "house.yaml").read_text()
        for key, value in (("BUS", bus), ("SOCKET", str(self.folder / "control")),
                           ("STATE", str(self.folder))):
            text = text.replace(f"@{key}@", value)
        self.settings.write_text(text)

    def start_on(self, bus, **choices):
        self.write_settings(bus)
        return self.start_in_real_time(**choices)

    def connect(self):
        client = socket.socket(socket.AF_UNIX)
        self.addCleanup(client.close)
        client.connect(str(self.folder / "control"))
        client.settimeout(PATIENCE_S)
        return client

    def everything(self, client):
        got = b""
        while data := client.recv(65536):
            got += data
        return got

    def send(self, octets):
        client = self.connect()
        try:
            client.sendall(octets)
            return self.everything(client)
        except (BrokenPipeError, ConnectionResetError):
            return b""  # it has heard enough

    def assert_refused(self, answer, *wanted):
        answer = json.loads(answer)
        self.assertFalse(answer["ok"])
        for text in wanted:
            self.assertIn(text, answer["text"])

    def test_garbage_on_the_control_socket_is_answered_and_changes_nothing(self):
        self.start_on(NOBODY)
        for line in (b"\n", b" \n", b"banana\n", b"STATUS\n", b"\xff\xfe\xfd\n", b"status\0now\n",
                     b"order\n", b"order  \n", b"order water-heater\n", b"order nobody on 2 h\n",
                     b"order water-heater on\n", b"order water-heater %s%n\n",
                     b"inhibit water-heater maybe\n", b"enable\n", b"holiday\n",
                     "\u0436".encode() * 60 + b"\n", b"\x1b[2J\n", b"order " + b"z" * 240 + b"\n",
                     b"GET / HTTP/1.1\r\n"):
            self.assert_refused(self.send(line))
        self.assert_refused(self.send(b"x" * 255), "one short line")
        self.send(b"order water-heater " + b"y" * 100_000 + b"\n")
        heater = self.daemon.load()
        self.assertEqual((heater["hand"], heater["inhibited"], heater["enabled"]),
                         ("auto", False, True))

    def test_half_a_line_and_silence_keep_nobody_else_waiting(self):
        self.start_on(NOBODY)
        half = self.connect()
        half.sendall(b"stat")
        silent = self.connect()
        self.daemon.status()
        half.sendall(b"us\n")
        self.assertEqual(json.loads(self.everything(half))["site"], "Scenario house")
        silent.close()
        self.daemon.status()

    def test_a_hundred_clients_that_say_nothing_do_not_shut_the_door(self):
        self.start_on(NOBODY)
        crowd = [self.connect() for _ in range(CLIENTS)]
        self.daemon.status()
        self.daemon.order("off", "water-heater", "1h")
        for client in crowd:
            client.close()
        self.daemon.status()

    def test_a_client_that_asks_and_does_not_read_hurts_nobody(self):
        self.start_on(NOBODY)
        for _ in range(20):
            client = self.connect()
            client.sendall(b"status\n")
            client.close()
        self.daemon.status()

    def test_a_second_daemon_refuses_and_switches_nothing(self):
        def second():
            before = coils(self.house.port)
            self.assertTrue(before[0])
            other = Sluiced(self.built, self.settings, self.folder)
            self.addCleanup(other.close)
            self.assertEqual(other.end(), 1)
            said = other.said.text()
            self.assertIn(str(self.folder / "control"), said)
            self.assertIn("another daemon serves this control socket", said)
            self.assertEqual(coils(self.house.port), before)
            self.assertTrue(self.daemon.load()["on"], "the first one still answers there")

        self.at("10:59", lambda: self.daemon.order("on", "water-heater", "1h"))
        self.at("11:00", second)
        self.open_house("""
start 2026-01-14 10:50
length 20 min
water water-heater 20 C
draws none
must water-heater relay on 10:59:05..11:09
must water-heater cycles = 1
""")
        self.fill_settings()
        self.start()
        self.play()

    def test_the_socket_of_a_killed_daemon_is_taken_over(self):
        self.start_on(NOBODY)
        self.daemon.kill()
        self.assertTrue((self.folder / "control").exists())
        self.start_on(NOBODY)
        self.assertEqual(self.daemon.status()["site"], "Scenario house")

    def test_a_file_where_the_control_socket_should_be_is_not_deleted(self):
        letter = self.folder / "letter"
        letter.write_text("a letter\n")
        self.write_settings(NOBODY)
        self.change_settings((str(self.folder / "control"), str(letter)))
        self.start()
        self.assertGreater(self.daemon.end(), 0)
        self.assertIn(f'"{letter}" is there and is not a socket', self.daemon.said.text())
        self.assertEqual(letter.read_text(), "a letter\n")

    def test_a_socket_that_another_program_uses_is_not_deleted(self):
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as theirs:
            theirs.bind(str(self.folder / "control"))
            self.write_settings(NOBODY)
            self.start()
            self.assertGreater(self.daemon.end(), 0)
            self.assertIn("the control socket cannot be opened", self.daemon.said.text())
            self.assertTrue((self.folder / "control").is_socket())

    def test_the_watchdog_is_petted_while_the_bus_refuses(self):
        self.watch_petting(NOBODY)

    def test_the_watchdog_is_petted_while_the_bus_takes_everything_and_says_nothing(self):
        with socket.create_server(("127.0.0.1", 0)) as mute:
            self.watch_petting(f"{{host: 127.0.0.1, tcp_port: {mute.getsockname()[1]}, "
                               "answer: 1 s}")

    def watch_petting(self, bus):
        # sd_watchdog_enabled(3): in microseconds, for this process or, without a PID, any.
        notified = self.start_on(bus, environment={"WATCHDOG_USEC": "1500000"})
        for _ in range(4):
            notified.wait_for("WATCHDOG=1", self.daemon)
        status = self.daemon.status()
        self.assertEqual(status["reading"]["quality"], "absent")
        self.assertIsNone(status["spare_w"])
        self.daemon.signal(signal.SIGTERM)
        notified.wait_for("STOPPING=1", self.daemon)
        self.daemon.end()

    def test_the_service_manager_hears_of_a_reload(self):
        notified = self.start_on(NOBODY)
        self.daemon.signal(signal.SIGHUP)
        # systemd.service(5), Type=notify-reload: RELOADING=1 comes with MONOTONIC_USEC.
        message = notified.wait_for("RELOADING=1", self.daemon)
        self.assertIn("MONOTONIC_USEC=", message)
        notified.wait_for("READY=1", self.daemon)

    def test_a_silent_bus_is_told_and_named(self):
        self.start_on(NOBODY)
        status = eventually("the meter is missed", lambda: next(
            (s for s in [self.daemon.status()] if s["troubles"]), None))
        self.assertRegex(" ".join(status["troubles"]), "(grid|roof|water-heater|pool-pump).*board")

    def test_a_state_folder_that_is_not_there_stops_nothing(self):
        text_state = self.folder / "nowhere"
        self.start_on(NOBODY)
        self.daemon.signal(signal.SIGTERM)
        self.daemon.end()
        self.change_settings((f'"{self.folder}/ledger.db"', f'"{text_state}/ledger.db"'))
        self.start_in_real_time()
        self.daemon.order("off", "water-heater", "1h")
        status = eventually("storage is a trouble", lambda: next(
            (s for s in [self.daemon.status()] if s["ledger"]["trouble"]), None))
        self.assertIn("nowhere", status["ledger"]["trouble"])


if __name__ == "__main__":
    main()
