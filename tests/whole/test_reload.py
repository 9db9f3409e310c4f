#!/usr/bin/env python3
"""A changed settings file while everything runs: no relay drops, no counter is lost, and
a bad file changes nothing.

usage: test_reload.py BUILD-DIR SOURCE-DIR
"""
import signal

import programs
from case import Case, main
from programs import coils, counters, load_of

IN_FORCE = "the settings were reloaded"
ONE_POLL_MS = 1000

GARDEN = """  garden-pump:
    title: Garden pump
    priority: 3
    power: 900 W
    phases: L1
    minimum_on: 5 min
    minimum_off: 5 min
    output: {kind: coil, bus: board, unit: 10, address: 2, read_back: yes, fail_state: off}
storage:"""


class HesitantDoor(programs.Door):
    """Counts `refusals` down and hangs up until none is left."""
    refusals = 0

    def admits(self):
        self.refusals -= self.refusals > 0
        return self.refusals == 0


class Reload(Case):
    def order(self):
        for load in ("water-heater", "pool-pump"):
            self.daemon.order("on", load, "3h")

    def reload(self, *pairs, words=()):
        """Between two moments: what was before, then the file changes and is read."""
        self.before = self.daemon.status()
        self.change_settings(*pairs)
        self.daemon.order("reload", *words)

    def assert_kept(self, *names):
        """One moment later: no counter has fallen, at most one poll is missing."""
        now = self.daemon.status()
        self.assertEqual(now["reading"]["quality"], "fresh")
        self.assertLessEqual(now["reading"]["age_ms"], ONE_POLL_MS)
        self.assertGreaterEqual(now["import_mwh"], self.before["import_mwh"])
        self.assertGreaterEqual(now["export_mwh"], self.before["export_mwh"])
        self.assertEqual(now["gap_ms"], self.before["gap_ms"])
        for name in names:
            was, load = load_of(self.before, name), load_of(now, name)
            for when in ("today", "total"):
                for key, value in was[when].items():
                    self.assertGreaterEqual(load[when][key], value, f"{name} {when} {key}")
            self.assertEqual(load["total"]["starts"], was["total"]["starts"], name)
            self.assertEqual(load["hand"], was["hand"], name)
            self.assertEqual(load["on"], was["on"], name)
        self.assertEqual(now["troubles"], [])
        return now

    def play_day(self, text="", length="1 h"):
        self.open_house(f"""
start 2026-01-14 10:20
length {length}
water water-heater 20 C
draws none
{text}
""")
        self.fill_settings()
        self.start()
        return self.play()

    STAYS_ON = "must water-heater relay on 10:30:05..11:19; water-heater cycles = 1"

    def test_a_load_that_is_renamed_and_renamed_back_keeps_the_days_counts(self):
        def rename():
            self.before = self.daemon.status()
            self.change_settings(("  pool-pump:", "  filter-pump:"))
            self.daemon.order("reload", "--yes")

        def back():
            self.change_settings(("  filter-pump:", "  pool-pump:"))
            self.daemon.order("reload", "--yes")

        def look():
            was = load_of(self.before, "pool-pump")
            now = load_of(self.daemon.status(), "pool-pump")
            self.assertGreater(was["today"]["on_ms"], 60_000)
            for when in ("today", "total"):
                for key, value in was[when].items():
                    self.assertGreaterEqual(now[when][key], value, f"{when} {key}")

        self.at("10:30", self.order)
        self.at("10:50", rename)
        self.at("10:51", back)
        self.at("10:52", look)
        self.play_day()

    def test_another_priority_and_floor_drop_no_relay_and_no_counter(self):
        def change():
            self.reload(("priority: 1", "priority: 7"), ("amount: 3 h", "amount: 2 h"))

        def look():
            heater = load_of(self.assert_kept("water-heater", "pool-pump"), "water-heater")
            self.assertEqual(heater["priority"], 7)
            floor, before = heater["floors"][0], load_of(self.before, "water-heater")["floors"][0]
            self.assertEqual(floor["amount"], 2 * 3_600_000)
            self.assertGreaterEqual(floor["done"], before["done"])

        self.at("10:30", self.order)
        self.at("11:00", change)
        self.at("11:00:01", look)
        self.play_day(self.STAYS_ON + "\nmust pool-pump relay on 10:30:05..11:19")

    def test_a_floor_that_stays_keeps_its_progress(self):
        def look():
            now = self.assert_kept("water-heater", "pool-pump")
            done = load_of(self.before, "water-heater")["floors"][0]["done"]
            self.assertGreater(done, 25 * 60_000)
            self.assertGreaterEqual(load_of(now, "water-heater")["floors"][0]["done"], done)

        self.at("10:30", self.order)
        self.at("11:00", lambda: self.reload(("margin: 50 W", "margin: 70 W")))
        self.at("11:00:01", look)
        self.play_day(self.STAYS_ON)

    def test_a_new_load_comes_and_a_removed_one_goes_to_its_fail_state(self):
        text = ("switched garden-pump 900 W coil 2\n" + self.STAYS_ON +
                "\nmust pool-pump relay on 10:30:05..10:59:59"
                "\nmust pool-pump relay off 11:00:05..11:19"
                "\nmust garden-pump relay on 11:10:05..11:19")

        def change():
            whole = self.settings.read_text()
            pump = whole[whole.index("  pool-pump:"):whole.index("storage:")]
            self.reload((pump, ""), ("storage:", GARDEN), words=("--yes",))

        def look():
            now = self.assert_kept("water-heater")
            self.assertEqual([load["name"] for load in now["loads"]],
                             ["water-heater", "garden-pump"])
            self.assertEqual(coils(self.house.port, 3), [True, False, False])
            kept = counters(self.ledger)["pool-pump/on_ms"]
            self.assertGreaterEqual(kept, 29 * 60_000, "what it counted is in the ledger")

        self.at("10:30", self.order)
        self.at("11:00", change)
        self.at("11:00:05", look)
        self.at("11:10", lambda: self.daemon.order("on", "garden-pump", "1h"))
        self.play_day(text)

    def test_a_load_that_was_removed_and_comes_back_goes_on_counting(self):
        def remove():
            self.whole = self.settings.read_text()
            pump = self.whole[self.whole.index("  pool-pump:"):self.whole.index("storage:")]
            self.total = self.daemon.load("pool-pump")["total"]
            self.reload((pump, ""), words=("--yes",))

        def bring_back():
            self.settings.write_text(self.whole)
            self.daemon.order("reload")

        def look():
            now = self.daemon.load("pool-pump")["total"]
            for key, value in self.total.items():
                self.assertGreaterEqual(now[key], value, key)

        self.at("10:30", self.order)
        self.at("11:00", remove)
        self.at("11:05", bring_back)
        self.at("11:05:02", look)
        self.play_day(self.STAYS_ON)

    def test_an_output_on_another_coil_lets_go_of_the_old_one(self):
        def look():
            self.assertEqual(coils(self.house.port, 3), [True, False, True])

        self.at("10:30", self.order)
        self.at("11:00", lambda: self.reload(("address: 1", "address: 2")))
        self.at("11:06", look)
        self.play_day("switched spare-relay 10 W coil 2\n" + self.STAYS_ON)

    def test_another_port_of_the_bus_drops_no_relay(self):
        """The same house is reached by a second door, which passes everything on."""
        def change():
            other = self.open_door()
            self.reload((f"tcp_port: {self.house.port}", f"tcp_port: {other}"))

        self.at("10:30", self.order)
        self.at("11:00", change)
        self.at("11:00:02", lambda: self.assert_kept("water-heater", "pool-pump"))
        self.play_day(self.STAYS_ON + "\nmust pool-pump relay on 10:30:05..11:19")

    def test_another_answer_time_of_the_bus_switches_nothing_and_forgets_nothing(self):
        """A board that has one connection for everybody: it takes the new one a little later
        than the old one has gone."""
        def fill():
            Case.fill_settings(self)
            self.door = HesitantDoor(self.house.port)
            self.addCleanup(self.door.close)
            self.change_settings((f"tcp_port: {self.house.port}", f"tcp_port: {self.door.port}"))

        def change():
            self.since = len(self.daemon.said.lines)
            self.door.refusals = 4  # the fourth comes in
            self.reload(("answer: 300 ms", "answer: 310 ms"))

        def look():
            self.assertEqual(self.door.refusals, 0)
            for name in ("water-heater", "pool-pump"):
                load = self.daemon.load(name)
                self.assertTrue(load["on"], name)
                self.assertEqual(load["output"], "confirmed", load)
                self.assertEqual(load["total"]["starts"],
                                 load_of(self.before, name)["total"]["starts"])
            self.assertIsNone(self.daemon.said.find("output of", self.since))

        self.fill_settings = fill
        self.at("10:30", self.order)
        self.at("11:00", change)
        self.at("11:00:40", look)
        self.play_day(self.STAYS_ON + "\nmust pool-pump relay on 10:30:05..11:19")

    def test_another_answer_time_of_the_bus_ends_no_run_on_spare_power(self):
        """The line is away for some seconds, and what was read before is still fresh."""
        def fill():
            Case.fill_settings(self)
            self.door = HesitantDoor(self.house.port)
            self.addCleanup(self.door.close)
            self.change_settings((f"tcp_port: {self.house.port}", f"tcp_port: {self.door.port}"))

        def change():
            self.door.refusals = 3
            self.reload(("answer: 300 ms", "answer: 310 ms"))
            self.assertEqual(load_of(self.before, "water-heater")["basis"], "spare")

        def look():
            self.assertEqual(self.door.refusals, 0)
            heater = self.daemon.load("water-heater")
            self.assertTrue(heater["on"], heater)
            self.assertEqual(heater["total"]["starts"],
                             load_of(self.before, "water-heater")["total"]["starts"])

        self.fill_settings = fill
        self.at("11:00", change)
        self.at("11:00:40", look)
        self.play_day(self.STAYS_ON)

    def test_a_load_that_goes_together_with_its_line_is_switched_off_all_the_same(self):
        def change():
            whole = self.settings.read_text()
            pump = whole[whole.index("  pool-pump:"):whole.index("storage:")]
            self.reload((pump, ""), (f"tcp_port: {self.house.port}",
                                     f"tcp_port: {self.open_door()}"), words=("--yes",))

        def look():
            programs.eventually("the pump's coil is off",
                                lambda: coils(self.house.port) == [True, False], 10)

        self.at("10:30", self.order)
        self.at("11:00", change)
        self.at("11:00:02", look)
        self.play_day(self.STAYS_ON)

    def open_door(self):
        door = programs.Door(self.house.port)
        self.addCleanup(door.close)
        return door.port

    def test_a_signal_does_the_same_as_the_command(self):
        def change():
            self.before = self.daemon.status()
            self.change_settings(("title: Pool pump", "title: Pump of the pool"))
            self.daemon.signal(signal.SIGHUP)
            self.daemon.said.wait_for(IN_FORCE)

        def look():
            now = self.assert_kept("water-heater", "pool-pump")
            self.assertEqual(load_of(now, "pool-pump")["title"], "Pump of the pool")

        self.at("10:30", self.order)
        self.at("11:00", change)
        self.at("11:00:01", look)
        self.play_day(self.STAYS_ON)

    def test_a_meter_that_stays_silent_is_not_called_solved(self):
        def change():
            self.troubles = self.daemon.status()["troubles"]
            self.reload(("title: Pool pump", "title: Pump of the pool"))

        def look():
            self.assertEqual(self.daemon.status()["troubles"], self.troubles)
            self.assertTrue(any("meter grid" in trouble for trouble in self.troubles), self.troubles)

        self.at("10:30", change)
        self.at("10:30:01", look)
        self.play_day("at 10:29:30 fault meter silent\n", "11 min")
        self.assertFalse(self.daemon.said.find("solved: meter grid"))

    def test_what_may_be_a_slip_is_taken_and_mentioned(self):
        def change():
            self.change_settings(("margin: 50 W", "margin: -300 W"))
            answer = self.daemon.order("reload")
            self.assertRegex(answer, rf"in force; look at {self.settings}:\d+:\d+: margin: -300 W")
            self.daemon.said.wait_for(rf"<5>{self.settings}:\d+:\d+: margin: -300 W")

        self.at("10:30", self.order)
        self.at("11:00", change)
        self.play_day(self.STAYS_ON)

    def test_a_bad_file_changes_nothing_and_is_named_until_a_good_one_comes(self):
        def spoil():
            self.good = self.settings.read_text()
            self.change_settings(("priority: 1", "priority: 7"), ("power: 3.6 kW", "power: 3.6"))
            line = 1 + self.settings.read_text()[:self.settings.read_text().index(
                "power: 3.6")].count("\n")
            self.place = f"{self.settings}:{line}:12"
            run = self.daemon.ask("reload")
            self.assertNotEqual(run.returncode, 0)
            self.assertIn(self.place, run.stderr)
            self.assertIn("nothing was changed", run.stderr)

        def look():
            now = self.daemon.status()
            self.assertEqual(load_of(now, "water-heater")["priority"], 1)
            self.assertTrue(any(self.place in trouble for trouble in now["troubles"]),
                            now["troubles"])

        def by_signal(text):
            def act():
                since = len(self.daemon.said.lines)
                if text is None:
                    self.settings.unlink()
                else:
                    self.settings.write_bytes(text)
                self.daemon.signal(signal.SIGHUP)
                self.daemon.said.wait_for("<3>.*" + str(self.settings), since)
            return act

        def still():
            now = self.daemon.status()
            self.assertEqual(load_of(now, "water-heater")["priority"], 1)
            self.assertTrue(load_of(now, "water-heater")["on"])
            self.assertEqual(len(now["troubles"]), 1, now["troubles"])

        def repair():
            self.settings.write_text(self.good)
            self.daemon.order("reload")

        self.at("10:30", self.order)
        self.at("11:00", spoil)
        self.at("11:00:01", look)
        for minute, text in enumerate((b"", b"\0\1\2\377" * 500, b"a: &a [*a]\n", b"x" * 100_000,
                                       None), 1):
            self.at(f"11:0{minute}", by_signal(text))
            self.at(f"11:0{minute}:01", still)
        self.at("11:10", repair)
        self.at("11:10:01", lambda: self.assertEqual(self.daemon.status()["troubles"], []))
        self.play_day(self.STAYS_ON + "\nmust pool-pump relay on 10:30:05..11:19")


if __name__ == "__main__":
    main()
