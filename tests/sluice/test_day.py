#!/usr/bin/env python3
"""A day from the ledger, as text and as a picture.

usage: test_day.py BUILD-DIR SOURCE-DIR
"""
import os
import shutil
import xml.etree.ElementTree

import invented_day as invented
from command import BUILD, SOURCE, Case, main

ZONE, DATE = "Australia/Sydney", "2026-01-14"
SVG = "{http://www.w3.org/2000/svg}"


class DayCase(Case):
    def setUp(self):
        super().setUp()
        self.ledger = self.folder / "ledger.db"
        self.picture = self.folder / "day.svg"
        self.settings = self.folder / "house.yaml"
        text = (SOURCE / "tests/scenarios/house.yaml").read_text()
        for key, value in {"BUS": "{host: 127.0.0.1, tcp_port: 502}", "SOCKET": self.socket,
                           "STATE": str(self.folder)}.items():
            text = text.replace(f"@{key}@", value)
        self.settings.write_text(text)

    def write(self, *lines):
        invented.write(BUILD, self.ledger, [line for part in lines for line in part])

    def write_a_day(self, date=DATE):
        begin = invented.midnight_ms(date, ZONE)
        self.write(invented.history(begin), invented.events(begin))

    def day(self, *words):
        return self.sluice("day", *words, "--settings", self.settings, "--maps",
                           SOURCE / "conf/meters")

    def draw(self, date=DATE):
        run = self.day(date, "--svg", self.picture)
        self.assert_done(run)
        root = xml.etree.ElementTree.parse(self.picture).getroot()
        return root, "\n".join(text.text for text in root.iter(f"{SVG}text"))


class Text(DayCase):
    def test_a_day_is_told_hour_by_hour(self):
        self.write_a_day()
        run = self.day(DATE)
        self.assert_done(run)
        self.assert_fits(run.stdout)
        for line in (
                "Scenario house                                 Wed 14 Jan 2026, Australia/Sydney",
                "09:00     0.00    1.00    0.00    0.00",
                "10:00     4.00    0.00    4.00    5.00",
                # 58 min of 3.6 kW; history is kept in steps of 5 min
                "11:00     4.00    0.00    0.52    5.00   water-heater 3.48 + 0.00, 58 min",
                "12:00     4.00    0.00    0.40    5.00   water-heater 3.60 + 0.00, 1 h",
                "13:00     4.00    0.00    2.08    5.00   water-heater 1.92 + 0.00, 32 min",
                "20:00     0.00    1.60    0.00    0.00   pool-pump 0.00 + 0.60, 30 min",
                "all      16.00   20.60    7.00   20.00"):
            self.assertIn(line + "\n", run.stdout)

    def test_each_load_has_its_sums_and_its_floor(self):
        self.write_a_day()
        words = " ".join(self.day(DATE).stdout.split())
        self.assertIn("Water heater: 9.00 kWh from spare power, 0.00 kWh from the grid (100 % spare); "
                      "on for 2 h 30 min in 1 run", words)
        self.assertIn("guaranteed 3 h by 17:00: kept, at 13:00", words)
        self.assertIn("Pool pump: 0.00 kWh from spare power, 0.60 kWh from the grid (0 % spare); "
                      "on for 30 min in 1 run", words)

    def test_switching_is_told_and_other_reasons_on_request(self):
        self.write_a_day()
        brief, whole = self.day(DATE).stdout, self.day(DATE, "--reasons").stdout
        self.assertIn("11:02  water-heater  on: spare 4 kW, 3.6 kW needed", brief)
        self.assertIn("13:32  water-heater  off: satisfied, tried again in 2 h", brief)
        self.assertIn("20:00  pool-pump  ordered locally: on 30 min", brief)
        for reason in ("settling", "on: spare 3.9 kW"):
            self.assertNotIn(reason, brief)
            self.assertIn(reason, whole)

    def test_a_floor_that_was_missed_says_why(self):
        begin = invented.midnight_ms(DATE, ZONE)
        missed = "floor missed by 3 h; denied by orders or no power drawn for 3 h"
        self.write(invented.history(begin), invented.events(begin, [(17 * 60, "water-heater", missed)]))
        self.assertIn(f"NOT KEPT: {missed}", " ".join(self.day(DATE).stdout.split()))

    def test_yesterdays_promise_is_not_todays(self):
        """Met after yesterday's deadline counts; met before it does not."""
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin),
                   invented.events(begin, [(-8 * 60, "water-heater", "floor 1 met")]))
        self.assertIn("nothing recorded of it", self.day(DATE).stdout)
        self.write(invented.events(begin, [(-6 * 60, "water-heater", "floor 1 met")]))
        self.assertIn("kept, at 18:00 the evening before", self.day(DATE).stdout)

    def test_a_day_that_has_not_ended_promises_nothing(self):
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin, minutes=12 * 60), invented.events(begin, []))
        run = self.day(DATE)
        self.assertIn("guaranteed 3 h by 17:00: not yet", run.stdout)
        self.assertNotIn("\n12:00 ", run.stdout)

    def test_hours_without_the_daemon_are_not_recorded(self):
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin, minutes=3 * 60),
                   invented.history(begin, first=6 * 60))
        run = self.day(DATE)
        self.assertIn("\n03:00    not recorded\n", run.stdout)
        self.assertIn("\n02:00     0.00    1.00", run.stdout)

    def test_a_load_that_ran_and_is_no_longer_set_is_told(self):
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin),
                   [f"history {begin + 300000} old-boiler 50000 0 60000"])
        self.assertIn("old-boiler: 0.05 kWh from spare power", self.day(DATE).stdout)

    # Summer time ends in Sydney on 2026-04-05 and begins on 2026-10-04 (IANA tz).
    def test_a_day_of_25_hours_has_an_hour_twice(self):
        begin = invented.midnight_ms("2026-04-05", ZONE)
        self.write(invented.history(begin, minutes=25 * 60))
        run = self.day("2026-04-05")
        self.assertEqual(run.stdout.count("\n02:00 "), 2)
        self.assertIn("\n23:00 ", run.stdout)

    def test_a_day_of_23_hours_lacks_one(self):
        begin = invented.midnight_ms("2026-10-04", ZONE)
        self.write(invented.history(begin, minutes=23 * 60))
        run = self.day("2026-10-04")
        self.assertNotIn("\n02:00 ", run.stdout)
        self.assertIn("\n23:00 ", run.stdout)


