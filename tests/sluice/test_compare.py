#!/usr/bin/env python3
"""compare: every way of heating water on the same days, priced, and which to buy.

usage: test_compare.py BUILD-DIR SOURCE-DIR
"""
import html.parser
import re

from command import SOURCE, Case, all_cases, main

EXTRACT = SOURCE / "tests/trial/extracts/home01-three-weeks.csv"

DAYS = 4

SETTINGS = """
site: {installer: {name: Example Solar, licence: EC 1}, name: Compared & house, timezone: PST8, phases: 1, voltage: 230 V, supply_limit: 100 A}
tariff:
  import: [{price: 0.30 /kWh}]
  feed_in: FEED_IN /kWh
  CONTROLLED
buses: {board: {host: 127.0.0.1, tcp_port: 5020}}
meters: {grid: {role: grid, bus: board, unit: 1, map: sunspec, every: 1 s}}
loads:
  pool-pump: {power: 1 kW, output: {kind: coil, bus: board, unit: 10, address: 1}}
  water-heater:
    title: Water heater
    power: 3.6 kW
    thermostat: THERMOSTAT
    start_fraction: 70 %
    output: {kind: coil, bus: board, unit: 10, address: 0}
    floors: [{measure: time, amount: 4 h, by: "17:00"}]
quote: {array: 6.6 kW, QUOTE}
"""
WAYS = ("always on", "clock timer", "diverter", "sluice as set", "sluice, stages",
        "sluice, regulator", "foreseen, on/off", "foreseen, any W")


class Page(html.parser.HTMLParser):
    """Open elements, what stands in the page, and whatever it would load."""
    VOID = {"meta", "br"}

    def __init__(self):
        super().__init__()
        self.open, self.words, self.loads, self.pictures = [], [], [], 0

    def handle_starttag(self, tag, attributes):
        self.loads += [tag for name, _ in attributes if name in ("src", "href", "data")]
        self.loads += [tag for _ in range(tag in ("script", "link", "iframe"))]
        self.pictures += tag == "svg"
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        pass

    def handle_endtag(self, tag):
        assert self.open and self.open[-1] == tag, (tag, self.open)
        self.open.pop()

    def handle_data(self, data):
        self.words.append(data)


