#!/usr/bin/env python3
"""data: what was understood of a customer's interval data, and what looks wrong in them.

usage: test_data.py BUILD-DIR SOURCE-DIR
"""
import datetime
import math
import re
import xml.etree.ElementTree
from html.parser import HTMLParser

from command import BUILD, SOURCE, Case, main

EXTRACT = SOURCE / "tests/trial/extracts/home01-three-weeks.csv"


def use_and_sun(day, hour):
    """kW: 0.3 and 1.5 in the evening; 4 kW of sun, less on every third day."""
    use = 0.3 + 0.01 * (day % 7) + 0.04 * math.sin(hour + day)
    use += 1.5 + 0.1 * (day % 5) if 18 <= hour < 21 else 0
    sun = 4 * math.sin((hour - 6) * math.pi / 12) if 6 < hour < 18 else 0
    return use, sun * (0.3 if day % 3 == 2 else 1)


def table(days=365, heater=lambda day, hour: 0, steps=48, head="time,use_kw,solar_kw"):
    yield head
    for day in range(days):
        for step in range(steps):
            hour = step * 24 / steps
            at = datetime.datetime(2025, 1, 1) + datetime.timedelta(days=day, hours=hour)
            use, sun = use_and_sun(day, hour)
            yield f"{at:%Y-%m-%d %H:%M},{use + heater(day, hour):.4f},{sun:.4f}"


def at_night(day, hour):
    """3.6 kW from 22:00 to midnight, on odd evenings to 1:00."""
    return 3.6 if hour >= 22 or (hour < 1 and day % 2 == 0) else 0


class Data(Case):
    def data(self, rows, *options, zone="Australia/Brisbane"):
        path = self.folder / "customer.csv"
        path.write_text("\n".join(rows) + "\n")
        return self.sluice("data", path, "--timezone", zone, *options)


class Preview(Data):
    def test_a_year_is_shown_at_eighty_columns(self):
        run = self.data(table())
        self.assert_done(run)
        self.assert_fits(run.stdout)
        self.assertIn("1 Jan 2025 to 31 Dec 2025, 365 days", run.stdout)
        self.assertIn("local time of Australia/Brisbane", run.stdout)
        use, sun = (sum(use_and_sun(day, step / 2)[k] for day in range(365) for step in range(48)) / 730
                    for k in (0, 1))
        self.assertRegex(run.stdout, rf"A day: imported \d+\.\d\d, exported \d+\.\d\d, "
                                     rf"generated {sun:.2f}, used {use:.2f} kWh")
        self.assertRegex(run.stdout, r"Largest half hours of import: 2\.\d\d kW \w{3} \d+ \w{3} 2025 \d\d:\d\d; ")
        for season in ("Dec-Feb", "Mar-May", "Jun-Aug", "Sep-Nov"):
            self.assertRegex(run.stdout, rf"(?m)^{season}  use +{use:.1f}  ▁")
        self.assertEqual(len(re.findall(r"(?m)^         sun +23\.\d  +▁", run.stdout)), 4)
        self.assertIn("Nothing in it looks wrong.", run.stdout)

    def test_the_bars_of_the_mean_day_stand_at_their_hours(self):
        lines = self.data(table()).stdout.splitlines()
        scale = next(line for line in lines if line.startswith("mean day"))
        use, sun = (next(line for line in lines[lines.index(scale):] if f" {what} " in line)
                    for what in ("use", "sun"))
        self.assertEqual(use[scale.index("18:00"):scale.index("18:00") + 6], "█" * 6)
        self.assertIn(use[scale.index("18:00") - 1], "▁▂")
        self.assertEqual(sun[scale.index("06:00")], " ")
        self.assertEqual(sun[scale.index("12:00")], "█")
        self.assertEqual(len(sun), scale.index("18:00"))

    def test_the_page_has_the_same_and_needs_nothing_else(self):
        page = self.folder / "page.html"
        run = self.data(table(heater=at_night), "--html", page)
        self.assert_done(run)
        self.assertIn(f"page: {page}", run.stdout)
        text = page.read_text()
        HTMLParser().feed(text)
        self.assertEqual(text.count("<svg"), 4)
        for svg in re.findall(r"<svg.*?</svg>", text, re.S):
            xml.etree.ElementTree.fromstring(svg)
        self.assertIn("night steps of 3.6 kW", text)
        self.assertNotRegex(text, r"<script|<link|@import|url\(|src=")

    def test_the_table_that_is_written_reads_as_the_same_days(self):
        out = self.folder / "out.csv"
        run = self.data(EXTRACT.read_text().splitlines(), "--array", "6.6", "--times", "standard", "--out", out,
                        zone="America/Los_Angeles")
        self.assertEqual(run.returncode, 0)
        again = self.sluice("data", out, "--timezone", "America/Los_Angeles")
        self.assertEqual(again.returncode, 0)

        def figures(text):
            return text[text.index("A day: "):text.index("\n\n", text.index("mean day"))]

        self.assertEqual(figures(run.stdout), figures(again.stdout))
        self.assertRegex(out.read_text().splitlines()[1], r"^\d{4}-\d\d-\d\dT\d\d:00:00-0[78]:00,\d+\.\d{4},\d")

    def test_timezone_and_array_are_the_settings(self):
        run = self.data(table(), "--settings", SOURCE / "conf/sluice.yaml")
        self.assertEqual(run.returncode, 2)
        self.assertIn("--timezone or --settings, not both", run.stderr)
        run = self.sluice("data", self.folder / "customer.csv", "--settings", SOURCE / "conf/sluice.yaml",
                          "--maps", SOURCE / "conf/meters", "--times", "standard")
        self.assertEqual(run.returncode, 0, run.stderr)
        self.assertRegex(run.stdout, r"local time of \S+/\S+")


