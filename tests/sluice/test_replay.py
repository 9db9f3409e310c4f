#!/usr/bin/env python3
"""replay: settings and a table of days, and what the loads would have done.

usage: test_replay.py BUILD-DIR SOURCE-DIR
"""
import csv
import datetime
import re
import xml.etree.ElementTree

from command import SOURCE, Case, main

EXTRACT = SOURCE / "tests/trial/extracts/home01-three-weeks.csv"

SETTINGS = """
site: {name: Replayed house, timezone: ZONE, phases: 1, voltage: 230 V, supply_limit: 100 A, margin: 0 W}
tariff: {import: [{price: 0.30 /kWh}], feed_in: 0.05 /kWh}
buses: {board: {host: 127.0.0.1, tcp_port: 5020}}
meters: {grid: {role: grid, bus: board, unit: 1, map: sunspec, every: 1 s}}
loads:
"""
PUMP = """
  pool-pump:
    {title: Pool pump, priority: 2, power: 1 kW, phases: L1, settle_start: 2 min, settle_stop: 90 s,
     minimum_on: 5 min, minimum_off: 5 min, start_fraction: 100 %,
     output: {kind: coil, bus: board, unit: 10, address: 1, read_back: yes, fail_state: off}}
"""
HEATER = """
  water-heater:
    title: Water heater
    priority: 1
    power: 3.6 kW
    phases: L1
    thermostat: yes
    start_fraction: 60 %
    minimum_on: 5 min
    minimum_off: 5 min
    output: {kind: coil, bus: board, unit: 10, address: 0, read_back: yes, fail_state: off}
    floors: [{measure: time, amount: 2 h, by: "18:00", reserve: 30 min}]
"""


