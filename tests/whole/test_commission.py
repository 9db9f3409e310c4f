#!/usr/bin/env python3
"""`sluice commission`: meter, phases and outputs of a house are gone through step by step, what
was found is kept at once, and loads are left as they were.

usage: test_commission.py BUILD-DIR SOURCE-DIR
"""
import hashlib
import json
import os
import re
import signal
import subprocess
import sys

from case import long, main
from programs import PATIENCE_S, coils, eventually
from trial_case import ROOF, TrialCase

# What the pump of the shared house takes from the supply.
PUMP = ("    power: 1.1 kW\n", "    power: 1.26 kW\n")


class Answering:
    """A terminal at which somebody types."""

    answers = {}  # by words of the question; Enter where there is none

    def run_on_terminal(self, command, environment):
        """With no systemctl to be found: the machine's own service is nobody's business here."""
        empty = self.folder / "no-programs"
        empty.mkdir(exist_ok=True)
        super().run_on_terminal(command, {**environment, "PATH": str(empty), "NO_COLOR": "1"})

    def watch_terminal(self):
        """One answer to each question; of a list one after the other."""
        answered = 0
        try:
            while data := os.read(self.master, 4096):
                self.seen += data
                if self.seen.endswith(b"  > "):
                    asked = " ".join(self.seen[answered:].decode().split())
                    answered = len(self.seen)
                    line = next((a for q, a in self.answers.items() if q in asked), "")
                    line = line.pop(0) if isinstance(line, list) else line
                    os.write(self.master, line.encode() + b"\n")
        except OSError:
            return  # the other end has closed


class CommissionCase(Answering, TrialCase):
    seconds = 200
    changes = ()

    def go(self, text="", *words, roof=False, length="6 min", settings=(), **choices):
        self.record = self.folder / "record"
        self.state = self.folder / "commission.json"
        settings = (PUMP, *settings, *(() if roof else ((ROOF, ""),)))
        yes = () if choices.get("terminal") else ("--yes",)
        command = ("commission", *yes, "--maps", self.built.maps, "--record", self.record, *words)
        return self.trial(text, *command, settings=settings, length=length, **choices)

    def results(self):
        kept = json.loads(self.state.read_text())
        return {step: result["outcome"] for step, result in kept["results"].items()}

    def evidence(self, step):
        return json.loads(self.state.read_text())["results"][step]["evidence"]

    def assert_left_alone(self):
        """The loads are as nobody had ordered anything."""
        for load in self.daemon.status()["loads"]:
            self.assertEqual((load["hand"], load["test"]), ("auto", "none"), load["name"])

    def later(self, *words, terminal=None):
        """The command once more, in the same house."""
        self.end_client()
        self.words = ("commission", *words, "--maps", self.built.maps, "--record", self.record)
        self.terminal = terminal
        self.run_client()