class Heater(Data):
    def test_night_steps_are_told_and_taken_out_as_told(self):
        run = self.data(table(heater=at_night))
        self.assert_done(run)
        told = re.search(r'night steps of 3\.6 kW from 22:00 on 364 of 364 nights: an existing heater, take it out\? '
                         r'--heater-in-data "(22:00-01:00 3\.6 kW)"', " ".join(run.stdout.split()))
        self.assertTrue(told, run.stdout)
        used = float(re.search(r"used (\d+\.\d\d) kWh", run.stdout).group(1))
        run = self.data(table(heater=at_night), "--heater-in-data", told.group(1))
        self.assert_done(run)
        self.assert_fits(run.stdout)
        text = " ".join(run.stdout.split())
        taken = float(re.search(r"the heater that was in the use is taken out: (\d+\.\d\d) kWh a day, 22:00-01:00 at "
                                r"3.6 kW, on 364 of 364 days", text).group(1))
        self.assertAlmostEqual(taken, 2.5 * 3.6, delta=0.3)
        self.assertAlmostEqual(float(re.search(r"used (\d+\.\d\d) kWh", text).group(1)), used - taken, delta=0.02)
        self.assertNotIn("night steps", text)

    def test_a_heater_that_does_not_fit_is_refused(self):
        for word, wanted in (("22:00-06:00 2.4 kW", "the steps within these hours are of 3.6 kW, not 2.4 kW"),
                             ("02:00-06:00 3.6 kW", "steps of 3.6 kW show on 0 of 365 days only")):
            run = self.data(table(heater=at_night), "--heater-in-data", word)
            self.assertEqual(run.returncode, 1)
            self.assertIn(wanted, run.stderr)
            self.assertNotIn("A day:", run.stdout)
        for word in ("3.6 kW", "22:00-06:00", "22:00-06:00 3.6", "22:00-06:00 3.6 kWh", "mon 22:00-06:00 3.6 kW",
                     "22:00-06:00 90 kW", "", "22-6 3.6 kW"):
            self.assert_complains(self.data(table(days=2), "--heater-in-data", word), 2, "--heater-in-data")