def rows(days=2, first="2026-01-14", step_min=30, sun=(10, 14), use=0.3):
    """4 kW of sun from 10:00 to 14:00 and 300 W of use, all day, each day."""
    at = datetime.datetime.fromisoformat(first)
    yield "time,use_kw,solar_kw"
    for _ in range(days * 24 * 60 // step_min):
        shines = sun[0] <= at.hour < sun[1]
        yield f"{at:%Y-%m-%d %H:%M},{use},{4 if shines else 0}"
        at += datetime.timedelta(minutes=step_min)


class Replay(Case):
    def files(self, loads=PUMP, days=None, zone="Australia/Brisbane"):
        settings, table = self.folder / "sluice.yaml", self.folder / "days.csv"
        settings.write_text(SETTINGS.replace("ZONE", zone) + loads)
        table.write_text("\n".join(rows() if days is None else days) + "\n")
        return settings, table

    def replay(self, *options, **made):
        return self.sluice("replay", *self.files(**made), *options)

    def table(self, *options, **made):
        path = self.folder / "out.csv"
        self.assert_done(self.replay("--csv", path, *options, **made))
        with open(path, newline="") as file:
            return [{k: v if k == "date" else float(v or "nan") for k, v in row.items()}
                    for row in csv.DictReader(file)]


class Tables(Replay):
    def test_a_pump_takes_the_sun_that_is_spare_and_stops_when_it_is_gone(self):
        run = self.replay("--reasons")
        self.assert_done(run)
        self.assert_fits(run.stdout)
        self.assertIn("Replayed house", run.stdout)
        self.assertIn("14 Jan 2026 to 15 Jan 2026, 2 days", run.stdout)
        # settles for two minutes; stops 90 s after the sun has gone
        self.assertRegex(run.stdout, r"2026-01-14 10:02  pool-pump  on: spare 3.7 kW, 1 kW needed")
        self.assertRegex(run.stdout, r"2026-01-14 14:01  pool-pump  off: no spare power, needs 1 kW")
        self.assertEqual(len(re.findall(r"pool-pump  on:", run.stdout)), 2)

    def test_an_array_is_told_as_other_powers_are(self):
        days = [re.sub(",4$", ",800", row.replace("solar_kw", "solar_w_per_kwp")) for row in rows()]
        tables = [self.table("--array", size, days=days) for size in ("5", "5 kWp", "5kW", "5000 W")]
        for table in tables:
            self.assertAlmostEqual(table[0]["solar_kwh"], 16, places=3)

    def test_the_sums_are_the_days(self):
        days = self.table()
        self.assertEqual([day["date"] for day in days], ["2026-01-14", "2026-01-15"])
        for day in days:
            self.assertAlmostEqual(day["solar_kwh"], 16, places=3)
            self.assertAlmostEqual(day["use_kwh"], 7.2, places=3)
            # 10:02 to 14:00 of sun, then a minute and a half of the grid
            self.assertAlmostEqual(day["pool-pump_sun_kwh"], 238 / 60, delta=0.01)
            self.assertAlmostEqual(day["pool-pump_grid_kwh"], 1.5 / 60, delta=0.01)
            self.assertEqual(day["pool-pump_starts"], 1)

    def test_use_and_sun_may_be_in_files_of_their_own(self):
        whole = self.table()
        settings, use = self.files()
        sun, out = self.folder / "sun.csv", self.folder / "out2.csv"
        table = [line.split(",") for line in rows()]
        use.write_text("".join(f"{time},{use_kw}\n" for time, use_kw, _ in table))
        sun.write_text("".join(f"{time},{sun_kw}\n" for time, _, sun_kw in table))
        self.assert_done(self.sluice("replay", settings, use, sun, "--csv", out))
        with open(out, newline="") as file:
            apart = [{k: v if k == "date" else float(v or "nan") for k, v in row.items()}
                     for row in csv.DictReader(file)]
        self.assertEqual(str(apart), str(whole))

    def test_no_energy_is_lost_on_any_day(self):
        days = self.table("--array", "6.6", "--refine", "--times", "standard", zone="America/Los_Angeles",
                          loads=HEATER + PUMP, days=EXTRACT.read_text().splitlines())
        self.assertGreaterEqual(len(days), 21)
        for day in days:
            loads = sum(day[f"{name}_{side}_kwh"] for name in ("water-heater", "pool-pump")
                        for side in ("sun", "grid"))
            self.assertAlmostEqual(day["solar_kwh"] + day["import_kwh"],
                                   day["use_kwh"] + day["export_kwh"] + loads, delta=0.002)
        self.assertGreater(sum(day["water-heater_sun_kwh"] for day in days), 50)

    def test_the_year_is_told_by_months_and_the_guarantees_with_it(self):
        run = self.replay(loads=HEATER, days=rows(days=62, first="2026-01-01"))
        self.assert_done(run)
        self.assert_fits(run.stdout)
        self.assertRegex(run.stdout, r"(?m)^Jan 2026 +496\.0 +223\.2 ")
        self.assertRegex(run.stdout, r"(?m)^Mar 2026 ")
        self.assertRegex(run.stdout, r"(?m)^all .* 62 +0$")
        self.assertRegex(run.stdout, r"Hot water: \d+ kWh drawn in \d+ draws")
        self.assertRegex(run.stdout, r"Money: -?\d+\.\d\d to pay")
        by_day = self.replay("--by", "day", loads=HEATER, days=rows(days=62, first="2026-01-01"))
        self.assertRegex(by_day.stdout, r"(?m)^27 Feb 2026 ")

    def test_what_was_taken_for_granted_is_said(self):
        run = self.replay("--tank", "160 l", "--set", "70 C", "--water", "100 l", loads=HEATER + PUMP)
        self.assertIn("water-heater heats a tank of 160 l to 70 °C", run.stdout)
        self.assertIn("hot water of 100 l a day at 45 °C", run.stdout)
        self.assertIn("pool-pump takes its power whenever it is on", run.stdout)
        self.assertIn("coldest in February", run.stdout)
        self.assertIn("coldest in August", self.replay("--south", loads=HEATER).stdout)
        self.assertIn("coldest in August", self.replay(loads=HEATER, zone="Australia/Sydney").stdout)

    def test_hot_water_is_that_of_the_quote_where_no_option_tells_it(self):
        quoted = HEATER + "quote: {water: 200 L}\n"
        for loads, options, wanted in (
                (HEATER, (), r"(?!200 )\d+ l a day at 45 °C \(as usual for such a tank\)"),
                (quoted, (), r"200 l a day at 45 °C \(by the settings' section quote\)"),
                (quoted, ("--water", "100 l"), r"100 l a day at 45 °C \(by --water\)")):
            run = self.replay(*options, loads=loads)
            self.assertRegex(" ".join(run.stdout.split()), "hot water of " + wanted)
        drawn = [self.table(*options, loads=loads)
                 for loads, options in ((quoted, ()), (HEATER, ("--water", "200 l")), (HEATER, ()))]
        self.assertEqual(drawn[0], drawn[1])
        self.assertNotEqual(drawn[0], drawn[2])

    def test_a_sun_of_the_other_half_of_the_earth_is_remarked_on(self):
        december = list(rows(days=30, first="2026-12-01", sun=(5, 19)))
        june = list(rows(days=30, first="2026-06-01", sun=(5, 19)))
        for days, zone, options, wanted in (
                (december, "Australia/Brisbane", (), "--south takes August"),
                (december, "Australia/Brisbane", ("--south",), None),
                (december, "Australia/Perth", ("--south",), None),
                (june, "Australia/Brisbane", (), None),
                (june, "Australia/Brisbane", ("--south",), "--south is not for this home"),
                (june, "America/Los_Angeles", (), None)):
            run = self.replay(*options, loads=HEATER, days=days, zone=zone)
            self.assertEqual(run.returncode, 0)
            if wanted:
                self.assertIn("note: the longest days are those of", run.stderr)
                self.assertIn(wanted, run.stderr)
            else:
                self.assertEqual(run.stderr, "")

    def test_days_of_23_and_25_hours(self):
        # Sydney goes ahead on 4 October 2026 at 2:00 and back on 5 April at 3:00
        spring = [row for row in rows(days=3, first="2026-10-03") if " 02:" not in row or "10-04" not in row]
        days = self.table(zone="Australia/Sydney", days=spring)
        self.assertEqual([round(day["use_kwh"], 2) for day in days], [7.2, 6.9, 7.2])
        autumn = list(rows(days=3, first="2026-04-04"))
        twice = next(k for k, row in enumerate(autumn) if row.startswith("2026-04-05 03:00"))
        days = self.table(zone="Australia/Sydney", days=autumn[:twice] + autumn[twice - 2:])
        self.assertEqual([round(day["use_kwh"], 2) for day in days], [7.2, 7.5, 7.2])

    def test_hot_water_from_a_second_file(self):
        draws = self.folder / "draws.txt"
        # 10 l in each minute from 7:00 to 7:05
        draws.write_text("".join(f"{600 if 420 <= k % 1440 < 425 else 0:6d}\n" for k in range(525600)))
        run = self.replay("--draws", draws, loads=HEATER)
        self.assert_done(run)
        self.assertIn("hot water as in the file", run.stdout)
        self.assertIn("in 2 draws; 0 of them spoilt", run.stdout)
        refused = self.replay("--draws", draws, "--water", "m", loads=HEATER)
        self.assert_complains(refused, 2, "the file itself says when hot water is drawn")


class Cars(Replay):
    CAR = """
  car:
    {kind: setpoint, power: 32 A, least: 6 A, step: 1 A, phases: L1, minimum_on: 5 min, minimum_off: 5 min,
     output: {kind: register, bus: board, unit: 11, address: 100, count_current: 100 mA},
     floors: [{measure: energy, amount: 10 kWh, by: "07:00", reserve: 30 min}]}
"""

    def days(self):
        return rows(days=24)  # the sun shines while it is away; in time it is full

    def test_what_a_car_never_took_is_not_told_as_kept(self):
        days = self.table(loads=self.CAR, days=self.days())
        kept = sum(day["car_floors_kept"] for day in days)
        took = sum(day["car_sun_kwh"] + day["car_grid_kwh"] for day in days)
        self.assertGreater(kept, 0)
        self.assertLessEqual(kept * 9, took)
        text = " ".join(self.replay("--reasons", loads=self.CAR, days=self.days()).stdout.split())
        untaken = int(re.search(r"(\d+) more would be counted as kept by its set-point", text)[1])
        self.assertGreater(untaken, 0)
        self.assertEqual(text.count("counted as met by its set-point, but it took only"), untaken)
        self.assertIn("drew h", text)
        day = " ".join(self.replay("--day", "2026-01-20", loads=self.CAR, days=self.days()).stdout.split())
        self.assertIn("guaranteed 10 kWh by 07:00: NOT KEPT: floor 1 counted as met by its set-point", day)

    def test_with_a_meter_of_its_own_nothing_is_taken_for_granted(self):
        settings, table = self.files(loads=self.CAR, days=self.days())
        settings.write_text(settings.read_text().replace("meters: {", "meters: {socket: {role: load, "
                            "load: car, bus: board, unit: 21, map: sunspec, every: 1 s}, "))
        run = self.sluice("replay", settings, table)
        self.assert_done(run)
        self.assertNotIn("set-point", run.stdout)
        self.assertIn("missed by", run.stdout)


class Refined(Replay):
    def test_steps_in_which_nothing_changes_are_remarked_on(self):
        for options, made, said in (((), {}, True), (("--day", "2026-01-14"), {}, True),
                                    (("--refine",), {}, False),
                                    ((), dict(days=rows(days=1, step_min=5)), False)):
            text = " ".join(self.replay(*options, **made).stdout.split())
            self.assertEqual("Clouds and kettles are not there" in text, said, text)
            self.assertEqual("--refine" in text, said, text)

    def test_refining_says_what_it_changes_and_depends_on_the_seed_alone(self):
        made = dict(loads=HEATER + PUMP, days=EXTRACT.read_text().splitlines(), zone="America/Los_Angeles")
        options = ("--array", "6.6", "--times", "standard", "--refine", "--seed")
        first, again, other = (self.replay(*options, seed, **made).stdout for seed in ("7", "7", "8"))
        self.assertEqual(first, again)
        self.assertNotEqual(first, other)
        self.assertIn("the steps of 60 min were made of seconds", first.replace("\n  ", " "))

    def test_minutes_need_none(self):
        run = self.replay("--refine", days=rows(days=1, step_min=1))
        self.assert_complains(run, 2, "steps of 60 s; minutes and shorter ones need no refining")


class Pictures(Replay):
    def words(self, path):
        tree = xml.etree.ElementTree.parse(path)
        return [text.text for text in tree.iter("{http://www.w3.org/2000/svg}text")]

    def test_all_days_on_a_sheet(self):
        path = self.folder / "sheet.svg"
        run = self.replay("--svg", path, loads=HEATER + PUMP, days=rows(days=62, first="2026-01-01"))
        self.assert_done(run)
        self.assertIn(f"picture: {path}", run.stdout)
        words = self.words(path)
        for wanted in ("Replayed house", "Water heater", "Pool pump", "Each day", "Feb", "62 kept"):
            self.assertIn(wanted, words)

    def test_one_day_as_the_daemon_would_have_told_it(self):
        path = self.folder / "day.svg"
        run = self.replay("--day", "2026-01-15", "--svg", path, loads=HEATER)
        self.assert_done(run)
        self.assert_fits(run.stdout)
        self.assertIn("Thu 15 Jan 2026", run.stdout)
        self.assertIn("guaranteed 2 h by 18:00: kept", run.stdout)
        self.assertRegex(run.stdout, r"(?m)^11:00 +3\.70 ")
        self.assertIn("Thu 15 Jan 2026", self.words(path))

    def test_a_file_that_cannot_be_written_is_said_before_the_work(self):
        for option in ("--svg", "--csv"):
            run = self.replay(option, self.folder / "nowhere/sheet.svg")
            self.assert_complains(run, 3, "nowhere/sheet.svg\" cannot be written")


class Mistakes(Replay):
    def broken(self, line, text):
        lines = list(rows())
        lines[line - 1] = text
        return lines

    def test_each_mistake_in_the_days_is_named_with_its_line(self):
        for line, text, wanted in (
                (7, "2026-01-14 02:30,abc,0", 'use: "abc" is no number'),
                (7, "2026-01-14 02:00,0.3,0", "2026-01-14 02:00 comes twice"),
                (7, "2026-01-14 02:30,0.3", "2 fields where line 1 has 3"),
                (7, "2026-01-14 02:30,-2,0", "use is -2000 W"),
                (7, "04/03/2026 02:30,1,0", "--dates dmy or --dates mdy says which"),
                (1, "time,use_w,solar_kw", "it looks like kW"),
                (1, "time,use,solar_kw", "the unit of column 2")):
            days = self.broken(line, text)
            if "looks like" in wanted:
                line = 2
            run = self.replay(days=days)
            self.assertEqual(run.returncode, 1, run)
            self.assertEqual(run.stdout, "")
            self.assertRegex(run.stderr, rf"(?m)^{re.escape(str(self.folder))}/days.csv:{line}: .*{re.escape(wanted)}")
            self.assertIn("these days cannot be used", run.stderr)

    def test_a_gap_is_filled_where_one_says_how_and_told(self):
        days = [row for row in rows() if not row.startswith("2026-01-15 03:")]
        run = self.replay(days=days)
        self.assertEqual(run.returncode, 1)
        self.assertIn("days.csv:56: 1 h missing from here", run.stderr)
        run = self.replay("--gaps", "hold", days=days)
        self.assertEqual(run.returncode, 0)
        self.assertIn("days.csv:56: note: 1 h missing from here: the row before goes on", run.stderr)

    def test_options_that_make_no_sense(self):
        for options, wanted in (
                (("--use", "2:furlongs"), '"furlongs" is no unit'),
                (("--times", "mars"), "local, standard or utc is expected"),
                (("--dates", "ymd"), "dmy or mdy is expected"),
                (("--gaps", "ignore"), "hold or day-before is expected"),
                (("--array", "-3"), "a size such as 6.6"),
                (("--array", "6.6 kWh"), "6.6 kWh is an energy; expected a power"),
                (("--array", "2 MW"), "at most 1 MW"),
                (("--seed", "x"), "a whole number is expected"),
                (("--shift-draws", "1000"), "days from -365 to 365"),
                (("--by", "week"), "day or month is expected"),
                (("--day", "yesteryear"), "2026-01-14 is expected"),
                (("--tank", "3 kW"), "--tank"),
                (("--tank", "3 l"), "from 20 to 5000 is expected"),
                (("--water", "much"), "--water"),
                (("--arrray", "3"), 'do you mean "--array"?')):
            self.assert_complains(self.replay(*options), 2, wanted)

    def test_a_day_that_is_not_there(self):
        self.assert_complains(self.replay("--day", "2026-03-01"), 1, "has nothing of 2026-03-01")

    def test_files_that_are_not_there(self):
        settings, table = self.files()
        self.assert_complains(self.sluice("replay", settings, self.folder / "none.csv"), 3,
                              "none.csv\" cannot be read")
        run = self.sluice("replay", self.folder / "none.yaml", table)
        self.assertNotEqual(run.returncode, 0)
        self.assertIn("none.yaml", run.stderr)
        self.assert_complains(self.replay("--draws", self.folder / "none.txt"), 3, "none.txt")

    def test_its_help_lists_the_options(self):
        run = self.sluice("replay", "--help")
        self.assert_done(run)
        for option in ("--use", "--array", "--times", "--gaps", "--draws", "--refine", "--seed", "--tank",
                       "--svg", "--csv", "--day", "--reasons", "--by", "--maps", "--south", "--ends"):
            self.assertIn(option, run.stdout)
        for line in run.stdout.splitlines():
            self.assertLessEqual(len(line), 80)


main()