class Compare(Case):
    def settings(self, feed_in="0.05", controlled="", quote="years: 10", thermostat="yes"):
        path = self.folder / "sluice.yaml"
        text = SETTINGS.replace("FEED_IN", feed_in).replace("CONTROLLED", controlled)
        path.write_text(text.replace("QUOTE", quote).replace("THERMOSTAT", thermostat))
        return path

    def days(self):
        path = self.folder / "few-days.csv"
        path.write_text("".join(EXTRACT.read_text().splitlines(keepends=True)[:1 + 24 * DAYS]))
        return path

    def compare(self, *options, **made):
        run = self.sluice("compare", self.settings(**made), self.days(), "--seeds", "1", *options)
        self.assertEqual(run.returncode, 0, run)
        # piped, it tells of each part of the work as it is done
        self.assertRegex(run.stderr, r"^([a-z' ]+: \d+ of \d+ runs\n){3,}\d+ runs in \d+\.\d s\n$")
        return run.stdout

    def figures(self, text, way, table="saves"):
        """The figures of a way, by their heads, in the table that has this one."""
        lines = text.splitlines()
        head = next(k for k, line in enumerate(lines) if re.match(rf" +.*\b{table}\b", line))
        line = next(line for line in lines[head:] if line.startswith(way))
        heads = lines[head].split()
        words = [word for word in line[36:].split() if word not in ("best", "near")]
        return dict(zip(heads, (None if word == "-" else word for word in words[-len(heads):])))

    def test_every_way_has_its_line_and_lines_fit_a_screen(self):
        text = self.compare()
        self.assert_fits(text)
        for way in WAYS:
            self.assertRegex(text, rf"(?m)^{way} ")
        self.assertNotRegex(text, r"(?m)^off-peak supply ")
        self.assertIn("water-heater alone is compared; 1 other load is in the settings, left out here",
                      " ".join(text.split()))

    @all_cases
    def test_savings_are_differences_of_bills(self):
        text = self.compare()
        always = float(self.figures(text, "always on", "bill")["bill"])
        for way in ("clock timer", "diverter", "sluice as set", "sluice, stages"):
            bill = float(self.figures(text, way, "bill")["bill"])
            self.assertAlmostEqual(always - bill, float(self.figures(text, way)["saves"]),
                                   delta=1.01)

    def test_what_is_left_is_savings_less_cold_water_and_the_price_of_the_items(self):
        text = self.compare()
        for way in ("clock timer", "diverter", "sluice as set", "sluice, regulator"):
            figures = {key: float(value) for key, value in self.figures(text, way).items() if value}
            self.assertAlmostEqual((figures["saves"] - figures["cold"]) * 10 - figures["price"],
                                   figures["net"], delta=11)
            items = re.search(rf"(?m)^- {way}[^:]*: \$([\d,]+) = ((.|\n  )*)", text)
            told = sum(int(number) for number in re.findall(r" (\d+)(?= \+|$|\n)",
                                                            items[2].replace("\n ", "") + "\n"))
            self.assertEqual(int(items[1].replace(",", "")), told)
            self.assertEqual(told, figures["price"])

    @all_cases
    def test_less_than_a_year_is_said(self):
        self.assertIn("not a year", " ".join(self.compare().split()))

    def test_one_sample_has_no_spread_and_says_so(self):
        self.assertIn("one sample", " ".join(self.compare().split()))

    @all_cases
    def test_several_seeds_tell_in_how_many_it_came_first(self):
        run = self.sluice("compare", self.settings(), self.days(), "--seeds", "2")
        self.assertEqual(run.returncode, 0)
        self.assertRegex(run.stdout, r"first in [0-2] of 2 samples")
        self.assertIn("what minute-by-minute detail changes in the first of 2 samples, with",
                      " ".join(run.stdout.split()))

    @all_cases
    def test_a_cheap_off_peak_supply_is_what_it_says_to_buy(self):
        text = self.compare(feed_in="0.25", controlled='controlled: {hours: "22:00-06:00", '
                            "import: [{price: 0.02 /kWh}]}")
        self.assertIn("Buy the off-peak supply", text)

    @all_cases
    def test_where_feed_in_is_worth_as_much_as_import_nothing_is_to_be_bought(self):
        text = self.compare(feed_in="0.30", quote="timer_cost: 900, element_cost: 900, years: 10")
        self.assertIn("Buy no switch, only the thermostat turned down to 60 °C.", text)

    def test_what_it_costs_to_buy_decides(self):
        costs = "timer_cost: 9000, element_cost: 9000, diverter_cost: {}, board_cost: {}, years: 10"
        self.assertIn("Buy the diverter", self.compare(quote=costs.format(10, 9000)))
        self.assertIn("Buy sluice", self.compare(quote=costs.format(9000, 10)))

    def test_a_timer_with_a_smaller_element_is_bought_where_that_leaves_most(self):
        text = self.compare(quote="timer_cost: 10, element_cost: 10, diverter_cost: 90000, "
                            "board_cost: 90000, years: 10")
        self.assertRegex(text, r"Buy (the clock timer|no switch, but an? element).*kW")

    def test_there_is_one_verdict(self):
        text = self.compare("--tune")
        self.assertEqual(len(re.findall(r"(?m)^Buy ", text)), 1)
        self.assertNotIn("ruled out", text)

    @all_cases
    def test_hours_of_the_quote_are_taken(self):
        text = " ".join(self.compare(quote='timer_hours: "01:00-03:00"').split())
        self.assertRegex(text, r"the timer runs 01:00-03:00(?!, the best)")

    @all_cases
    def test_it_says_whether_other_homes_would_want_the_same(self):
        text = " ".join(self.compare().split())
        self.assertRegex(text, "The advice stays the same with|it would be ")
        self.assertIn("a quarter more hot water", text)

    def test_tuning_prints_lines_that_the_settings_take(self):
        text = self.compare("--tune")
        self.assertRegex(text, r"Tuned by \d+ runs")
        tuned, plain = (self.figures(text, way) for way in ("sluice, tuned", "sluice as set"))
        self.assertGreaterEqual(float(tuned["net"]), float(plain["net"]))
        text = text[text.index("Tuned by"):text.index("Heat and comfort")]
        start = re.search(r"start_fraction: (\d.*%)", text)
        lines = self.settings().read_text()
        if start:
            lines = lines.replace("start_fraction: 70 %", start[0])
        floors = re.search(r"(?m)^    floors:\n(      - .*\n)+", text)
        if floors:
            lines = re.sub(r"    floors: .*\n", floors[0], lines)
        self.assertTrue(start or floors or "nothing to change" in text or "stop_margin" in text)
        path = self.folder / "tuned.yaml"
        path.write_text(lines)
        self.assert_done(self.sluice("check", path))

    @all_cases
    def test_how_sure_it_is_has_one_answer(self):
        text = " ".join(self.compare().split())
        self.assertEqual(text.count("How sure: "), 1)
        self.assertIn("How sure: not, for a year; these are 4 days.", text)
        self.assertNotIn("too close to call", text)

    def test_doubts_about_the_days_stand_on_screen_and_page(self):
        days, path = self.folder / "days.csv", self.folder / "page.html"
        lines = self.days().read_text().splitlines(keepends=True)
        days.write_text("".join(lines[:49] + lines[51:]))
        run = self.sluice("compare", self.settings(), days, "--seeds", "1", "--times", "utc",
                          "--gaps", "hold", "--html", path)
        self.assertEqual(run.returncode, 0, run)
        page = Page()
        page.feed(path.read_text())
        granted = run.stdout[run.stdout.index("Assumptions:"):]
        for text in granted, " ".join(page.words):
            text = " ".join(text.split())
            self.assertIn("days.csv:50: 2 h missing from here: the row before goes on", text)
            self.assertRegex(text, r"days\.csv: the middle of the sun is at \d\d:\d\d by")
            self.assertNotIn(str(self.folder), text.replace(f"page: {path}", ""))
        self.assertEqual(run.stderr.count(f"{days}:50: note: 2 h missing"), 1)

    def test_what_counts_as_hot_is_told(self):
        text = " ".join(self.compare().split())
        self.assertIn('"cold" is what hot water counts that is missing or too cool', text)

    @all_cases
    def test_it_says_what_minutes_change(self):
        text = " ".join(self.compare().split())
        told = re.search(r"what minute-by-minute detail changes, with the steps as they are in brackets: (\d+) kWh a year are to spare "
                         r"\((\d+)\), .*sluice as set saves -?\$[\d,]+ \(-?\$[\d,]+\)", text)
        self.assertIsNotNone(told, text)
        self.assertGreater(int(told[1]), int(told[2]))

    def test_the_page_stands_by_itself(self):
        path = self.folder / "page.html"
        self.assertIn(f"page: {path}", self.compare("--html", path))
        text = path.read_text()
        page = Page()
        page.feed(text)
        self.assertEqual((page.open, page.loads, page.pictures), ([], [], 4))
        words = " ".join(page.words)
        for wanted in ("Compared & house", "Buy ", "Legionella", "tempering valve", "licensed",
                       "Off is not isolation", "An estimate, not a promise", "not a year",
                       "Installer: Example Solar, licence EC 1.", "prices hold until", "Tariff: ",
                       "exported energy earns 0.05 a kWh", "board and adapter 150", "paid back"):
            self.assertIn(wanted, words)
        for unwanted in ("ideal", "no one lives", "in the shares", "foreseen"):
            self.assertNotIn(unwanted, words)
        self.assertNotIn("http", text.replace("http://www.w3.org/2000/svg", ""))
        self.assertNotIn(str(EXTRACT.parent), text)
        self.assertNotRegex(text, r"\bnan\b|\binf\b")

    def test_a_page_that_cannot_be_written_is_said_before_the_work(self):
        for path in ("/nowhere/page.html", self.folder):
            run = self.sluice("compare", self.settings(), EXTRACT, "--html", path)
            self.assert_complains(run, 3, f'"{path}" cannot be written')
            self.assertNotIn("runs", run.stderr)

    def test_what_is_wrong_is_named(self):
        settings = self.settings()
        self.assert_complains(self.sluice("compare", settings), 2, "usage: sluice compare")
        self.assert_complains(self.sluice("compare", settings, EXTRACT, "--seeds", "0"), 2, '"0"',
                              "1 to 16")
        self.assert_complains(self.sluice("compare", settings, EXTRACT, "--load", "boiler"), 1,
                              '"boiler"', "no such load")
        self.assert_complains(self.sluice("compare", settings, "/nowhere/days.csv"), 3,
                              '"/nowhere/days.csv"')
        self.assert_complains(self.sluice("compare", self.settings(thermostat="no"), EXTRACT), 1,
                              "a water heater is expected")

    def test_wrong_quotes_are_named_with_their_place(self):
        run = self.sluice("compare", self.settings(quote="timer_cots: 5"), EXTRACT)
        self.assertEqual(run.returncode, 1)
        self.assertRegex(run.stderr, r"sluice\.yaml:\d+:\d+: .*timer_cots.*timer_cost")


if __name__ == "__main__":
    main()