class Wrong(Data):
    def test_what_looks_wrong_is_told(self):
        for rows, options, wanted in (
                ([re.sub(r",[^,]*$", "", row) for row in table()], (), "neither sun nor export in it"),
                (table(), ("--array", "50 kWp"), "from 50 kWp: a tenth of what is usual"),
                (table(days=120), (), "hardly anything of Jun-Aug and Sep-Nov, not a whole year")):
            run = self.data(rows, *options)
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assert_fits(run.stdout)
            self.assertIn(wanted, " ".join(run.stdout.split()))

    def test_a_refused_file_is_named_with_its_line_and_nothing_is_written(self):
        out = self.folder / "out.csv"
        rows = list(table(days=3))
        rows[7] = rows[7].replace(",", ",x", 1)
        run = self.data(rows, "--out", out)
        self.assertEqual(run.returncode, 1)
        self.assertIn("customer.csv:8: ", run.stderr)
        self.assertIn("not usable as it is", run.stdout)
        self.assertFalse(out.exists())

    def test_words_that_make_no_sense(self):
        self.assert_complains(self.sluice("data"), 2, "sluice data FILE")
        self.assert_complains(self.sluice("data", self.folder / "none.csv", "--timezone", "UTC"), 3, "none.csv")
        self.assert_complains(self.data(table(days=2), zone="Mars/Olympus"), 2, "Mars/Olympus")
        self.assert_complains(self.data(table(days=2), "--html", self.folder / "no/page.html"), 3, "page.html")


class Others(Data):
    SETTINGS = """
site: {name: House, timezone: Australia/Brisbane, phases: 1, voltage: 230 V, supply_limit: 100 A, margin: 0 W}
tariff: {import: [{price: 0.30 /kWh}], feed_in: 0.05 /kWh}
buses: {board: {host: 127.0.0.1, tcp_port: 5020}}
meters: {grid: {role: grid, bus: board, unit: 1, map: sunspec, every: 1 s}}
loads:
  water-heater: {title: Water heater, priority: 1, power: 3.6 kW, phases: L1, thermostat: yes,
    output: {kind: coil, bus: board, unit: 10, address: 0, read_back: yes, fail_state: off}}
"""

    def test_replay_and_comparison_begin_with_the_essentials(self):
        settings, days = self.folder / "sluice.yaml", self.folder / "days.csv"
        settings.write_text(self.SETTINGS)
        days.write_text("\n".join(table(days=14, heater=at_night)) + "\n")
        for command in (("replay",), ("compare", "--seeds", "1")):
            run = self.sluice(command[0], settings, days, *command[1:])
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assert_fits(run.stdout)
            first = run.stdout.split("\n\n")[0]
            self.assertRegex(first, r"^days\.csv, 1 Jan 2025 to 14 Jan 2025, 14 days; a day imported \d")
            self.assertIn('--heater-in-data "22:00-01:00 3.6 kW"', " ".join(first.split()))
            self.assertLessEqual(len(first.splitlines()), 8)
            run = self.sluice(command[0], settings, days, *command[1:], "--heater-in-data", "22:00-06:00 3.6 kW")
            self.assertIn("is taken out: ", " ".join(run.stdout.split("\n\n")[0].split()))


def nem12(streams, days=30):
    """Streams of half hours by their suffix: a function of day and hour, in kWh."""
    yield "100,NEM12,202502020930,MDP1,RETAILER1"
    for suffix, value in streams.items():
        yield f"200,NEM1201009,{''.join(streams)},{suffix},{suffix},N1,METSER123,kWh,30,20250601"
        for day in range(days):
            date = datetime.date(2025, 1, 1) + datetime.timedelta(days=day)
            values = ",".join(f"{value(day, step / 2):.4f}" for step in range(48))
            yield f"300,{date:%Y%m%d},{values},A,,,20250202001500,20250202003000"
    yield "900"


