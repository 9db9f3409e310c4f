#!/usr/bin/env python3
"""handover: pages for the household and the switchboard, from the settings alone.

usage: test_handover.py BUILD-DIR SOURCE-DIR
"""
import hashlib
import html.parser
import re
import xml.etree.ElementTree

from command import SOURCE, Case, main
from fake_control import FakeControl, status

MAPS = SOURCE / "conf/meters"
HOUSE = """site:
  name: Wattle house
  timezone: Australia/Sydney
  phases: 1
  supply_limit: 63 A
buses:
  switchboard: {port: /dev/sluice-meter, baud: 9600, parity: none}
meters:
  grid: {role: grid, bus: switchboard, unit: 1, map: eastron-sdm630}
loads:
  water-heater:
    title: Water heater
    power: 3.6 kW
    phases: L1
    thermostat: yes
    output: {kind: coil, bus: switchboard, unit: 10, address: 0}
    floors:
      - {amount: 3 h, by: "17:00"}
      - {measure: satisfied, amount: 5 h, by: "17:00", every_days: 7}
  pool-pump:
    title: Pool pump
    power: 1.15 kW
    phases: L1
    motor: yes
    output: {kind: coil, bus: switchboard, unit: 10, address: 1}
"""
THREE = """site:
  name: Big house
  timezone: Australia/Sydney
  phases: 3
  billing: net
  voltage: 240 V
  supply_limit: 40 A
  battery: yes
buses:
  board: {port: /dev/ttyS1, baud: 19200, parity: even}
  far: {host: 192.0.2.10}
meters:
  grid: {role: grid, bus: far, unit: 7, map: sunspec, inverted: yes}
  store: {role: battery, bus: board, unit: 4, map: eastron-sdm120}
loads:
  tank:
    kind: staged
    stages: [1.2 kW, 2.4 kW]
    phases: L2
    thermostat: yes
    output: {kind: coil, bus: board, unit: 10, address: [0, 1]}
  big:
    power: 9 kW
    phases: [L1, L2, L3]
    output: {kind: coil, bus: board, unit: 11, address: 3}
  heat-pump:
    kind: request
    power: 2 kW
    phases: L3
    output: {kind: register, bus: board, unit: 30, address: 5}
"""