class Commission(CommissionCase):
    def test_a_sound_house_passes_and_says_what_it_could_not_show(self):
        self.go("must water-heater relay off 10:25..10:25:59; water-heater cycles = 1",
                acts={199: self.assert_left_alone})
        results = self.results()
        self.assertEqual(self.status, 1, self.said)  # steps are left that need a person
        for step in ("settings", "meter", "sign", "phase:L1", "output:water-heater",
                     "output:pool-pump", "clock", "storage", "findings"):
            self.assertEqual(results[step], "pass", self.evidence(step) + self.said)
        self.assertIn("names and powers of loads agree with what is in force",
                      self.evidence("settings"))
        self.assertEqual((results["stop"], results["time-out"], results["solar"],
                          results["broker"]),
                         ("needs-person", "needs-person", "skipped", "skipped"))
        self.look_for("import rose as water-heater was switched on", "Why: With the sign reversed",
                      "skipped: needs a person", "cannot be tested from here", "9 pass")
        page = (self.folder / "record.html").read_text()
        for words in ("Commissioning: Scenario house", "draws 3.", "not stated", "SHA-256", "Begun 2026-01-14 10:20",
                      "Off is not isolation", "Not complete.", "@page{size:A4"):
            self.assertIn(words, page)
        self.assertNotIn("src=", page)
        plain = (self.folder / "record.md").read_text()
        self.assertRegex(plain, r"\| Sign of the grid meter \| pass \| import rose as water-heater")
        self.assertRegex(plain, r"\| Grid, import positive \| [0-9.]+ k?W \| [0-9.]+ k?W \|")

    @long
    def test_the_wrong_board_answers_and_nothing_appears_at_the_meter(self):
        self.go("at 10:20:05 fault water-heater element-broken\n"
                "at 10:20:05 fault pool-pump element-broken")
        results = self.results()
        self.assertEqual((results["sign"], results["phase:L1"], results["output:water-heater"],
                          results["output:pool-pump"]),
                         ("not-now", "not-now", "fail", "fail"), self.said)
        self.look_for("Isolate before opening")
        self.assertIn("Not as it should be", (self.folder / "record.html").read_text())

    def when(self, condition, act):
        """Once it is so, at whichever second of the day."""
        done = []

        def look():
            if not done and condition():
                done.append(True)
                act()
        return {k: look for k in range(1, 90)}

    def end_in_a_test(self, number, acts=None, **choices):
        """What a killed command has ordered ends by itself, and then the minimum on."""
        self.go("must water-heater relay off 10:26:30..10:26:59", length="7 min",
                acts={**self.when(self.relay, lambda: self.client.send_signal(number)),
                      **(acts or {}), 199: self.assert_left_alone}, **choices)
        self.assertEqual(set(self.results()), {"settings", "meter", "master", *choices})

    @long
    def test_interrupted_in_a_test_it_leaves_the_load_and_goes_on_there(self):
        def again():
            self.assertEqual(self.client.wait(PATIENCE_S), 1)
            self.first = self.spoken.text()
            self.assertEqual(set(self.results()), {"settings", "meter", "master"})
            self.assertFalse(self.relay(), self.what_was_said() + self.first)
            self.later("--yes")

        self.go("must water-heater relay off 10:26..10:26:59", length="7 min",
                acts={**self.when(self.relay, lambda: self.client.send_signal(signal.SIGINT)),
                      91: again})
        self.assertIn("Stopped here: water-heater: interrupted", " ".join(self.first.split()))
        self.look_for("1 of 16: Settings: pass (2026-01-14T10:20)", "import rose")
        self.assertEqual(self.results()["output:water-heater"], "pass", self.said)

    @long
    def test_killed_in_a_test_it_leaves_the_load_and_a_whole_file(self):
        self.end_in_a_test(signal.SIGKILL)
        self.assertEqual(self.status, -signal.SIGKILL)

    @long
    def test_a_connection_that_drops_in_a_test_leaves_the_load_and_a_whole_file(self):
        self.end_in_a_test(signal.SIGHUP)

    @long
    def test_killed_at_any_step_it_goes_on_there(self):
        """Over and over, at the title of each step in turn, until there is none left."""
        self.seen_titles = 0

        def act():
            titles = self.spoken_titles()
            if self.client.poll() is not None:
                if self.client.returncode == -signal.SIGKILL:
                    json.loads(self.state.read_text())
                    self.later("--yes")
            elif titles and titles[-1] > self.seen_titles:
                self.seen_titles = titles[-1]
                self.client.kill()

        self.seconds = 380
        self.go("must water-heater relay off 10:27:30..10:27:59", length="8 min",
                acts={**{k: act for k in range(2, 375)}, 379: self.assert_left_alone})
        self.assertEqual(self.results()["output:pool-pump"], "pass", self.said)
        self.assertGreater(self.seen_titles, 8)

    def spoken_titles(self):
        found = (re.match(r"(\d+) of 16: [^:]*$", line) for line in self.spoken.lines)
        return [int(match.group(1)) for match in found if match]

    @long
    def test_with_a_meter_that_does_not_answer_nothing_is_switched(self):
        self.go("at 10:20:05 fault meter silent until 10:26\nmust water-heater relay off")
        results = self.results()
        self.assertEqual((results["meter"], results["sign"], results["output:water-heater"]),
                         ("fail", "not-now", "not-now"), self.said)
        self.look_for("check A/B, power, unit id, baud rate", "Nothing was switched")

    @long
    def test_at_night_it_says_what_the_sun_must_show(self):
        self.go(roof=True, start="23:00", begin=(23 * 60) * 60 + 20)
        self.assertEqual(self.results()["solar"], "not-now", self.said)
        self.look_for("whether it rises with the sun cannot be shown now")

    @long
    def test_on_forty_columns_a_person_is_asked_and_has_the_last_word(self):
        self.answers = {"meter's own display": "n", "Your name": "Pat Example",
                        "safe to switch pool-pump": "n", "time-out that switches": "y"}
        self.go(terminal=40)
        self.assertEqual(self.status, 1, self.said)
        results = self.results()
        self.assertEqual((results["meter"], results["sign"], results["output:pool-pump"],
                          results["stop"], results["time-out"]),
                         ("fail", "pass", "skipped", "not-now", "skipped"), self.said)
        self.assertIn("does not agree", self.evidence("meter"))
        self.assertTrue(all(len(line) <= 40 for line in self.said.split("\n")
                            if "/" not in line), self.said)
        self.assertIn("Installer: Pat Example", (self.folder / "record.html").read_text())


