#!/usr/bin/env python3
"""A water heater that learns: in its first days it is hot whatever that costs, a whole
day that it has seen outlives the daemon, and a damaged record begins it anew.

usage: test_learning.py BUILD-DIR SOURCE-DIR
"""
import os
import pathlib
import sqlite3
import sys
import tempfile
import unittest

from programs import DAY_S, Built, Simhouse, Sluiced

SETTINGS = """
site: {name: House that learns, timezone: UTC, phases: 1, voltage: 230 V, supply_limit: 63 A,
       control_socket: "%(socket)s"}
tariff: {feed_in: 0.05 /kWh, import: [{price: 0.30 /kWh}]}
buses: {board: %(bus)s}
meters: {grid: {role: grid, bus: board, unit: 1, map: sunspec, every: 60 s}}
loads:
  water-heater:
    power: 3.6 kW
    thermostat: yes
    start_fraction: learnt
    minimum_on: 5 min
    water: {volume: 315 L, set: 68 C, standing_loss: 2.66 kWh}
    output: {kind: coil, bus: board, unit: 10, address: 0, read_back: yes, fail_state: off}
    floors: [{measure: satisfied, amount: 4 h, by: "17:00", every_days: 7}]
storage: {path: "%(folder)s/ledger.db"}
"""
HOUSE = """
zone UTC
start %(start)s
length %(length)s
step 60 s
seed 7
supply 1 phase voltage 233 V source 0.2 ohm
pv 6.6 kWp dark seed 2 at -33.9 151.2 tilt 22 facing 10 limit 5 kW
use base 280 W
heater water-heater 3.6 kW tank 315 L set 68 C start 30 C inlet 19 C coil 0
%(must)s
"""


class Learning(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory(prefix="sluice-")
        self.addCleanup(self.place.cleanup)
        self.folder = pathlib.Path(self.place.name)

    def live(self, start, length, must=""):
        """What the daemon said in that time."""
        scenario = self.folder / "house.txt"
        scenario.write_text(HOUSE % {"start": start, "length": length, "must": must})
        environment = dict(os.environ, SLUICE_SOCKET=str(self.folder / "control"))
        house = Simhouse(built, scenario, self.folder, environment=environment)
        settings = self.folder / "house.yaml"
        settings.write_text(SETTINGS % {"socket": self.folder / "control", "bus": house.bus,
                                        "folder": self.folder})
        sluiced = Sluiced(built, settings, self.folder, clock=house.clock)
        try:
            judged, ended = house.end(DAY_S), sluiced.end()
        finally:
            sluiced.close()
            house.close()
        self.assertEqual((judged, ended), (0, 0), house.complained.text() + sluiced.said.tail())
        return sluiced.said.text()

    def notes(self):
        with sqlite3.connect(self.folder / "ledger.db") as ledger:
            table = [name for (name,) in ledger.execute(
                "select name from sqlite_master where type = 'table'") if "note" in name][0]
            return table, dict(ledger.execute(
                f"select key, text from {table} where key like 'heat/%'").fetchall())

    def test_what_was_seen_outlives_the_daemon_and_damage_begins_it_anew(self):
        said = self.live("2026-01-14 23:50", "24 h 30 min",
                         "must water-heater drawing >= 2 h 01:00..12:00")
        self.assertIn("learning", said)
        table, notes = self.notes()
        self.assertIn("heat/water-heater", notes)
        self.assertIn("days=1\n", notes["heat/water-heater"])
        self.assertEqual(len([key for key in notes if key.startswith("heat/water-heater/")]), 1)

        said = self.live("2026-01-16 00:30", "20 min")
        self.assertNotIn("begins anew", said)
        self.assertEqual(self.notes()[1], notes)

        with sqlite3.connect(self.folder / "ledger.db") as ledger:
            ledger.execute(f"update {table} set text = 'days=1' where key = 'heat/water-heater'")
        said = self.live("2026-01-16 01:00", "20 min")
        self.assertIn("what it had learnt cannot be read: it begins anew", said)


if __name__ == "__main__":
    built = Built(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
    unittest.main(argv=sys.argv[:1])
