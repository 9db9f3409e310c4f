#!/usr/bin/env python3
"""A board is replaced: the backup that was made while its daemon ran goes onto another one,
and the house goes on with its counters, what it had learnt, and people's orders. A meter is
replaced: its registers count from where they begin.

usage: test_new_board.py BUILD-DIR SOURCE-DIR
"""
import shutil
import sqlite3
import subprocess

from case import Case, main
from programs import PATIENCE_S, counters
from test_learning import LEARNT, TARIFF, notes_of

HOUSE = """
start 2026-01-14 10:00
length 1 h
water water-heater 30 C
draws none
"""


class NewBoard(Case):
    def setUp(self):
        super().setUp()
        self.board = self.folder / "board"
        self.settings = self.board / "sluice.yaml"
        self.ledger = self.board / "ledger.db"
        self.file = self.folder / "house.backup"
        self.board.mkdir()

    def start(self, **choices):
        return super().start(words=("--state", self.board), **choices)

    def run_sluice(self, *words):
        run = subprocess.run([self.built.sluice, *words, "--settings", self.settings, "--maps",
                              self.board / "meters"],
                             capture_output=True, text=True, timeout=PATIENCE_S)
        return run

    def teach(self):
        """Ten days of past, as a daemon would have left them."""
        self.daemon.kill()
        with sqlite3.connect(self.ledger) as ledger:
            ledger.executemany("insert or replace into note (key, text) values (?, ?)",
                               notes_of(10, 4).items())
        self.start()

    def give_orders(self):
        self.daemon.order("off", "pool-pump", "2 h")
        self.daemon.order("inhibit", "water-heater")

    def replace_board(self):
        run = self.run_sluice("backup", self.file)
        self.assertEqual(run.returncode, 0, run.stderr)
        refused = self.run_sluice("restore", self.file)
        self.assertEqual(refused.returncode, 1)
        self.assertIn("sluiced runs here", refused.stderr)
        self.before = self.daemon.status()
        self.stored = counters(self.ledger)
        self.daemon.kill()
        self.board.rename(self.folder / "old board")
        run = self.run_sluice("restore", self.file, "--state", self.board)
        self.assertEqual((run.returncode, run.stderr), (0, ""))
        self.assertEqual(counters(self.ledger), self.stored)
        self.start()

    def look(self):
        after = self.daemon.status()
        for was, now in zip(self.before["loads"], after["loads"]):
            for key in ("hand", "inhibited", "enabled", "total"):
                self.assertEqual(now[key], was[key], f"{was['name']} {key}")
        heater, pump = after["loads"]
        self.assertTrue(heater["inhibited"])
        self.assertEqual(heater["heat"]["days_learnt"], 10)
        self.assertEqual(pump["hand"], "off")
        self.assertGreater(pump["hand_left_ms"], 100 * 60 * 1000)
        self.assertGreater(heater["total"]["on_ms"], 0)
        self.assertFalse([t for t in after["troubles"] if "ledger" in t or "settings" in t])
        self.assertFalse((self.board / "accepted.new").exists())

    def test_counters_learning_and_orders_go_on_on_the_new_board(self):
        self.at("10:01", self.teach)
        self.at("10:30", self.give_orders)
        self.at("10:30:02", self.replace_board)
        self.at("10:30:10", self.look)
        self.open_house(HOUSE)
        self.fill_settings(STATE=str(self.board))
        self.change_settings(("buses:", TARIFF), ("start_fraction: 100 %", LEARNT))
        shutil.copytree(self.built.maps, self.board / "meters")
        self.start()
        self.play()


class Exchange(Case):
    """The grid meter is replaced by one that stands so little ahead that nothing shows it."""

    def say(self):
        said = self.daemon.order("exchange", "grid")
        self.assertIn("exchange meter grid now", said)
        for name, wanted in (("roof", "only the grid meter's registers"), ("nosuch", "no meter")):
            run = self.daemon.ask("exchange", name)
            self.assertEqual(run.returncode, 1)
            self.assertIn(wanted, run.stderr)

    def restart(self):
        self.daemon.kill()
        self.start()

    def about_to(self):
        return [text for text in self.daemon.status()["troubles"] if "to be exchanged" in text]

    def play_house(self):
        self.open_house(HOUSE)
        self.fill_settings()
        self.start()
        self.play()

    def test_what_was_said_is_taken_back(self):
        def end():
            self.assertEqual(len(self.about_to()), 1)
            self.assertIn("counted on", self.daemon.order("exchange", "grid", "end"))
            self.assertEqual(self.about_to(), [])
            self.assertEqual(self.daemon.ask("exchange", "grid", "soon").returncode, 2)

        self.at("10:30", self.say)
        self.at("10:31", end)
        self.play_house()

    def test_what_was_said_of_a_meter_goes_with_its_name(self):
        def rename():
            self.assertEqual(len(self.about_to()), 1)
            self.change_settings(("  grid:", "  mains:"))
            self.daemon.order("reload", "--yes")
            self.assertEqual(self.about_to(), [])

        self.at("10:30", self.say)
        self.at("10:31", rename)
        self.play_house()

    def look(self):
        status = self.daemon.status()
        self.assertLess(status["import_mwh"], 1_000_000)
        self.assertEqual(status["troubles"], [])
        with sqlite3.connect(self.ledger) as ledger:
            told = [text for text, in ledger.execute("select text from event")]
        self.assertTrue([text for text in told if "said locally by user id" in text], told)

    def test_what_was_said_outlives_the_daemon(self):
        self.at("10:30", self.say)
        self.at("10:31", self.restart)
        self.at("10:45", self.look)
        self.open_house(HOUSE + "meter import 1234 kWh export 56 kWh\n"
                                "at 10:31 fault meter leap 1500 Wh\n")
        self.fill_settings()
        self.start()
        self.play()


if __name__ == "__main__":
    main()