class Wrong(DayCase):
    def test_a_date_that_is_none_is_quoted(self):
        self.write_a_day()
        for word in ("2026-02-30", "14.1.2026", "2026-1-14", "tomorrow", "2026-01-14x"):
            with self.subTest(word=word):
                self.assert_complains(self.day(word), 2, f'"{word}"', "2026-01-14, today")

    def test_a_day_without_records_tells_which_days_have_some(self):
        self.write_a_day()
        self.assert_complains(self.day("2026-01-20"), 1, "nothing is recorded for 2026-01-20",
                              "from 2026-01-14 to 2026-01-14")

    def test_a_ledger_that_cannot_be_read_is_named(self):
        self.assert_complains(self.day(DATE), 3, str(self.ledger))
        self.ledger.write_bytes(b"this is not a ledger" * 400)
        self.assert_complains(self.day(DATE), 3, str(self.ledger))
        self.ledger.write_bytes(b"")
        self.assert_complains(self.day(DATE), 3, str(self.ledger))

    def test_settings_with_mistakes_are_not_used(self):
        self.write_a_day()
        self.settings.write_text("site: {nme: x}\n")
        run = self.day(DATE)
        self.assertEqual(run.returncode, 1)
        self.assertIn(f"{self.settings}:1:", run.stderr)

    def test_without_settings_the_day_is_in_utc_and_says_so(self):
        if os.path.exists("/etc/sluice/sluice.yaml"):
            self.skipTest("this machine has settings")
        self.write(invented.history(invented.midnight_ms(DATE, "UTC")))
        run = self.sluice("day", DATE, "--ledger", self.ledger)
        self.assertEqual(run.returncode, 0)
        self.assertIn("times are UTC", run.stderr)
        self.assertIn("10:00     4.00", run.stdout)

    def test_a_picture_that_cannot_be_written_is_named_and_leaves_nothing(self):
        self.write_a_day()
        run = self.day(DATE, "--svg", self.folder / "no-such-folder/day.svg")
        self.assertEqual(run.returncode, 3)
        self.assertIn("no-such-folder/day.svg", run.stderr)
        before = self.folder / "day.svg"
        before.mkdir()
        self.assertEqual(self.day(DATE, "--svg", before).returncode, 3)
        self.assertEqual([path.name for path in self.folder.glob("day.svg.*")], [])

    def test_reading_changes_nothing_of_the_ledger(self):
        self.write_a_day()
        before = self.ledger.read_bytes()
        self.assert_done(self.day(DATE))
        self.assertEqual(self.ledger.read_bytes(), before)

    def test_a_copy_in_a_folder_that_may_not_be_written_is_read(self):
        self.write_a_day()
        copy = self.folder / "copy"
        copy.mkdir()
        shutil.copy(self.ledger, copy / "ledger.db")
        copy.chmod(0o555)
        self.addCleanup(copy.chmod, 0o755)
        if os.geteuid() == 0:  # who may otherwise write everywhere: capabilities(7)
            self.prefix = ("setpriv", "--bounding-set=-dac_override")
        run = self.day(DATE, "--ledger", copy / "ledger.db")
        self.assert_done(run)
        self.assertIn("water-heater 3.60 + 0.00, 1 h", run.stdout)


