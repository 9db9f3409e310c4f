#!/usr/bin/env python3
"""One screen: what it shows of the daemon's JSON, and that it fits a terminal.

usage: test_status.py BUILD-DIR SOURCE-DIR
"""
import fcntl
import json
import os
import pty
import re
import struct
import subprocess
import termios

from command import SLUICE, SOURCE, WIDTH, Case, main
from fake_control import FakeControl, finding, load, status

HOUR_MS = 3600000


def floor(**changes):
    row = {"measure": "time", "amount": 3 * HOUR_MS, "done": 0, "left": 3 * HOUR_MS, "met": False,
           "due": False, "deadline": "2026-01-14T17:00:00+11:00",
           "latest_start": "2026-01-14T13:30:00+11:00"}
    row.update(changes)
    return row


class Screen(Case):
    def show(self, **changes):
        with FakeControl(self.socket, {"status": status(**changes)}):
            run = self.ask("status")
        self.assert_done(run)
        self.assert_fits(run.stdout)
        return run.stdout

    def show_load(self, **changes):
        return self.show(loads=[load(**changes)])

    def test_a_summer_morning_is_one_screen(self):
        screen = self.show()
        self.assertLessEqual(len(screen.splitlines()), 24)  # a terminal's height
        for text in ("Wattle house", "Wed 14 Jan 2026, 10:00", "spare power   1.15 kW",
                     "grid          exporting 1.20 kW", "solar    5.60 kW",
                     "reading       fresh, 0.4 s old",
                     "ON   Water heater (water-heater)", "draws 3.59 kW",
                     "on: spare 4.7 kW, 3.6 kW needed",
                     "3 h by 17:00", "[##########..........]  50 %, start by 15:00",
                     "today: 1 h 31 min on, 5.20 kWh from spare, 0.11 kWh from grid, 2 starts",
                     "off  Pool pump (pool-pump)", "1.10 kW when on", "today: not run",
                     "grid   0.4 s old         answered",
                     "roof   3.2 s old         answered",
                     "123.46 kWh imported, 987.65 kWh exported",
                     "broker connected; ledger written; sluiced 0.1.0 up 3 d 3 h",
                     "Off is not isolation: isolate all supplies and prove dead before opening."):
            self.assertIn(text, screen)
        self.assertNotIn("Troubles", screen)

    def test_totals_stand_with_the_house_and_not_with_a_bus(self):
        screen = self.show(buses=[{"name": "switchboard", "mode": "poll", "units": []}])
        self.assertIn("total         123.46 kWh imported, 987.65 kWh exported\n", screen)
        self.assertLess(screen.index("123.46 kWh"), screen.index("Water heater"))

    def test_import_is_told_from_export(self):
        reading = dict(status()["reading"], grid_power_w=1850, phase_power_w=[1200, -300, 950])
        screen = self.show(reading=reading)
        self.assertIn("importing 1.85 kW", screen)
        self.assertIn("L1 1.20 kW, L2 -300 W, L3 950 W", screen)

    def test_too_little_power_is_told_as_what_is_missing(self):
        self.assertIn("spare power   none, 1.36 kW short\n", self.show(
            spare_w=-1360, reading=dict(status()["reading"], solar_power_w=None)))
        self.assertIn("spare power   none ", self.show(spare_w=0))

    def test_what_is_not_known_is_said(self):
        reading = dict(status()["reading"], quality="absent", age_ms=None, grid_power_w=None,
                       solar_power_w=None)
        screen = self.show(spare_w=None, reading=reading)
        self.assertIn("spare power   not known\n", screen)
        self.assertIn("grid          not known\n", screen)
        self.assertIn("reading       absent\n", screen)

    def test_a_stale_reading_tells_its_age_and_fault(self):
        reading = dict(status()["reading"], quality="stale", age_ms=65000, fault="a phase differs")
        self.assertIn("stale, 1 min old: a phase differs", self.show(reading=reading))

    def test_a_clock_that_is_not_set_is_said(self):
        self.assertIn("clock not synchronised", self.show(clock_trusted=False))

    def test_a_battery_shows_which_way_it_works(self):
        reading = dict(status()["reading"], battery_power_w=-2000)
        self.assertIn("discharging 2.00 kW", self.show(reading=reading))

    def test_floors_are_bars_with_what_is_left_to_do(self):
        screen = self.show_load(floors=[
            floor(done=2 * HOUR_MS, due=True),
            floor(measure="energy", amount=6000000, done=6100000, met=True),
            floor(measure="satisfied", deadline="2026-01-18T17:00:00+11:00",
                  latest_start="2026-01-18T13:30:00+11:00"),
            floor(deadline=None, latest_start=None)])
        self.assertIn("3 h by 17:00              [#############.......]  66 %, now due", screen)
        self.assertIn("6.00 kWh by 17:00         [####################]  kept", screen)
        self.assertIn("hot through by Sun 17:00  [....................]  0 %, start by Sun 13:30",
                      screen)
        self.assertIn("3 h in each 24 h          [....................]  0 %", screen)

    def test_a_start_time_that_does_not_fit_goes_onto_the_next_line(self):
        screen = self.show_load(floors=[floor(deadline="2026-02-18T17:00:00+11:00",
                                              latest_start="2026-02-18T13:30:00+11:00")])
        self.assertNotIn("~", screen)
        self.assertIn("start by Wed 18 Feb 2026 13:30", " ".join(screen.split()))

    def test_a_name_that_is_the_title_too_stands_once(self):
        self.assertEqual(self.show_load(title="water-heater").count("water-heater"), 1)

    def test_what_a_learning_load_holds_and_what_a_kwh_more_is_worth(self):
        heat = {"days_learnt": 12, "held_mwh": 9312345, "full_mwh": 17950000,
                "held_percent": 51, "worth_micro_per_kwh": 213456}
        self.assertIn("stored: about 9.31 kWh, 51 % of full; worth 0.213 /kWh; 12 days learnt",
                      self.show_load(heat=heat))
        heat.update(worth_micro_per_kwh=None, days_learnt=1)
        self.assertIn("51 % of full; learning, 1 day seen", self.show_load(heat=heat))
        self.assertNotIn("stored:", self.show_load(heat=None))

    def test_orders_and_their_ends_are_shown(self):
        held = self.show_load(hand="off", hand_left_ms=4800000, inhibited=True, enabled=False,
                              reason="off: inhibited", reason_name="off-inhibit")
        self.assertIn("manually: ordered off, 1 h 20 min left", held)
        self.assertIn("inhibited: kept off whatever else", held)
        self.assertIn("disabled: runs only when ordered manually", held)

    def test_a_reason_that_tells_of_the_order_is_enough(self):
        self.assertNotIn("manually: ordered", self.show_load(
            on=True, hand="on", hand_left_ms=4800000, reason="on: manually, 1 h 20 min left",
            reason_name="on-manual"))

    def test_holiday_and_inhibit_of_all_stand_above_the_loads(self):
        screen = self.show(holiday_back="2026-01-25T17:00:00+11:00", inhibited=True)
        self.assertIn("HOLIDAY until Sun 25 Jan 2026 17:00", screen)
        self.assertNotIn("everything is off", screen)
        self.assertNotIn("ready again", screen)
        self.assertLess(screen.index("ALL LOADS ARE INHIBITED"), screen.index("Water heater"))

    def test_a_load_that_is_on_and_draws_nothing_is_said(self):
        self.assertIn("draws nothing", self.show_load(on=True, draw="open"))

    def test_a_draw_that_nothing_has_shown_is_not_told_as_one(self):
        assumed = self.show_load(on=True, draw="assumed", draw_w=None)
        self.assertIn("draw not measured; takes 3.60 kW", assumed)
        self.assertIn("draw not known", self.show_load(on=True, draw="unknown", draw_w=None))

    def test_an_output_that_has_not_confirmed_is_neither_on_nor_off(self):
        for on, mark in ((True, " on?"), (False, " off?")):
            screen = self.show_load(on=on, output_is="unknown", output="failed",
                                    output_detail="unit 10 does not answer")
            self.assertIn(f"{mark}", screen)
            self.assertNotIn(" ON ", screen)
            self.assertNotIn(" off ", screen)
            self.assertIn("output: failed, may be on: unit 10 does not answer", screen)

    def test_a_load_that_draws_though_it_is_off_is_said_to(self):
        screen = " ".join(self.show_load(draw="stuck", draw_w=3300, output_is="unknown").split())
        self.assertIn("off? Water heater (water-heater) draws 3.30 kW though off", screen)
        self.assertIn("possible contact that stays closed; isolate before opening", screen)

    def test_how_a_guarantee_ended_is_still_there_after_its_deadline(self):
        def ended(met, done=3 * HOUR_MS, measure="time"):
            return self.show_load(floors=[floor(
                measure=measure, last_deadline="2026-01-13T17:00:00+11:00", last_met=met,
                last_done=done)])

        self.assertIn("before, by Tue 17:00: kept\n", ended(True))
        self.assertIn("before, by Tue 17:00: not known if kept\n", ended(None))
        self.assertIn("before, by Tue 17:00: missed, 1 h 30 min of 3 h\n",
                      ended(False, HOUR_MS * 3 // 2))
        self.assertIn("before, by Tue 17:00: missed\n", ended(False, 0, "satisfied"))

    def test_a_floor_that_was_run_without_evidence_is_not_told_as_kept(self):
        screen = self.show_load(floors=[floor(done=3 * HOUR_MS, met=None)])
        self.assertIn("not known if kept", screen)
        self.assertNotIn("  kept", screen)
        self.assertNotIn("#", screen)

    def test_a_holiday_says_of_each_load_what_becomes_of_it(self):
        def told(**holiday):
            return self.show_load(holiday=dict({"as_usual": False, "heated_from": None,
                                                "heat_up_short_ms": None}, **holiday))
        self.assertIn("holiday: goes on as usual", told(as_usual=True))
        self.assertIn("holiday: heated for the return from Sun 12:00 on",
                      told(heated_from="2026-01-18T12:00:00+11:00", heat_up_short_ms=0))
        self.assertIn("holiday: will NOT be hot at the return: its heat-up is short of 2 h",
                      told(heated_from="2026-01-14T10:00:00+11:00", heat_up_short_ms=7200000))
        self.assertNotIn("holiday:", told())

    def test_a_set_point_shows_what_it_is_set_to(self):
        self.assertIn("draws 2.71 kW, set to 2.76 kW", self.show_load(
            kind="setpoint", on=True, draw="seen", draw_w=2710, level_w=2760))

    def test_an_output_that_is_in_doubt_is_shown_with_its_evidence(self):
        detail = "coil 0 of unit 10 was written off and reads back on"
        self.assertIn(f"output: unsafe, may be on: {detail}",
                      " ".join(self.show_load(output="unsafe", output_detail=detail).split()))

    def test_troubles_come_last_and_wrap(self):
        long = "grid meter silent since 16:18; " + "no load starts on spare power; " * 4
        screen = self.show(findings=[finding(long.strip()), finding("second")])
        self.assertIn("      ! grid meter silent since 16:18;", screen)
        self.assertIn("\n      ! second\n", screen)
        self.assertGreater(screen.index("Troubles"), screen.index("Meters"))

    def test_a_finding_stands_with_its_load_and_nowhere_else(self):
        screen = self.show(findings=[finding(
            "possible: no power reaches the element", id="no-power-water-heater",
            load="water-heater", about="water-heater", inferred=True, sure_percent=98, seen=3)])
        self.assertEqual(screen.count("possible: no power reaches the element (98 %)"), 1)
        self.assertLess(screen.index("no power reaches"), screen.index("Pool pump"))
        self.assertNotIn("Troubles", screen)
        self.assertIn("What to do first: sluice faults", screen)

    def test_a_contact_that_stays_closed_is_told_once(self):
        screen = self.show(
            loads=[load(draw="stuck", draw_w=3300, output_is="unknown")],
            findings=[finding("possible: contact welded or bypassed",
                              id="contact-stuck-water-heater", load="water-heater",
                              about="water-heater", inferred=True, sure_percent=97, seen=2)])
        self.assertIn("! possible: contact welded or bypassed (97 %)", screen)
        self.assertNotIn("ordered off, but the meter did not fall", screen)

    def test_what_is_inferred_of_a_meter_is_a_trouble_with_its_name(self):
        screen = self.show(findings=[finding(
            "possible: the meter repeats one value", id="meter-stuck-grid", about="grid",
            inferred=True, sure_percent=99, seen=1)])
        self.assertIn("Troubles\n      ! grid: possible: the meter repeats one value (99 %)", screen)

    def test_a_meter_that_fails_shows_what_it_says(self):
        screen = self.show(meters=[{"name": "grid", "role": "grid", "age_ms": None,
                                    "outcome": "silent", "detail": "no answer in 500 ms"}])
        self.assertIn("never read", screen)
        self.assertIn("silent: no answer in 500 ms", screen)

    def test_buses_say_how_well_they_work(self):
        unit = {"unit": 1, "asked": 12345, "answered": 12340, "timeouts": 3, "corrupt": 2,
                "exceptions": 0, "retries": 5, "answer_p50_us": 20100, "answer_p95_us": 21000,
                "answer_p99_us": 22300}
        screen = self.show(buses=[{"name": "switchboard", "mode": "poll", "units": [unit]}])
        self.assertIn("switchboard unit 1: 12,345 polls, 5 failed (3 without an answer, 2 corrupt); "
                      "99 % answered within 23 ms", " ".join(screen.split()))
        self.assertNotIn("refused", screen)
        unit.update(timeouts=0, corrupt=0)
        well = self.show(buses=[{"name": "switchboard", "mode": "poll", "units": [unit]}])
        self.assertIn("12,345 polls, 0 failed; 99 % answered within 23 ms", well)
        self.assertNotIn("Buses", self.show(buses=[]))

    def test_the_gateway_says_what_it_has_done(self):
        counts = {"connections": 2, "answered": 98765, "passed": 432, "shared": 0, "refused": 7,
                  "turned_away": 1, "dropped": 0, "trouble": ""}
        screen = " ".join(self.show(gateway=counts).split())
        self.assertIn("Gateway 2 connections, 98,765 answered at once, 432 passed on to a meter, "
                      "7 refused, 1 connection turned away", screen)
        self.assertNotIn("equal request", screen)
        self.assertNotIn("Gateway", self.show(gateway=None))

    def test_broker_and_ledger_say_what_is_wrong(self):
        screen = self.show(mqtt={"enabled": True, "connected": False, "trouble": "not authorised"},
                           ledger={"trouble": "no space left"}, gap_ms=725000)
        self.assertIn("broker: not authorised; ledger: no space left", screen)
        self.assertIn("12 min without a reading", screen)
        self.assertNotIn("broker", self.show(mqtt={"enabled": False}))

    def test_titles_of_any_length_and_script_keep_the_width(self):
        self.assertIn("Wärmepumpe", self.show_load(title="Wärmepumpe im Keller"))
        self.show_load(title="Ü" * 200)
        self.show(site="S" * 200)
        self.show_load(reason="off: " + "x" * 300)

    def test_control_characters_do_not_reach_the_terminal(self):
        screen = self.show_load(title="a\033[2Jb", reason="off:\a bell")
        self.assertIn("a?[2Jb", screen)

    def test_a_status_with_little_in_it_is_still_a_screen(self):
        with FakeControl(self.socket, {"status": {"loads": [{"name": "x"}]}}):
            run = self.ask("status")
        self.assert_done(run)
        self.assertIn("(x)", run.stdout)

    def test_json_is_passed_on_as_it_came(self):
        raw = b'{"loads": [ ],   "other":1e3}'
        with FakeControl(self.socket, {"status": raw + b"\n"}):
            run = self.ask("status", "--json")
        self.assert_done(run)
        self.assertEqual(run.stdout.encode(), raw + b"\n")

    def test_a_large_status_arrives_whole(self):
        whole = status(loads=[load(f"load-{k}") for k in range(32)], troubles=["t" * 190] * 136,
                       findings=[finding("t" * 190, first="f" * 600)] * 136)
        with FakeControl(self.socket, {"status": whole}):
            run = self.ask("status", "--json")
        self.assertEqual(json.loads(run.stdout), whole)


class Terminal(Case):
    def run_on_a_terminal(self, *words, columns=WIDTH, **environment):
        """What `sluice` writes to a terminal."""
        master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        whole = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS")}
        program = subprocess.Popen([SLUICE, *words], stdout=slave, env=whole | environment)
        os.close(slave)
        said = b""
        while True:
            try:
                said += os.read(master, 65536)
            except OSError:  # Linux says EIO at the end of a pseudo-terminal
                break
        os.close(master)
        self.assertEqual(program.wait(), 0)
        return said


class Colour(Terminal):
    def on_a_terminal(self, columns=WIDTH, **environment):
        """What `sluice status` writes to a terminal."""
        with FakeControl(self.socket, {"status": status()}):
            return self.run_on_a_terminal("status", "--socket", self.socket, columns=columns,
                                          **environment)

    def test_a_terminal_gets_colour_unless_it_does_not_want_any(self):
        self.assertIn(b"\033[1;32mON\033[0m", self.on_a_terminal())
        self.assertNotIn(b"\033", self.on_a_terminal(NO_COLOR="1"))

    def test_a_narrow_terminal_loses_nothing(self):
        def words(screen):
            return sorted(re.sub(r"\[[#.]*\]", "", screen.decode()).split())
        wide = self.on_a_terminal(NO_COLOR="1")
        narrow = self.on_a_terminal(columns=40, NO_COLOR="1")
        self.assertEqual(words(narrow), words(wide))
        for line in narrow.decode().splitlines():
            self.assertLessEqual(len(line), 40, line)

    def test_columns_of_the_environment_come_before_those_of_the_terminal(self):
        narrow = self.on_a_terminal(columns=40, NO_COLOR="1")
        self.assertEqual(self.on_a_terminal(columns=80, NO_COLOR="1", COLUMNS="40"), narrow)
        for nothing in ("", "0", "-3", "forty"):
            self.assertEqual(self.on_a_terminal(columns=40, NO_COLOR="1", COLUMNS=nothing), narrow)


class Topics(Terminal):
    def rows(self, text):
        return {topic: payload for topic, _, payload in
                (line.strip("| ").split(" | ") for line in text.splitlines() if "`" in line)}

    def test_what_readme_says_can_be_ordered_is_what_can(self):
        run = self.sluice("topics")
        self.assert_done(run)
        listed = {topic: payload.split("; ") for topic, payload in self.rows(run.stdout).items()
                  if topic.endswith("/set`")}
        readme = dict(re.findall(r"^\| (`\S+/set`) \| (.*) \|$", (SOURCE / "README.md").read_text(),
                                 re.M))
        told = {topic.replace("water-heater", "LOAD"): re.findall("`([^`]+)`", payload)
                for topic, payload in readme.items()}
        self.assertEqual(told, listed)

    def test_a_terminal_gets_every_topic_in_columns_and_no_markdown(self):
        listed = re.findall(r"^\| `(\S+)` ", self.sluice("topics").stdout, re.M)
        shown = self.run_on_a_terminal("topics").decode().replace("\r", "")
        self.assertNotRegex(shown, r"[|`]")
        self.assertEqual(re.findall(r"^(\S+)", shown, re.M), listed)
        for line in shown.splitlines():
            self.assertLessEqual(len(line), WIDTH, line)
            self.assertFalse(line.endswith("~"), line)


if __name__ == "__main__":
    main()