class NewHouse(Answering, TrialCase):
    """Settings from answers, and from what is found on a line."""

    def setUp(self):
        super().setUp()
        self.answers = {"site is called": "Wattle house", "zone of the household": "Australia/Sydney",
                        "main switch": "63 A", "first load": "water-heater",
                        "next load": ["pool-pump", ""], "power:": ["3.6 kW", "1.1 kW"],
                        "storage water heater": ["y", "n"], "Has it a motor": "y",
                        "Look for the meter": "n", "register map": "sunspec"}

    def write_new(self, *words):
        self.terminal = 40
        self.run_on_terminal([self.built.sluice, "commission", "--new", "--settings", self.settings,
                              "--maps", self.built.maps, *words], dict(os.environ))
        self.addCleanup(self.client.wait, PATIENCE_S)
        self.addCleanup(self.client.kill)
        self.status = self.client.wait(PATIENCE_S * 3)
        self.said = self.read_terminal()

    def check(self):
        run = subprocess.run([self.built.sluice, "check", self.settings, "--maps", self.built.maps],
                             capture_output=True, text=True, timeout=PATIENCE_S)
        self.assertEqual(run.returncode, 0, run.stderr)
        return " ".join(run.stdout.split())

    def test_answers_become_settings_with_the_rows_own_comments(self):
        self.answers["Serial device of the meter"] = "/dev/sluice-meter"
        self.write_new()
        self.assertEqual(self.status, 0, self.said)
        text = self.settings.read_text()
        self.assertIn("# Amps per phase at the main switch.", text)
        self.assertIn("Legionella", text)
        self.assertEqual(text.count("# Nameplate power"), 1)
        said = self.check()
        for words in ("water-heater", "pool-pump", "coil 0 of unit 10", "coil 1 of unit 10"):
            self.assertIn(words, said)
        self.assertTrue(all(len(line) <= 40 for line in self.said.split("\n") if "/" not in line),
                        self.said)

    @long
    def test_a_load_on_three_phases(self):
        self.answers |= {"Serial device of the meter": "/dev/sluice-meter", "three phases": "y",
                         "phases: The phases it is wired to": "[L1, L2, L3]"}
        self.write_new()
        self.assertEqual(self.status, 0, self.said)
        self.assertIn("  billing: per_phase\n", self.settings.read_text())
        self.assertIn("phases: [L1, L2, L3]\n", self.settings.read_text())
        self.check()

    def test_a_file_that_is_there_is_not_replaced_unasked(self):
        self.settings.write_text("mine")
        self.write_new()
        self.assertEqual((self.status, self.settings.read_text()), (1, "mine"), self.said)

    def test_what_sluiced_would_reject_is_not_put_in_place(self):
        self.settings.write_text("mine")
        self.answers |= {"Serial device of the meter": "/dev/sluice-meter", "Replace it": "y",
                         "power:": ["3.6", "1.1 kW"]}
        self.write_new()
        self.assertEqual((self.status, self.settings.read_text()), (1, "mine"), self.said)
        self.assertRegex(self.said.replace("\n", ""), r"house.yaml.new:\d+:\d+: ")

    @long
    def test_the_meter_is_found_on_its_line(self):
        self.open_house("start 2026-01-14 10:20\nlength 1 h", clock=False, pty=True)
        self.answers |= {"Serial device of the meter": str(self.folder / "pty"),
                         "Look for the meter": "y"}
        self.write_new()
        self.assertEqual(self.status, 0, self.said)
        text = self.settings.read_text()
        self.assertIn("    map: sunspec\n", text)
        self.assertIn("    unit: 1\n", text)
        self.check()


SYSTEMCTL = """#!{python}
import os, pathlib, select, signal, subprocess, sys
folder = pathlib.Path("{folder}")
with (folder / "calls").open("a") as calls:
    calls.write(sys.argv[1] + "\\n")
pid = folder / "pid"
if sys.argv[1] == "is-active":
    sys.exit(not pid.exists())
if sys.argv[1] == "stop":
    handle = os.pidfd_open(int(pid.read_text()))
    signal.pidfd_send_signal(handle, signal.SIGTERM)
    select.select([handle], [], [])
    pid.unlink()
    subprocess.run({daemon} + ["--fail-state", "--for", "25s"], check=True)
if sys.argv[1] == "start" and not pid.exists():
    log = open(folder / "daemon.log", "a")
    process = subprocess.Popen({daemon}, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                               start_new_session=True)
    pid.write_text(str(process.pid))
"""