class Standards(Data):
    """Files by the specifications' field tables: see tests/days/test_nem12.c and test_espi.c."""
    STREAMS = {"E1": lambda day, hour: max(0, use_and_sun(day, hour)[0] - use_and_sun(day, hour)[1]) / 2,
               "B1": lambda day, hour: max(0, use_and_sun(day, hour)[1] - use_and_sun(day, hour)[0]) / 2,
               "E2": lambda day, hour: at_night(day, hour) / 2}

    def test_nem12_shows_its_streams_and_asks_which_are_the_households(self):
        run = self.data(nem12(self.STREAMS))
        self.assertEqual(run.returncode, 1)
        for stream in self.STREAMS:
            self.assertRegex(run.stdout, rf"(?m)^{stream} ")
        self.assertIn("E2", run.stderr)
        taken = self.data(nem12(self.STREAMS), "--import", "E1")
        self.assert_done(taken)
        self.assert_fits(taken.stdout)
        self.assertRegex(taken.stdout, r"(?m)^E2 .* 9\.\d kWh")
        both = self.data(nem12(self.STREAMS), "--import", "E1+E2")
        self.assert_done(both)
        imported = [float(re.search(r"A day: imported (\d+\.\d\d), exported", run.stdout).group(1))
                    for run in (taken, both)]
        heater = sum(at_night(day, step / 2) / 2 for day in range(30) for step in range(48)) / 30
        self.assertAlmostEqual(imported[1] - imported[0], heater, delta=0.02)
        household = sum(self.STREAMS["E1"](day, step / 2) for day in range(30) for step in range(48)) / 30
        self.assertAlmostEqual(imported[0], household, delta=0.02)
        self.assertIn("not known", taken.stdout)
        self.assertIn("night steps of 3.6 kW", both.stdout)

    def test_green_button_is_read_too(self):
        first = int(datetime.datetime(2025, 1, 1, 8, tzinfo=datetime.timezone.utc).timestamp())
        entries = ["<feed>"]
        for name, flow in (("delivered", 1), ("received", 19)):
            entries.append(f'<entry><link rel="self" href="/UsagePoint/1/MeterReading/{flow}"/><link rel="related" '
                           f'href="/ReadingType/{flow}"/><title>{name}</title><MeterReading/></entry>'
                           f'<entry><link rel="self" href="/ReadingType/{flow}"/><ReadingType><flowDirection>{flow}'
                           "</flowDirection><powerOfTenMultiplier>0</powerOfTenMultiplier><uom>72</uom></ReadingType>"
                           f'</entry><entry><link rel="up" href="/UsagePoint/1/MeterReading/{flow}/IntervalBlock"/>'
                           "<IntervalBlock>")
            for step in range(30 * 24):
                value = self.STREAMS["E1" if flow == 1 else "B1"](step // 24, step % 24) * 2000
                entries.append(f"<IntervalReading><timePeriod><duration>3600</duration><start>{first + step * 3600}"
                               f"</start></timePeriod><value>{value:.0f}</value></IntervalReading>")
            entries.append("</IntervalBlock></entry>")
        run = self.data([*entries, "</feed>"], zone="America/Los_Angeles")
        self.assert_done(run)
        self.assert_fits(run.stdout)
        self.assertIn("1 Jan 2025 to 30 Jan 2025, 30 days", run.stdout)
        self.assertRegex(run.stdout, r"(?m)^delivered +import +Wh +1 h ")
        self.assertRegex(run.stdout, r"(?m)^received +export +Wh +1 h ")

    def test_hostile_xml_is_refused_with_its_line(self):
        run = self.data(["<?xml version='1.0'?>", "<!DOCTYPE a [<!ENTITY b 'c'>]>", "<a>&b;</a>"])
        self.assertEqual(run.returncode, 1)
        self.assertIn("customer.csv:2: a document type", run.stderr)


class Parts(Case):
    def test_the_daemon_does_not_know_how_to_read_xml(self):
        self.assertFalse(b"libexpat" in (BUILD / "daemon/sluiced").read_bytes())


if __name__ == "__main__":
    main()