class Whole(html.parser.HTMLParser):
    """Every element that is opened is closed, in order; where the page would fetch from."""
    empty = {"meta", "br", "rect", "line", "circle"}

    def __init__(self, text):
        super().__init__()
        self.open, self.links, self.tags = [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.links += [value for key, value in attributes if key in ("src", "href")]
        if tag not in self.empty:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in self.empty and (not self.open or self.open.pop() != tag):
            raise AssertionError(f"</{tag}> closes nothing")


class Handover(Case):
    def write(self, text):
        self.settings = self.folder / "sluice.yaml"
        self.settings.write_text(text)

    def run_handover(self, *words):
        return self.sluice("handover", "--settings", self.settings, "--maps", MAPS, "--socket",
                           self.socket, *words)

    def text(self, settings=HOUSE):
        self.write(settings)
        run = self.run_handover("--text")
        self.assert_done(run)
        return run.stdout

    def page(self, settings=HOUSE):
        self.write(settings)
        run = self.run_handover()
        self.assert_done(run)
        return run.stdout

    def assert_says(self, text, *wanted):
        for words in wanted:
            self.assertIn(words, text)

    # ---- the household ----

    def test_each_guarantee_is_a_sentence(self):
        text = self.text()
        self.assert_says(text, "Guaranteed: at least 3 h of heating by 17:00, every day, whatever the "
                               "weather, or less if it is hot before.",
                         "Guaranteed: heated through until its thermostat switches off by 17:00, at "
                         "least once in 7 days, whatever the weather.",
                         "Nothing is guaranteed: it runs when there is power to spare, or when you "
                         "switch it on.")

    def test_hot_water_now_names_the_load_that_heats(self):
        swapped = HOUSE.replace("  water-heater:", "  x:").replace("  pool-pump:", "  water-heater:")
        self.assert_says(self.text(), "sluice on water-heater 2 h", "On a dashboard: none is set up",
                         "A push button: not stated in the settings")
        self.assert_says(self.text(swapped), "sluice on x 2 h")

    def test_the_button_and_the_lamp_of_the_settings_are_told(self):
        board = HOUSE + """inputs:
  boost: {role: button, load: water-heater, for: 90 min, bus: switchboard, unit: 10, address: 3}
lamp: {load: water-heater, output: {bus: switchboard, unit: 10, address: 7}}
"""
        self.assert_says(self.text(board), "The push button “boost”: Water heater runs for 1 h 30 min;"
                         " pressed again, that ends", "The lamp: steady while there is heating")

    def test_the_dashboard_order_is_the_topic_of_the_settings(self):
        broker = HOUSE + "mqtt: {host: localhost, domain: here, device: wattle}\n"
        self.assert_says(self.text(broker), "here/5/wattle/water-heater/order/set")
        self.assert_says(self.text(broker.replace("wattle}", "wattle, accept_orders: no}")),
                         "orders are switched off in the settings")

    def test_whom_to_call_is_stated_or_said_not_to_be(self):
        self.assert_says(self.text(), "Not stated in the settings")
        stated = HOUSE.replace("buses:", "  installer: {name: Example Electrical, phone: 02 5550 0000}"
                               "\nbuses:", 1)
        text = self.text(stated)
        self.assert_says(text, "Name: Example Electrical", "Telephone: 02 5550 0000")
        self.assertNotIn("Not stated in the settings", text)
        self.assertNotIn("Email:", text)

    def test_cautions_are_there_and_give_way_to_local_codes(self):
        self.assert_says(self.text(), "60 °C", "Legionella", "local codes", "tempering valve",
                         "start by themselves", "Off on the screen does not mean safe to touch")

    # ---- the switchboard ----

    def test_amps_are_the_power_by_voltage_and_phases(self):
        self.assert_says(self.text(), "| Water heater | 3.60 kW on L1 | 15.7 A | heating: AC-1 or AC-7a",
                         "| Pool pump | 1.15 kW on L1 | 5.0 A | motor: AC-3 or AC-7b")
        self.assert_says(self.text(THREE), "| tank | 3.60 kW on L2 | 5.0 A + 10.0 A | heating",
                         "| big | 9.00 kW on L1 L2 L3 | 12.5 A | AC-1 or AC-7a if it only heats",
                         "| heat-pump | 2.00 kW on L3 | 8.3 A | none: its supply is never switched")

    def test_what_hangs_on_what_is_as_in_the_settings(self):
        self.assert_says(self.text(THREE), "Bus board: /dev/ttyS1, 19200 baud 8E1; unit 4: meter store "
                                           "(battery), map eastron-sdm120",
                         "Bus far: 192.0.2.10, TCP port 502; unit 7: meter grid (grid), map sunspec, "
                         "inverted", "the grid and a battery; solar is not stated", "Broker: none",
                         "coils 0, 1 of unit 10 on bus board")

    def test_labels_say_what_local_practice_wants_to_read(self):
        text = self.text()
        self.assert_says(text, "More than one supply", "Controlled automatically and remotely. May "
                                                       "start at any time.",
                         "Contactor: load 15.7 A a phase, heating: AC-1 or AC-7a. Fitted:")
        self.assertNotIn("Contactor: load 8.3 A", self.text(THREE))  # a start contact has none

    def test_the_diagram_is_well_formed_and_holds_every_part(self):
        page = self.page(THREE)
        svg = page[page.index("<svg"):page.index("</svg>") + len("</svg>")]
        said = [node.text for node in xml.etree.ElementTree.fromstring(svg).iter() if node.text]
        for words in ("Grid", "3 phases, 240 V", "40 A a phase", "Bus board", "/dev/ttyS1",
                      "Modbus RTU, 19200 8E1", "Modbus TCP, port 502", "Meter store", "Unit 10",
                      "coil 0, read back", "Contactor", "5.0 A a phase", "10.0 A a phase", "tank",
                      "Start contact", "9.00 kW on L1 L2 L3", "read by meter store", "grid, inverted",
                      "not stated"):
            self.assertIn(words, said)

    def test_thirty_loads_are_all_drawn(self):
        loads = "".join(f"  load-{k}:\n    power: 1 kW\n    phases: L1\n    output: {{kind: coil, bus: "
                        f"switchboard, unit: 12, address: {k}}}\n" for k in range(30))
        page = self.page(HOUSE + loads)
        self.assertEqual(page.count(">Contactor<"), 32)
        self.assertFalse(Whole(page).open)

    # ---- the settings ----

    def test_the_settings_stand_there_with_their_sum(self):
        text = self.text()
        self.assert_says(text, hashlib.sha256(self.settings.read_bytes()).hexdigest(),
                         hashlib.sha256((MAPS / "eastron-sdm630.yaml").read_bytes()).hexdigest(),
                         f"```\n{HOUSE}```\n", f"{len(HOUSE)} bytes")
        self.assertRegex(text, r"sluice \d+\.\d+\.\d+. [Pp]rinted 20\d\d-\d\d-\d\d|"
                               r"sluice \d+\.\d+\.\d+; printed 20\d\d-\d\d-\d\d")

    def test_a_fence_in_the_settings_does_not_end_them(self):
        text = self.text(HOUSE + "# ```` not the end\n")
        self.assertIn("\n`````\nsite:", text)
        self.assertTrue(text.endswith("# ```` not the end\n`````\n"))

    # ---- what the daemon sees ----

    def test_without_a_daemon_it_says_what_is_not_known(self):
        self.assert_says(self.text(), "Not known: sluiced did not answer")

    def test_what_the_daemon_has_measured_stands_there(self):
        with FakeControl(self.socket, {"status": status(troubles=["grid: no reply"])}):
            text = self.text()
        self.assert_says(text, "2026-01-14T10:00:00+11:00", "| Water heater | on | 3.59 kW | 0 | on: spare",
                         "| Pool pump | off | not yet measured |", "Meter grid: answered",
                         "Trouble: grid: no reply")

    def test_another_house_that_answers_is_not_taken_for_this_one(self):
        with FakeControl(self.socket, {"status": status(site="Banksia house")}):
            text = self.text()
        self.assert_says(text, "runs another house, \"Banksia house\"")
        self.assertNotIn("3.59 kW", text)

    def test_what_is_no_status_is_not_believed(self):
        for answer in ({"ok": False, "text": "no"}, [], "x"):
            with FakeControl(self.socket, {"status": answer}):
                self.assert_says(self.text(), "Not known")

    # ---- the files ----

    def test_a_page_needs_nothing_else_and_closes_what_it_opens(self):
        page = self.page()
        whole = Whole(page)
        self.assertEqual(whole.open, [])
        self.assertEqual(whole.links, [])
        self.assertNotIn("script", whole.tags)
        self.assertNotIn("url(", page)
        self.assertEqual(page.count('<section class="page">'), 3)
        self.assertIn("@page{size:A4", page)

    def test_names_are_text_and_never_marks(self):
        evil = HOUSE.replace("title: Water heater", 'title: "<script>*x*</script>|`"')
        page = self.page(evil)
        self.assertNotIn("script", Whole(page).tags)
        self.assertIn("&lt;script&gt;*x*", page)
        text = self.text(evil)
        self.assertIn(r"| \<script\>\*x\*\</script\>\|\` |", text)

    def test_a_folder_gets_a_file_for_each(self):
        self.write(HOUSE)
        out = self.folder / "out"
        out.mkdir()
        run = self.run_handover("--out", out)
        self.assert_done(run)
        self.assertEqual(sorted(path.name for path in out.iterdir()),
                         ["household.html", "settings.html", "switchboard.html"])
        self.assertEqual(run.stdout.split(), [f"{out}/{name}.html" for name in
                                              ("household", "switchboard", "settings")])
        for path in out.iterdir():
            self.assertEqual(Whole(path.read_text()).open, [])
        self.assert_done(self.run_handover("--text", "--out", out))
        self.assertTrue((out / "household.md").read_text().startswith("# Wattle house\n"))

    def test_where_it_cannot_be_written_is_named(self):
        self.write(HOUSE)
        for out in (self.folder / "nowhere/page.html", f"{self.folder}/nowhere/"):
            self.assert_complains(self.run_handover("--out", out), 3, "nowhere")
        self.prefix = ("sh", "-c", 'ulimit -f 4 && exec "$@"', "sh")
        run = self.run_handover("--out", self.folder / "page.html")
        self.assertNotEqual(run.returncode, 0)
        self.assertFalse((self.folder / "page.html").exists())

    def test_missing_and_bad_settings_make_no_page(self):
        self.settings = self.folder / "nowhere.yaml"
        self.assert_complains(self.run_handover(), 3, "nowhere.yaml", "settings file is expected")
        self.write(HOUSE.replace("3.6 kW", "3600"))
        run = self.run_handover()
        self.assertEqual((run.returncode, run.stdout), (1, ""))
        self.assertRegex(run.stderr, r"sluice\.yaml:\d+:\d+: ")

    def test_settings_that_are_cut_off_give_whole_pages_or_none(self):
        for tenth in range(1, 10):
            self.write(HOUSE[:len(HOUSE) * tenth // 10])
            run = self.run_handover("--text")
            self.assertIn(run.returncode, (0, 1))
            self.assertEqual("# Settings as they are" in run.stdout, run.returncode == 0)
            self.assertEqual(bool(run.stderr), run.returncode == 1)

    def test_a_word_too_many_is_refused(self):
        self.write(HOUSE)
        self.assert_complains(self.run_handover("x"), 2, "usage: sluice handover")


class Installer(Case):
    def check(self, installer):
        path = self.folder / "sluice.yaml"
        path.write_text(HOUSE.replace("buses:", f"  installer: {installer}\nbuses:", 1))
        return self.sluice("check", path, "--maps", MAPS)

    def test_a_misspelt_key_is_named_with_its_place(self):
        run = self.check("{nmae: x}")
        self.assertEqual(run.returncode, 1)
        self.assertTrue(re.search(r"sluice\.yaml:6:15: .*nmae.*name", run.stderr), run.stderr)

    def test_what_is_no_map_or_too_long_is_refused(self):
        for installer in ("[a, b]", "someone", "{phone: %s}" % ("1" * 40)):
            self.assertEqual(self.check(installer).returncode, 1, installer)


if __name__ == "__main__":
    main()
