#!/usr/bin/env python3
"""The unit's stop helper, `sluiced --fail-state`, after a daemon that was killed.

usage: test_fail_state.py BUILD-DIR SOURCE-DIR
"""
import re
import socket
import subprocess
import threading
import time

import programs
from broker import Broker
from case import SOURCE, Case, main
from programs import PATIENCE_S, coils, set_coil

UNIT = SOURCE / "systemd/sluiced.service.in"
LONG = "60s"  # for a helper that must not need it: it ends once all is confirmed
PLUG = ("kind: topic, topic: test/pump/set, state_topic: test/pump/state, on_payload: ON, "
        "off_payload: OFF")
MQTT = "mqtt: {{host: 127.0.0.1, port: {port}}}\nstorage:"


class Disturbed(programs.Door):
    """A door that lets in nothing and swallows each question, until so many have come."""

    def __init__(self, port, questions):
        self.left, self.clear = questions, threading.Event()
        super().__init__(port)

    def carry(self, source, sink):
        try:
            while data := source.recv(4096):
                if sink.getpeername()[1] == self.to and not self.clear.is_set():
                    self.left -= 1
                    if self.left <= 0:
                        self.clear.set()
                    continue
                sink.sendall(data)
            sink.shutdown(socket.SHUT_WR)
        except OSError:
            return  # the other direction has closed it