class FailState(TrialCase):
    """In real time, with a systemctl that knows this one service."""

    def setUp(self):
        super().setUp()
        self.open_house("start 2026-01-14 10:20\nlength 1 h\nwater water-heater 20 C", clock=False)
        self.fill_settings()
        self.services = self.folder / "services"
        self.services.mkdir()
        daemon = [str(self.built.sluiced), "--settings", str(self.settings), "--maps",
                  str(self.built.maps)]
        script = self.services / "systemctl"
        script.write_text(SYSTEMCTL.format(python=sys.executable, folder=self.services,
                                           daemon=repr(daemon)))
        script.chmod(0o755)
        subprocess.run([script, "start"], check=True)
        self.addCleanup(self.end_service)
        self.environment = dict(os.environ, SLUICE_SOCKET=str(self.folder / "control"),
                                PATH=str(self.services), NO_COLOR="1")
        eventually("sluiced answers", self.is_there)
        self.state = self.folder / "commission.json"
        self.write_state()

    def is_there(self):
        run = subprocess.run([self.built.sluice, "status", "--json"], capture_output=True,
                             env=self.environment)
        return run.returncode == 0

    def end_service(self):
        pid = self.services / "pid"
        if pid.exists():
            handle = os.pidfd_open(int(pid.read_text()))
            signal.pidfd_send_signal(handle, signal.SIGKILL)

    def write_state(self):
        """As the steps before have left it."""
        figure = hashlib.sha256(self.settings.read_bytes()).hexdigest()
        done = {"outcome": "pass", "evidence": "", "caution": "", "time": "", "settings": figure}
        steps = ["settings", "meter", "master", "sign", "phase:L1", "solar", "battery",
                 "output:water-heater", "output:pool-pump", "time-out", "clock", "broker", "tls",
                 "storage", "findings"]
        test = {"outcome": "as-expected", "power_w": 3400, "phases": 1, "seen": True,
                "says": "draws 3.40 kW", "settings": figure}
        self.state.write_text(json.dumps({
            "format": "sluice commission", "version": 1, "site": "Scenario house",
            "installer": "Pat Example", "results": {step: done for step in steps},
            "tests": {"water-heater": test}}))

    def run_commission(self, at_the_question):
        self.at_the_question = at_the_question
        self.terminal = 80
        self.run_on_terminal([self.built.sluice, "commission", "--maps", self.built.maps],
                             self.environment)
        self.addCleanup(self.client.wait, PATIENCE_S)
        self.addCleanup(self.client.kill)
        self.status = self.client.wait(PATIENCE_S)

    def watch_terminal(self):
        try:
            while data := os.read(self.master, 4096):
                self.seen += data
                if self.seen.endswith(b"  > "):
                    last = b"Is each of them so?" in self.seen
                    answer = self.at_the_question() if last else b"y\n"
                    os.write(self.master, answer)
        except OSError:
            return

    def calls(self):
        return (self.services / "calls").read_text().split()

    def result(self):
        return json.loads(self.state.read_text())["results"].get("stop")

    @long
    def test_sluiced_is_stopped_with_a_load_on_and_started_again(self):
        def look():
            self.off = not coils(self.house.port)[0]
            self.there = self.is_there()
            return b"y\n"

        self.run_commission(look)
        said = self.read_terminal()
        self.assertEqual(self.status, 0, said)
        self.assertTrue(self.off, "the heater went off with sluiced")
        self.assertFalse(self.there)
        self.assertIn("it had switched on water-heater", said)
        self.assertEqual(self.result()["outcome"], "pass")
        self.assertIn("with a load on: water-heater", self.result()["evidence"])
        self.assertEqual(self.calls()[1:], ["is-active", "stop", "start"])
        self.assertTrue(self.is_there())

    def test_a_stop_with_no_load_on_shows_nothing(self):
        state = json.loads(self.state.read_text())
        del state["tests"]["water-heater"]
        self.state.write_text(json.dumps(state))
        self.run_commission(lambda: b"y\n")
        self.assertEqual(self.result()["outcome"], "skipped", self.read_terminal())
        self.assertIn("no load was on: nothing shown", self.result()["evidence"])

    def test_an_answer_after_sluiced_was_started_again_shows_nothing(self):
        def start():
            subprocess.run([self.services / "systemctl", "start"], check=True)
            eventually("sluiced answers", self.is_there)
            return b"y\n"

        self.run_commission(start)
        self.assertEqual(self.result()["outcome"], "skipped", self.read_terminal())

    def end_at_the_question(self, number):
        self.run_commission(lambda: self.client.send_signal(number) or b"")
        self.assertIsNone(self.result())
        eventually("sluiced is started again", self.is_there)
        self.assertEqual(self.calls()[1:], ["is-active", "stop", "start"])

    @long
    def test_killed_while_it_is_stopped_sluiced_is_started_all_the_same(self):
        self.end_at_the_question(signal.SIGKILL)

    @long
    def test_a_connection_that_drops_starts_it_too(self):
        self.end_at_the_question(signal.SIGHUP)


if __name__ == "__main__":
    main()
