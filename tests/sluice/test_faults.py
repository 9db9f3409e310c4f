#!/usr/bin/env python3
"""What is wrong, how sure that is, and what to do first: now by the daemon, and past by the
ledger, also when no daemon answers.

usage: test_faults.py BUILD-DIR SOURCE-DIR
"""
import json
import subprocess
import time

from command import BUILD, Case, main
from fake_control import FakeControl, finding, status

NO_POWER = finding(
    "possible: no power reaches the element, or it is open: switched on 3 times, and the meter "
    "did not rise by its 3.6 kW", id="no-power-water-heater", load="water-heater",
    about="water-heater", inferred=True, sure_percent=96, seen=3,
    first="Look at its breaker and at the reset button of its cut-out. Isolate before opening.")
SILENT = finding("meter grid (bus switchboard, unit 1): no answer", id="meter-grid", about="grid",
                 seen=4, first="Check the wires A and B.")
MIN_MS = 60_000


class Now(Case):
    def show(self, *findings, columns=80):
        with FakeControl(self.socket, {"status": status(findings=list(findings))}):
            run = self.sluice("faults", SLUICE_SOCKET=self.socket, COLUMNS=str(columns))
        self.assertEqual(run.stderr, "")
        for line in run.stdout.splitlines():
            self.assertLessEqual(len(line), columns, line)
        return run.returncode, run.stdout

    def test_a_house_without_a_fault_says_so_and_ends_with_0(self):
        code, screen = self.show()
        self.assertEqual(code, 0)
        self.assertIn("Wattle house: nothing wrong is known", screen)

    def test_a_fault_has_its_evidence_its_odds_and_a_first_step_and_ends_with_1(self):
        code, screen = self.show(NO_POWER, SILENT)
        self.assertEqual(code, 1)
        words = " ".join(screen.split())
        for text in ("Wattle house: 2 faults now", "Water heater (water-heater)",
                     "possible: no power reaches the element, or it is open: switched on 3 times",
                     "very likely, 96 %; seen 3 times, since 09:30",
                     "First: Look at its breaker",
                     "meter grid (bus switchboard, unit 1): no answer",
                     "came 4 times, since 09:30", "First: Check the wires A and B."):
            self.assertIn(text, words)

    def test_it_reads_on_a_phone(self):
        _, screen = self.show(NO_POWER, SILENT, columns=40)
        self.assertIn("possible: no power reaches the element", " ".join(screen.split()))
        self.assertNotIn("~", screen)  # nothing is cut

    def test_two_faults_of_one_load_stand_under_one_name(self):
        _, screen = self.show(NO_POWER, dict(NO_POWER, id="guarantee-at-risk-water-heater",
                                             text="possible: its guarantee will be missed"))
        self.assertEqual(screen.count("Water heater (water-heater)"), 1)

    def test_json_has_them_as_the_daemon_gave_them(self):
        with FakeControl(self.socket, {"status": status(findings=[NO_POWER])}):
            run = self.ask("faults", "--json")
        self.assertEqual(run.returncode, 1)
        self.assertEqual(json.loads(run.stdout), {"findings": [NO_POWER], "past": None})

    def test_words_that_are_no_days_are_told(self):
        for days in ("0", "x", "-1", "4001", "7d"):
            self.assert_complains(self.ask("faults", f"--days={days}"), 2, "is not a number of days")


class Past(Case):
    def setUp(self):
        super().setUp()
        self.ledger = self.folder / "ledger.db"
        self.now_ms = int(time.time()) * 1000

    def write(self, *events):
        """Each as (minutes ago, subject, text)."""
        lines = [f"event {self.now_ms - ago * MIN_MS} {subject} {text}"
                 for ago, subject, text in events]
        subprocess.run([BUILD / "tests/sluice/sample_ledger", self.ledger], check=True, text=True,
                       input="\n".join(lines) + "\n", stdout=subprocess.DEVNULL)

    def past(self, *words):
        run = self.ask("faults", "--json", "--ledger", self.ledger, *words)
        self.assertEqual(run.returncode, 3, run)
        self.assertIn("what follows is from the ledger", run.stderr)
        return {fault["id"]: fault for fault in json.loads(run.stdout)["past"]}

    def test_without_a_daemon_the_ledger_tells_what_stood(self):
        self.write((90, "water-heater", "on: spare 4.7 kW, 3.6 kW needed"),
                   (60, "no-power-water-heater", "possible: no power"),
                   (50, "meter-grid", "meter grid: no answer"), (40, "meter-grid", "solved"),
                   (30, "no-power-water-heater", "possible: no power, 6 times"),
                   (20, "meter-grid", "meter grid: no answer"),
                   (15, "meter-grid", "solved: it answers again"))
        past = self.past()
        self.assertEqual(sorted(past), ["meter-grid", "no-power-water-heater"])
        self.assertEqual((past["meter-grid"]["times"], past["meter-grid"]["stood_ms"]),
                         (2, 15 * MIN_MS))
        self.assertIsNone(past["no-power-water-heater"]["last_to"])
        self.assertEqual(past["no-power-water-heater"]["text"], "possible: no power, 6 times")
        run = self.ask("faults", "--ledger", self.ledger)
        self.assertEqual(run.returncode, 3)
        words = " ".join(run.stdout.split())
        self.assertIn("2 times, 15 min in all; last", words)
        self.assertIn("and it stood when sluiced last wrote", words)

    def test_a_start_ends_what_does_not_come_again(self):
        self.write((60, "faults", "begins"), (50, "meter-grid", "meter grid: no answer"),
                   (45, "no-power-water-heater", "possible: no power"),
                   (30, "faults", "begins"), (29, "no-power-water-heater", "possible: no power"))
        past = self.past()
        self.assertIsNotNone(past["meter-grid"]["last_to"])
        self.assertEqual(past["meter-grid"]["stood_ms"], 20 * MIN_MS)
        self.assertIsNone(past["no-power-water-heater"]["last_to"])
        self.assertEqual(past["no-power-water-heater"]["times"], 1)

    def test_only_the_days_asked_for_are_told(self):
        self.write((3 * 1440, "meter-grid", "meter grid: no answer"),
                   (3 * 1440 - 5, "meter-grid", "solved"),
                   (1000, "ledger", "storage: disk full"), (990, "ledger", "solved"))
        self.assertEqual(list(self.past("--days", "1")), ["ledger"])
        self.assertEqual(len(self.past("--days", "4")), 2)

    def test_without_a_daemon_and_a_ledger_nothing_is_made_up(self):
        run = self.ask("faults", "--ledger", self.folder / "none.db")
        self.assertEqual((run.returncode, run.stdout), (3, ""))
        self.assertIn("no daemon at", run.stderr)
        self.assertIn("none.db", run.stderr)


main()
