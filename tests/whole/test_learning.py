#!/usr/bin/env python3
"""A water heater that learns: in its first days it is hot whatever that costs, what it has
learnt outlives the daemon and a change of settings, and damage costs no more than what is
damaged.

usage: test_learning.py BUILD-DIR SOURCE-DIR
"""
import sqlite3

from broker import Broker, Topics
from case import Case, long, main

WATER = "water: {volume: 315 L, set: 68 C, standing_loss: 2.66 kWh}"
LEARNT = "start_fraction: learnt\n    " + WATER
TARIFF = "tariff: {feed_in: 0.05 /kWh, import: [{price: 0.30 /kWh}]}\nbuses:"
FULL_MWH = 315 * 4186 * (68 - 16) / 3.6  # cold water 16 C, by the setting's default
HOUSE = """
start %s
length %s
water water-heater 30 C
draws none
"""


def notes_of(past_days, newest, drawn_j=400_000):
    """As a daemon would have left them after so many days, each hungry for power."""
    notes = {"heat/water-heater": f"days={past_days}\nnewest={newest}\nlump_j=2520000\n"
                                  f"drawn_j={','.join([str(drawn_j)] * 48)}\n"}
    for ago in range(past_days):
        place = (newest - ago) % 28
        notes[f"heat/water-heater/{place}"] = f"spare_w={','.join([str(-300 - ago)] * 48)}\n"
    return notes


