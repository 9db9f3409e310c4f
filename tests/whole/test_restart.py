#!/usr/bin/env python3
"""A daemon that is killed, or told to end, in the middle of the day: what was counted
stays counted, and a relay that is on and remembered on goes on.

usage: test_restart.py BUILD-DIR SOURCE-DIR
"""
import signal
import unittest

from case import Case, long, main, seeded
from programs import coils, counters

HEATER, PUMP = 0, 1
MAY_BE_LOST_MS = 60_000  # the promise of lib/ledger/ledger.h
# What one meter for the whole house cannot tell: the seconds until a draw is seen.
UNSEEN_MS_A_START = 15_000


def clock(seconds):
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


class Restart(Case):
    def setUp(self):
        super().setUp()
        self.stored = {}

    def look_at_ledger(self):
        """Nothing that stands there may ever be less than it was."""
        now = counters(self.ledger)
        for key, value in self.stored.items():
            self.assertGreaterEqual(now.get(key, -1), value, key)
        self.stored = now

    def assert_kept(self, before, after):
        """Between two states of the whole daemon, one restart apart."""
        for was, now in zip(before["loads"], after["loads"]):
            name = was["name"]
            for key in ("on_ms", "draw_ms"):
                for when in ("today", "total"):
                    self.assertGreaterEqual(now[when][key], was[when][key] - MAY_BE_LOST_MS,
                                            f"{name} {when} {key}")
            self.assertGreaterEqual(now["total"]["starts"], was["total"]["starts"], name)
            for key in ("spare_mwh", "grid_mwh"):
                lost = was["total"][key] - now["total"][key]
                self.assertLessEqual(lost, 4000 * MAY_BE_LOST_MS // 3600, f"{name} {key}")
            for floor_was, floor_now in zip(was["floors"], now["floors"]):
                self.assertGreaterEqual(floor_now["done"], floor_was["done"] - MAY_BE_LOST_MS)
        for key in ("import_mwh", "export_mwh"):
            self.assertGreaterEqual(after[key], before[key] - 10_000 * MAY_BE_LOST_MS // 3600)
        # What is in force now is never less than what had reached the disk.
        for load in after["loads"]:
            for key in ("on_ms", "draw_ms", "spare_mwh", "grid_mwh", "starts"):
                self.assertGreaterEqual(load["total"][key], self.stored[f"{load['name']}/{key}"],
                                        f"{load['name']} {key}")

    def kill_and_start(self):
        self.before = self.daemon.status()
        self.daemon.kill()
        self.look_at_ledger()
        self.start()

    def look_after(self):
        self.assert_kept(self.before, self.daemon.status())
        self.look_at_ledger()

    def test_a_kill_loses_no_counter_no_floor_and_no_relay(self):
        def kill():
            self.assertEqual(coils(self.house.port)[HEATER], True)
            self.kill_and_start()
            self.assertEqual(coils(self.house.port)[HEATER], True)
            self.assertGreater(self.stored["water-heater/draw_ms"], 0)

        def look():
            self.look_after()
            self.assertTrue(self.daemon.load()["on"])
            self.daemon.said.wait_for("water-heater: found on and remembered on: goes on")

        self.at("11:30", kill)
        self.at("11:30:01", look)
        self.open_house("""
start 2026-01-14 10:00
length 5 h
water water-heater 20 C
draws none
must water-heater relay on 11:00..14:00
must water-heater cycles = 1
must water-heater drawing >= 3 h by 15:00
""")
        self.fill_settings()
        self.start()
        self.play()

    def kill_before_a_silent_board(self, text):
        self.at("11:30", self.kill_and_start)
        self.open_house(f"""
start 2026-01-14 10:00
length 3 h
water water-heater 20 C
draws none
{text}
""")
        self.fill_settings()
        self.start()
        self.play()

    @long
    def test_a_board_silent_for_a_moment_costs_no_run_over_a_kill(self):
        self.kill_before_a_silent_board("""
at 11:29:59 fault relay silent for 9 s
must water-heater relay on 11:00..13:00
must water-heater cycles = 1
""")
        self.daemon.said.wait_for("water-heater: found on and remembered on: goes on")

    def test_minimum_off_is_kept_after_a_board_that_was_silent_for_longer(self):
        self.kill_before_a_silent_board("""
at 11:29:59 fault relay silent for 8 min
must water-heater relay on 11:50..13:00
must water-heater cycles = 2
must water-heater shortest-rest >= 5 min
""")

    def damage_ledger(self, orders):
        """Its pages make no sense any more; what is in its log neither."""
        self.daemon.kill()
        self.ledger.write_bytes(b"no ledger at all " * 400)
        for end in ("-wal", "-shm"):
            (self.folder / (self.ledger.name + end)).unlink(missing_ok=True)
        if not orders:
            (self.folder / (self.ledger.name + ".orders")).unlink()
        self.start()

    def play_damaged(self, orders, look):
        def order():
            self.daemon.order("off", "water-heater")
            self.daemon.order("inhibit", "pool-pump")

        self.at("10:02", order)
        self.at("10:03", lambda: self.damage_ledger(orders))
        self.at("10:04", look)
        self.open_house("""
start 2026-01-14 10:00
length 1 h 30 min
water water-heater 20 C
draws none
must water-heater relay off 10:03..11:00
must pool-pump relay off 10:03..11:00
""")
        self.fill_settings()
        self.start()
        self.play()

    def test_a_damaged_ledger_forgets_no_inhibit_and_no_off(self):
        def look():
            status = self.daemon.status()
            self.assertEqual(status["loads"][HEATER]["hand"], "off")
            self.assertTrue(status["loads"][PUMP]["inhibited"])
            self.daemon.said.wait_for("the ledger was damaged: it is now")

        self.play_damaged(True, look)

    def test_where_nobody_knows_what_was_ordered_all_stays_off_until_someone_allows_it(self):
        def look():
            self.daemon.said.wait_for("inhibited until someone allows it")
            self.assertTrue(any("sluice allow all" in t
                                for t in self.daemon.status()["troubles"]))

        def allow():
            self.daemon.order("allow", "all")

        def look_again():
            self.assertEqual([t for t in self.daemon.status()["troubles"]
                              if "inhibit" in t], [])
            self.assertTrue(self.daemon.load()["on"])

        self.at("11:01", allow)
        self.at("11:29", look_again)
        self.play_damaged(False, look)

    @long
    def test_a_load_that_fails_to_on_goes_on_over_a_stop(self):
        def end():
            self.daemon.signal(signal.SIGTERM)
            self.assertEqual(self.daemon.end(), 0, self.daemon.said.tail())
            self.start()

        self.at("11:30", end)
        self.open_house("""
start 2026-01-14 10:00
length 3 h
water water-heater 20 C
draws none
at 11:30 fault relay silent for 5 s
must water-heater relay on 11:00..13:00
must water-heater cycles = 1
""")
        self.fill_settings()
        self.change_settings(("address: 0, read_back: yes, fail_state: off",
                              "address: 0, read_back: yes, fail_state: on"))
        self.start()
        self.play()
        self.daemon.said.wait_for("water-heater: found on and remembered on: goes on")

    def test_what_a_person_ordered_a_second_before_outlives_the_kill(self):
        def order():
            self.daemon.order("off", "water-heater")
            self.daemon.order("inhibit", "pool-pump")

        def kill():
            self.daemon.kill()
            self.start()

        def look():
            status = self.daemon.status()
            self.assertEqual(status["loads"][HEATER]["hand"], "off")
            self.assertTrue(status["loads"][PUMP]["inhibited"])

        def look_again():
            heater = self.daemon.load()
            self.assertTrue(heater["on"], "a start of the last second is remembered too")
            self.assertEqual(heater["hand"], "on")
            self.assertEqual(heater["total"]["starts"], 1)
            self.assertAlmostEqual(heater["hand_left_ms"], 3_598_000, delta=2000)

        # At night nothing runs, and the next commit that is not asked for is far away.
        self.at("02:05", order)
        self.at("02:05:01", kill)
        self.at("02:05:02", look)
        self.at("02:12", lambda: self.daemon.order("on", "water-heater", "1h"))
        self.at("02:12:01", kill)
        self.at("02:12:02", look_again)
        self.open_house("""
start 2026-01-14 02:00
length 20 min
step 1 s
water water-heater 40 C
draws none
must water-heater relay on 02:12:02..02:20
must water-heater cycles = 1
must pool-pump relay off
""")
        self.fill_settings()
        self.start()
        self.play()

    @long
    def test_kills_at_any_moment_of_a_day_count_nothing_twice(self):
        chance = seeded(20260114)
        kills = sorted(chance.sample(range(7 * 3600, 21 * 3600, 60), 12))
        for k, moment in enumerate(kills):
            # Every second kill comes in the midst of a turn, while the day runs on.
            self.at(clock(moment), self.kill_and_start if k % 2 == 0 else self.kill_soon)
            self.at(clock(moment + 55), self.look_after)
        self.open_house("""
start 2026-01-14 00:00
length 24 h
water water-heater 30 C
pv 6.6 kWp clouds seed 5
must water-heater drawing >= 3 h by 17:00
must water-heater shortest-rest >= 5 min
""")
        self.fill_settings()
        self.start()
        sums = self.play()
        self.look_at_ledger()
        lost_ms = len(kills) * MAY_BE_LOST_MS
        for name in ("water-heater", "pool-pump"):
            drew_ms = sums[f"{name}.drawing_h"] * 3_600_000
            counted = self.stored[f"{name}/draw_ms"]
            starts = self.stored[f"{name}/starts"]
            unseen = UNSEEN_MS_A_START * (starts + len(kills))
            print(f"{name}: drew {drew_ms / 1000:.0f} s, counted {counted / 1000:.0f} s")
            self.assertLessEqual(counted, drew_ms + unseen)
            self.assertGreaterEqual(counted, drew_ms - lost_ms - unseen)
            wh = sums[f"{name}.energy_kwh"] * 1000
            counted_wh = (self.stored[f"{name}/spare_mwh"] + self.stored[f"{name}/grid_mwh"]) / 1000
            print(f"{name}: took {wh:.0f} Wh, counted {counted_wh:.0f} Wh")
            self.assertLessEqual(counted_wh, 1.05 * wh + 4000 * unseen / 3_600_000)

    def kill_soon(self):
        self.before = self.daemon.status()

        def when_the_day_goes_on():
            self.daemon.kill()
            self.look_at_ledger()
            self.start()
        return when_the_day_goes_on

    def test_a_meter_exchanged_while_the_daemon_is_away_books_nothing_for_it(self):
        def kill():
            self.counted = self.daemon.status()["import_mwh"]
            self.daemon.signal(signal.SIGTERM)
            self.assertEqual(self.daemon.end(), 0)
            return self.start  # when the new meter is in

        def look():
            self.assertLess(self.daemon.status()["import_mwh"] - self.counted, 2_000_000)
            self.daemon.said.wait_for("grid: import register jumped from 1234.* kWh to 49325.* kWh")

        self.at("11:00", kill)
        self.at("12:00", look)
        self.open_house("""
start 2026-01-14 10:00
length 2 h 1 min
pv 6.6 kWp dark seed 2
meter import 1234 kWh export 56 kWh
water water-heater 20 C
draws none
at 11:00 fault meter leap 48091 kWh
must import >= 0.3 kWh
must import <= 2 kWh
""")
        self.fill_settings()
        self.start()
        self.play()

    def test_sigterm_leaves_the_fail_state_and_every_second(self):
        def end():
            before = self.daemon.status()
            self.assertTrue(coils(self.house.port)[HEATER])
            self.daemon.signal(signal.SIGTERM)
            self.assertEqual(self.daemon.end(), 0, self.daemon.said.tail())
            self.assertEqual(coils(self.house.port), [False, False])
            self.look_at_ledger()
            for key, value in before["loads"][HEATER]["total"].items():
                self.assertGreaterEqual(self.stored[f"water-heater/{key}"], value)
            self.assertFalse((self.folder / "control").exists())
            self.start()

        def look():
            heater = self.daemon.load()
            self.assertFalse(heater["on"], "a whole minimum off after a restart")
            self.look_at_ledger()

        self.at("11:30", end)
        self.at("11:30:01", look)
        self.open_house("""
start 2026-01-14 10:20
length 3 h
water water-heater 20 C
draws none
must water-heater relay on 10:50..11:30
must water-heater relay off 11:30..11:35
must water-heater relay on 11:50..13:00
must water-heater cycles = 2
""")
        self.fill_settings()
        self.start()
        self.play()


if __name__ == "__main__":
    main()