class Plug:
    """Switched by its topic, and says so on another; on at the beginning."""

    def __init__(self, broker):
        self.said, self.port = [], str(broker.port)
        self.process = subprocess.Popen(
            ["mosquitto_sub", "-p", self.port, "-q", "1", "-t", "test/pump/set"],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        threading.Thread(target=self.obey, daemon=True).start()

    def obey(self):
        for line in self.process.stdout:
            self.said.append(line.strip())
            subprocess.run(["mosquitto_pub", "-p", self.port, "-q", "1", "-t", "test/pump/state",
                            "-m", line.strip()], check=True, timeout=PATIENCE_S)

    def close(self):
        self.process.kill()
        self.process.wait(PATIENCE_S)


class FailState(Case):
    def run_helper(self, *words):
        return subprocess.run([self.built.sluiced, "--fail-state", "--settings", self.settings,
                               "--maps", self.built.maps, *(words or ("--for", LONG))],
                              stderr=subprocess.PIPE, text=True, timeout=PATIENCE_S)

    def play_with(self, act, text=""):
        """A house whose heater and pump have been ordered on; `act` at half past ten."""
        def order():
            for load in ("water-heater", "pool-pump"):
                self.daemon.order("on", load, "2h")

        def kill():
            self.daemon.kill()
            act()
            self.start()

        self.at("10:25", order)
        self.at("10:30", kill)
        self.open_house(f"""
start 2026-01-14 10:20
length 15 min
water water-heater 20 C
draws none
must water-heater relay on 10:26..10:30; pool-pump relay on 10:26..10:30
{text}
""")
        self.fill_settings()
        self.start()
        self.play()

    def test_every_coil_goes_to_its_fail_state(self):
        def act():
            self.assertEqual(coils(self.house.port), [True, True], "the board keeps what it has")
            run = self.run_helper()
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assertEqual(coils(self.house.port), [False, False])
            for load in ("water-heater", "pool-pump"):
                self.assertRegex(run.stderr, f"{load}: fail state confirmed")
            again = self.run_helper()
            self.assertEqual(again.returncode, 0, again.stderr)
            self.assertEqual(coils(self.house.port), [False, False])

        self.play_with(act, "must water-heater relay off 10:30..10:34")

    def test_on_is_a_fail_state_too_and_a_normally_closed_contact_is_let_go(self):
        def act():
            self.change_settings(("address: 0, read_back: yes, fail_state: off",
                                  "address: 0, read_back: yes, fail_state: on"),
                                 ("address: 1, read_back: yes, fail_state: off",
                                  "address: 1, read_back: yes, normally_closed: yes, "
                                  "fail_state: on"),
                                 ("power: 1.1 kW", "power: 1.1 kW\n    thermostat: yes"))
            set_coil(self.house.port, 0, False)
            set_coil(self.house.port, 1, True)
            run = self.run_helper()
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assertEqual(coils(self.house.port), [True, False])
            self.change_settings(("fail_state: on", "fail_state: off"),
                                 ("normally_closed: yes, ", ""))

        self.play_with(act)

    def test_a_silent_board_is_named_when_the_time_is_up(self):
        def act():
            begun = time.monotonic()
            run = self.run_helper("--for", "6s")
            self.assertGreaterEqual(time.monotonic() - begun, 6, "all of its time is used")
            self.assertGreater(run.returncode, 0, "it ended by itself")
            for load in ("water-heater", "pool-pump"):
                self.assertRegex(run.stderr, f"{load}: fail state (failed|unsafe|pending):"
                                             " .*(silent|does not answer)")

        self.play_with(act, "at 10:29:59 fault relay silent until 10:31")

    def test_a_disturbed_board_is_tried_until_it_answers(self):
        """More questions are lost than any fixed number of tries for two outputs would ask."""
        def act():
            door = Disturbed(self.house.port, 12)
            self.addCleanup(door.close)
            there = programs.TCP_BUS.format(port=door.port)
            self.change_settings((self.house.bus, there))
            run = self.run_helper()
            self.assertTrue(door.clear.is_set())
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assertEqual(coils(self.house.port), [False, False])
            self.change_settings((there, self.house.bus))

        self.play_with(act, "must water-heater relay off 10:30..10:34")

    def test_one_board_that_is_gone_does_not_keep_the_other_on(self):
        def act():
            # The pump's board is where nobody listens.
            self.change_settings(("buses:\n", "buses:\n  shed: {host: 127.0.0.1, tcp_port: 1, "
                                              "answer: 300 ms}\n"),
                                 ("kind: coil, bus: board, unit: 10, address: 1",
                                  "kind: coil, bus: shed, unit: 10, address: 1"))
            run = self.run_helper("--for", "2s")
            self.assertGreater(run.returncode, 0)
            self.assertRegex(run.stderr, "water-heater: fail state confirmed")
            self.assertRegex(run.stderr, "pool-pump: fail state (failed|unsafe|pending): .+")
            self.assertEqual(coils(self.house.port), [False, True])
            self.change_settings(("bus: shed", "bus: board"))

        self.play_with(act)

    def test_a_plug_on_the_broker_is_switched_off_and_its_report_is_waited_for(self):
        """The broker is there, but no connection to it yet when the helper starts."""
        broker = Broker(self.folder)
        self.addCleanup(broker.close)
        plug = Plug(broker)
        self.addCleanup(plug.close)
        programs.eventually("the plug obeys", lambda: self.obeys(broker, plug))

        def act():
            kept = self.settings.read_text()
            self.change_settings(("kind: coil, bus: board, unit: 10, address: 1, read_back: yes",
                                  PLUG), ("storage:", MQTT.format(port=broker.port)))
            before = len(plug.said)
            run = self.run_helper()
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assertRegex(run.stderr, "pool-pump: fail state confirmed")
            self.assertEqual(set(plug.said[before:]), {"OFF"})
            self.settings.write_text(kept)

        self.play_with(act)

    @staticmethod
    def obeys(broker, plug):
        broker.publish("test/pump/set", b"ON")
        return "ON" in plug.said

    def test_the_unit_stops_the_helper_later_than_it_ends(self):
        unit = UNIT.read_text()
        time_s = int(re.search(r"^ExecStopPost=.* --fail-state --for (\d+)s ", unit, re.M).group(1))
        limit_s = int(re.search(r"^TimeoutStopSec=(\d+)$", unit, re.M).group(1))
        self.assertGreaterEqual(limit_s, time_s + 5)


if __name__ == "__main__":
    main()