class Learning(Case):
    step_s = 1

    def write_scenario(self, text):
        path = super().write_scenario(text)
        house = self.folder / "shared-sydney.house"
        house.write_text(house.read_text().replace("step 1 s", f"step {self.step_s} s"))
        return path

    def notes(self):
        with sqlite3.connect(self.ledger) as ledger:
            return dict(ledger.execute(
                "select key, text from note where key like 'heat/%'").fetchall())

    def write_notes(self, notes):
        """The daemon is between two moments, and its writer idle."""
        with sqlite3.connect(self.ledger) as ledger:
            ledger.executemany("insert or replace into note (key, text) values (?, ?)",
                               notes.items())

    def heat(self):
        return self.daemon.load()["heat"]

    def begin(self, start, length, more="", settings=()):
        self.open_house(HOUSE % (start, length) + more)
        self.fill_settings()
        self.change_settings(("buses:", TARIFF), ("start_fraction: 100 %", LEARNT), *settings)
        self.start()

    def restart_with(self, notes):
        """What the ledger holds is exchanged while no daemon runs."""
        self.daemon.kill()
        self.write_notes(notes)
        self.start()

    def reload(self, *pairs):
        self.change_settings(*pairs)
        self.daemon.order("reload")

    # ---- over a restart ----

    def play_ten_days_on(self, change, look):
        """Ten days are learnt from the notes; then something changes, and is looked at."""
        self.at("02:02", lambda: self.restart_with(notes_of(10, 4)))
        self.at("02:20", change)
        self.at("02:20:05", look)
        self.begin("2026-01-14 02:00", "25 min")
        self.play()

    @long
    def test_a_day_that_was_seen_outlives_the_daemon_and_damage_begins_it_anew(self):
        def at_midnight():
            self.assertEqual(self.heat()["days_learnt"], 1)
            notes = self.notes()
            self.assertIn("days=1\n", notes["heat/water-heater"])
            self.assertIn("heat/water-heater/1", notes)
            self.restart_with({})

        def look():
            self.assertEqual(self.heat()["days_learnt"], 1)
            self.assertNotIn("start over", self.daemon.said.tail())
            self.restart_with({"heat/water-heater": "days=1"})

        def look_again():
            self.assertEqual(self.heat()["days_learnt"], 0)
            self.daemon.said.wait_for("what it had learnt cannot be read: it starts over")

        self.at("day 3 00:20", at_midnight)
        self.at("day 3 00:21", look)
        self.at("day 3 00:22", look_again)
        self.step_s = 30
        self.begin("2026-01-13 23:55", "24 h 30 min",
                   "must water-heater drawing >= 2 h 01:00..12:00",
                   settings=[("every: 1 s", "every: 30 s"), ("every: 5 s", "every: 30 s")])
        self.play()
        self.assertIn("learning", self.daemons[0].said.text())

    def test_a_day_that_cannot_be_read_costs_the_days_before_it_and_no_others(self):
        def damage():
            notes = notes_of(10, 4)
            notes["heat/water-heater/0"] = "spare_w=1,2,3\n"  # of four days ago
            self.restart_with(notes)

        def look():
            self.assertEqual(self.heat()["days_learnt"], 4)
            self.assertIsNotNone(self.heat()["worth_micro_per_kwh"])
            self.daemon.said.wait_for("of 10 days that it had learnt from, 4 can be read")

        def lose():
            with sqlite3.connect(self.ledger) as ledger:
                ledger.execute("delete from note where key = 'heat/water-heater/1'")
            self.restart_with({})

        def look_again():
            self.assertEqual(self.heat()["days_learnt"], 3)
            self.daemon.said.wait_for("of 4 days that it had learnt from, 3 can be read")

        self.at("02:02", damage)
        self.at("02:02:05", look)
        self.at("02:03", lose)
        self.at("02:03:05", look_again)
        self.begin("2026-01-14 02:00", "5 min")
        self.play()

    def test_how_full_it_is_outlives_a_stop_of_minutes(self):
        def stop():
            self.before = self.heat()
            self.assertGreater(self.before["held_percent"], 85)  # it has opened in the night
            self.daemon.signal(15)
            self.daemon.end()
            self.start()

        def look():
            held = self.heat()["held_mwh"]
            self.assertLess(held, self.before["held_mwh"] + 1)
            self.assertGreater(held, self.before["held_mwh"] * 0.95)

        def stop_for_long():
            stop()  # the note says when that was: here an hour and a half before
            self.daemon.kill()
            text = self.notes()["heat/water-heater/now"]
            at_ms = next(line for line in text.splitlines() if line.startswith("at_wall_ms="))
            earlier = int(at_ms.split("=")[1]) - 90 * 60_000
            self.write_notes({"heat/water-heater/now":
                              text.replace(at_ms, f"at_wall_ms={earlier}")})
            self.start()

        def look_after_long():
            self.assertIn(self.heat()["held_percent"], range(45, 56))  # half, for all it knows

        self.at("07:00", stop)
        self.at("07:00:05", look)
        self.at("07:02", stop_for_long)
        self.at("07:02:05", look_after_long)
        self.begin("2026-01-14 02:00", "5 h 5 min", "water water-heater 60 C\n")
        self.play()

    # ---- over a change of settings ----

    def test_a_change_of_settings_keeps_what_was_learnt_and_asks_no_disk(self):
        def spoil_and_change():
            self.before = self.heat()
            self.write_notes({"heat/water-heater": "days=1"})  # who reads this, complains
            self.reload(("priority: 1", "priority: 7"))

        def look():
            now = self.heat()
            self.assertEqual(now["days_learnt"], 10)
            self.assertAlmostEqual(now["held_mwh"], self.before["held_mwh"], delta=100_000)
            self.assertAlmostEqual(now["worth_micro_per_kwh"],
                                   self.before["worth_micro_per_kwh"], delta=20_000)
            self.assertNotIn("starts over", self.daemon.said.tail())

        self.play_ten_days_on(spoil_and_change, look)

    def test_another_price_makes_another_worth_at_once(self):
        def change():
            self.before = self.heat()
            self.assertGreater(self.before["worth_micro_per_kwh"], 0)
            self.reload(("price: 0.30 /kWh", "price: 0.90 /kWh"))

        def look():
            self.assertGreater(self.heat()["worth_micro_per_kwh"],
                               2 * self.before["worth_micro_per_kwh"])
            self.assertEqual(self.heat()["days_learnt"], 10)

        self.play_ten_days_on(change, look)

    def test_another_tank_begins_anew_and_the_days_stay(self):
        def change():
            self.assertAlmostEqual(self.heat()["full_mwh"], FULL_MWH, delta=FULL_MWH / 1000)
            self.reload(("volume: 315 L", "volume: 160 L"))

        def look():
            self.assertAlmostEqual(self.heat()["full_mwh"], FULL_MWH * 160 / 315,
                                   delta=FULL_MWH / 1000)
            self.assertIn(self.heat()["held_percent"], range(45, 56))
            self.assertEqual(self.heat()["days_learnt"], 10)

        self.play_ten_days_on(change, look)

    def test_a_load_may_learn_from_now_on_or_no_longer(self):
        def no_longer():
            self.assertEqual(self.heat()["days_learnt"], 10)
            self.reload(("start_fraction: learnt", "start_fraction: derived"))

        def again():
            self.assertIsNone(self.heat())
            self.assertNotIn("ahead", self.daemon.load()["basis"])
            self.reload(("start_fraction: derived", "start_fraction: learnt"))

        def look():
            self.assertEqual(self.heat()["days_learnt"], 10)
            self.assertIsNotNone(self.heat()["worth_micro_per_kwh"])

        self.at("02:02", lambda: self.restart_with(notes_of(10, 4)))
        self.at("02:10", no_longer)
        self.at("02:20", again)
        self.at("02:20:05", look)
        self.begin("2026-01-14 02:00", "25 min")
        self.play()

    # ---- on the broker ----

    def test_the_broker_is_told_what_the_status_tells(self):
        def look():
            heat = self.heat()
            topics = Topics(broker)
            self.addCleanup(topics.close)
            described = topics.description()["nodes"]
            self.assertEqual(described["water-heater"]["properties"]["heat-worth"]["unit"], "/kWh")
            self.assertNotIn("heat-worth", described["pool-pump"]["properties"])
            topics.wait_is("water-heater/days-learnt", "10")
            topics.wait_is("water-heater/heat-held-share", str(heat["held_percent"]))
            topics.wait_is("water-heater/heat-held", f"{heat['held_mwh'] // 1000 / 1000:.3f}")
            worth = float(topics.wait_for("water-heater/heat-worth"))
            self.assertAlmostEqual(worth, heat["worth_micro_per_kwh"] / 1e6, delta=0.0001)

        broker = Broker(self.folder)
        self.addCleanup(broker.close)
        self.at("02:02", lambda: self.restart_with(notes_of(10, 4)))
        self.at("02:09", look)
        mqtt = f"mqtt: {{host: 127.0.0.1, port: {broker.port}}}\nstorage:"
        self.begin("2026-01-14 02:00", "10 min", settings=[("storage:", mqtt)])
        self.play()


if __name__ == "__main__":
    main()