class Picture(DayCase):
    def test_the_picture_is_whole_and_names_what_it_shows(self):
        self.write_a_day()
        root, words = self.draw()
        self.assertEqual(root.tag, f"{SVG}svg")
        self.assertEqual(root.get("width"), "1200")
        self.assertEqual(root.find(f"{SVG}title").text, "Scenario house, Wed 14 Jan 2026")
        for text in ("Scenario house", "The loads took 9.60 kWh, 93 % of it spare solar power.",
                     "Water heater", "Pool pump", "11:02–13:32", "20:00–20:30",
                     "3 h by 17:00: kept 13:00", "9.00 kWh", "0.60 kWh", "20.00 kWh", "16.00 kWh",
                     "7.00 kWh", "20.60 kWh", "00:00", "24:00",
                     "on: spare 4 kW, 3.6 kW needed   →   off: satisfied, tried again in 2 h"):
            self.assertIn(text, words)

    def test_the_picture_needs_nothing_from_elsewhere(self):
        self.write_a_day()
        self.draw()
        text = self.picture.read_text().replace("http://www.w3.org/2000/svg", "")
        for word in ("http", "href", "<script", "<image", "url("):
            self.assertNotIn(word, text)

    def test_nothing_is_drawn_outside_the_sheet(self):
        self.write_a_day()
        root, _ = self.draw()
        height = float(root.get("height"))
        for box in root.iter(f"{SVG}rect"):
            x, y, w, h = (float(box.get(key)) for key in ("x", "y", "width", "height"))
            self.assertTrue(x >= 0 and y >= 0 and x + w <= 1200.5 and y + h <= height + 0.5,
                            box.attrib)

    def test_a_deadline_stands_at_its_time(self):
        self.write_a_day()
        root, _ = self.draw()
        dashed = [line for line in root.iter(f"{SVG}line") if line.get("stroke-dasharray")]
        self.assertEqual(len(dashed), 1)
        left, right = 176, 1020  # the plot's edges: 00:00 and 24:00
        self.assertAlmostEqual(float(dashed[0].get("x1")), left + (right - left) * 17 / 24, delta=0.1)

    def test_a_floor_that_was_run_without_evidence_is_neither_kept_nor_green(self):
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin), invented.events(begin, [
            (13 * 60, "water-heater", "floor 1 was run, but nothing shows whether it drew: "
                                      "not known if met")]))
        root, words = self.draw()
        self.assertIn("by 17:00: not known", words)
        self.assertNotIn(": kept", words)
        dashed = [line for line in root.iter(f"{SVG}line") if line.get("stroke-dasharray")]
        self.write_a_day()
        kept = [line for line in self.draw()[0].iter(f"{SVG}line") if line.get("stroke-dasharray")]
        self.assertNotEqual(dashed[0].get("stroke"), kept[0].get("stroke"))

    def test_texts_from_elsewhere_stay_texts(self):
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin), invented.events(
            begin, [(60, "pool-pump", 'on: <b>&"x"'), (120, "pool-pump", "off: </svg>")]))
        _, words = self.draw()
        self.assertIn('on: <b>&"x"   →   off: </svg>', words)

    def test_what_was_not_recorded_is_marked(self):
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin, minutes=3 * 60), invented.history(begin, first=9 * 60))
        self.assertIn("not recorded", self.draw()[1])

    def test_a_run_is_not_drawn_where_nothing_was_recorded(self):
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin, minutes=3 * 60), invented.history(begin, first=9 * 60),
                   invented.events(begin, [(120, "pool-pump", "on: manually, 5 h left"),
                                           (9 * 60, "pool-pump", "on: manually, 1 h left"),
                                           (10 * 60, "pool-pump", "off: manually, no end time")]))
        _, words = self.draw()
        self.assertIn("02:00–03:00", words)
        self.assertIn("on: manually, 5 h left   →   not recorded further", words)
        self.assertIn("09:00–10:00", words)

    def test_a_run_across_midnight_is_open_at_that_end(self):
        begin = invented.midnight_ms(DATE, ZONE)
        self.write(invented.history(begin), invented.events(
            begin, [(-60, "pool-pump", "on: manually, 3 h left"), (120, "pool-pump", "off: manually"),
                    (23 * 60, "pool-pump", "on: manually, 2 h left")]))
        _, words = self.draw()
        self.assertIn("–02:00", words)
        self.assertIn("23:00–\n", words)

    def test_days_of_23_and_25_hours_are_drawn(self):
        for date, hours, twos in (("2026-04-05", 25, 2), ("2026-10-04", 23, 0)):
            begin = invented.midnight_ms(date, ZONE)
            self.write(invented.history(begin, minutes=hours * 60))
            _, words = self.draw(date)
            self.assertEqual(words.split("\n").count("02:00"), twos)
            self.assertEqual(words.split("\n").count("24:00"), 1)


if __name__ == "__main__":
    main()
