#!/usr/bin/env python3
"""Somebody else's hand at the relay board, and a board that falls silent: what is done and
what is told.

usage: test_outputs.py BUILD-DIR SOURCE-DIR
"""
import sqlite3

from case import Case, main
from programs import coils, set_coil


class Outputs(Case):
    def order(self, *loads):
        for load in loads:
            self.daemon.order("on", load, "3h")

    def play_day(self, text=""):
        self.open_house(f"""
start 2026-01-14 10:20
length 1 h
water water-heater 20 C
draws none
pv 6.6 kWp dark seed 2
{text}
""")
        self.fill_settings()
        self.start()
        self.play()

    def said(self, words):
        return [line for line in self.daemon.said.lines if words in line]

    def test_a_contactor_switched_off_by_hand_rests_before_it_starts_again(self):
        def hand():
            self.assertEqual(coils(self.house.port)[0], True)
            set_coil(self.house.port, 0, False)

        def look():
            load = self.daemon.load()
            self.assertFalse(load["on"])
            self.assertEqual(load["reason_name"], "off-minimum-off")
            self.assertEqual(load["output_is"], "off")
            self.assertEqual(len(self.said("water-heater: found off though it was on")), 1)

        self.at("10:30", lambda: self.order("water-heater"))
        self.at("10:45", hand)
        self.at("10:45:12", look)
        self.play_day("must water-heater relay off 10:45:01..10:49:50; "
                      "water-heater relay on 10:50:30..11:19; water-heater cycles = 2")
        self.assertEqual(len(self.said("found off though it was on")), 1)
        with sqlite3.connect(self.ledger) as ledger:
            rows = ledger.execute("SELECT subject FROM event WHERE text LIKE 'found off %'")
            self.assertEqual(rows.fetchall(), [("water-heater",)])

    def test_a_contactor_switched_on_by_hand_is_switched_off_and_told_once_each_time(self):
        def hand():
            set_coil(self.house.port, 1, True)

        self.at("10:45", hand)
        self.at("10:55", hand)
        self.play_day("must pool-pump relay off 10:45:12..10:54:59; "
                      "pool-pump relay off 10:55:12..11:19")
        self.assertEqual(len(self.said("pool-pump: found on though it was off")), 2)

    def test_a_silent_board_is_told_as_unknown_and_when_it_was_last_heard(self):
        def silent():
            load = self.daemon.load()
            self.assertEqual(load["output_is"], "unknown")
            self.assertEqual(load["output"], "unconfirmed")
            self.assertTrue(load["on"])
            self.assertGreaterEqual(load["output_heard_ms"], 20_000)

        def lost():
            load = self.daemon.load()
            self.assertFalse(load["on"])
            self.assertEqual(load["output"], "failed")
            self.assertEqual(load["output_is"], "unknown", "it is ordered off, and may be on")

        self.at("10:30", lambda: self.order("water-heater"))
        self.at("10:45:40", silent)
        self.at("10:49", lost)
        self.play_day("at 10:45 fault relay silent for 5 min\n"
                      "must water-heater relay off 10:51..10:54")


if __name__ == "__main__":
    main()
