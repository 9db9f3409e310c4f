#!/usr/bin/env python3
"""What is sensed at the board: push-buttons, hand-off-auto switches, contactors and supplies of
a house that is played behind real Modbus.

usage: test_inputs.py BUILD-DIR SOURCE-DIR
"""
from case import Case, long, main

HOUSE = """
start 2026-01-14 10:20
step 1 s
length 1 h 20 min
water water-heater 20 C
draws none
pv 6.6 kWp dark seed 2
input 0 button boost
input 1 hand water-heater
input 2 auto water-heater
input 3 voltage water-heater
input 4 button supply
input 5 button pipes
"""
INPUTS = """
inputs:
  boost: {role: button, load: water-heater, for: 30 min, bus: board, unit: 10, address: 0}
"""
SWITCH = """
  at-hand: {role: in_hand, load: water-heater, bus: board, unit: 10, address: 1}
  at-auto: {role: in_auto, load: water-heater, bus: board, unit: 10, address: 2}
"""
BEHIND = "  behind: {role: contact, load: water-heater, bus: board, unit: 10, address: 3}\n"
SUPPLY = "  off-peak: {role: supply, load: water-heater, bus: board, unit: 10, address: 4}\n"
PIPES = "  pipes: {role: inhibit, load: water-heater, bus: board, unit: 10, address: 5}\n"


class Inputs(Case):
    def play_day(self, text, inputs=""):
        self.open_house(HOUSE + text)
        self.fill_settings()
        self.settings.write_text(self.settings.read_text() + INPUTS + inputs)
        self.start()
        self.play()

    def said(self, words):
        return [line for line in self.daemon.said.lines if words in line]

    def input(self, name):
        return next(one for one in self.daemon.status()["inputs"] if one["name"] == name)

    def reason(self):
        return self.daemon.load()["reason_name"]

    def test_a_press_is_hot_water_for_its_time_and_another_one_ends_it(self):
        def look():
            self.assertEqual(self.reason(), "on-manual")
            self.assertEqual(self.input("boost")["state"], "open")

        self.at("10:40", look)
        self.play_day("""
at 10:30 hold boost for 3 s
at 11:10 hold boost for 3 s
at 11:20 hold boost for 3 s
must water-heater relay off 10:20..10:30; water-heater relay on 10:30:10..10:59:55
must water-heater relay off 11:00:10..11:09:55; water-heater relay on 11:10:10..11:19:55
must water-heater relay off 11:20:10..11:40
""")
        self.assertEqual(len(self.said("boost: pressed")), 3)
        self.assertEqual(len(self.said("ordered at the board: on 30 min")), 2)

    @long
    def test_a_button_held_since_the_start_is_no_press_and_one_that_is_stuck_is_one(self):
        def stuck():
            held = self.said("push-button boost has been held")
            self.assertEqual(len([line for line in held if "solved" in line]), 1)
            self.assertEqual(len(held), 3)

        self.at("10:43", stuck)
        self.play_day("""
at 10:20 hold boost for 5 min
at 10:40 hold boost for 10 min
must water-heater relay off 10:20..10:40; water-heater relay on 10:40:10..11:09:55
must water-heater relay off 11:10:10..11:40
""")
        self.assertEqual(len(self.said("boost: pressed")), 1)
        self.assertEqual(len(self.said("solved: push-button boost has been held")), 2)

    @long
    def test_a_switch_in_hand_or_off_is_told_as_such_and_not_as_a_fault(self):
        def on():
            self.assertEqual(self.reason(), "on-manual")

        def in_hand():
            self.assertEqual(self.reason(), "off-in-hand")
            self.assertIn("may be on: in hand at the board", self.daemon.load()["reason"])

        def off():
            self.assertEqual(self.reason(), "off-at-board")
            self.assertFalse(self.daemon.load()["on"])

        self.at("10:29", lambda: self.daemon.order("on", "water-heater", "60min"))
        self.at("10:35", on)
        self.at("10:45", in_hand)
        self.at("10:55", off)
        self.play_day("""
at 10:40 turn water-heater hand
at 10:50 turn water-heater off
at 11:00 turn water-heater auto
must water-heater relay off 10:40:05..10:59:59; water-heater relay on 11:05:10..11:20
""", SWITCH)
        self.assertEqual(self.said("stays closed"), [])
        self.assertEqual(self.said("draws nothing"), [])
        self.assertEqual(self.said("satisfied"), [])

    def test_what_is_behind_the_contactor_is_seen_and_a_silent_board_makes_it_unknown(self):
        seen = []
        self.at("10:29", lambda: seen.append(self.input("behind")["state"]))
        self.at("10:30", lambda: self.daemon.order("on", "water-heater", "20min"))
        self.at("10:35", lambda: seen.append(self.input("behind")["state"]))
        self.at("10:58", lambda: seen.append(self.input("behind")["state"]))
        self.at("11:00:09", lambda: seen.append(self.input("behind")["state"]))
        self.at("11:04", lambda: seen.append(self.input("behind")["state"]))
        self.at("11:04", lambda: self.assertEqual(
            len(self.said("input behind cannot be read, what it shows is not known")), 1))
        self.at("11:20", lambda: seen.append(self.input("behind")["state"]))
        self.play_day("""
at 11:00 fault relay silent for 5 min
at 11:04:50 hold boost for 20 s
must water-heater relay off 10:50:10..11:40
""", BEHIND)
        self.assertEqual(seen, ["open", "closed", "open", "open", "unknown", "open"])
        self.assertEqual(self.said("boost: pressed"), [])

    @long
    def test_a_supply_that_is_off_keeps_the_load_off_without_a_fault(self):
        def no_supply():
            self.assertEqual(self.reason(), "off-no-supply")

        self.at("10:35", lambda: self.daemon.order("on", "water-heater", "60min"))
        self.at("10:50", no_supply)
        self.play_day("""
at 10:20 hold supply for 25 min
at 10:55 hold supply for 45 min
must water-heater relay on 10:35:10..10:44:59; water-heater relay off 10:45:05..10:54:59
must water-heater relay on 10:55:10..11:30
""", SUPPLY)
        self.assertEqual(self.said("draws nothing"), [])

    def test_an_inhibit_stays_while_its_board_is_silent_and_ends_when_it_opens(self):
        self.at("10:45", lambda: self.assertEqual(self.reason(), "off-inhibit"))
        self.at("10:30", lambda: self.daemon.order("on", "water-heater", "60min"))
        self.at("10:57", lambda: self.assertEqual(
            len(self.said("input pipes cannot be read, and what it inhibits stays so")), 1))
        self.play_day("""
at 10:40 hold pipes until 11:10
at 10:50 fault relay silent for 10 min
must water-heater relay on 10:30:10..10:40; water-heater relay off 10:40:05..11:10
must water-heater relay on 11:10:10..11:25
""", PIPES)

    def test_an_inhibit_that_was_never_read_keeps_the_load_off_and_says_so(self):
        def look():
            self.assertEqual(self.reason(), "off-inhibit")
            self.assertEqual(len(self.said(
                "input absent cannot be read, not once since the start: it counts as closed")), 1)

        self.at("10:30", lambda: self.daemon.order("on", "water-heater", "60min"))
        self.at("10:45", look)
        self.play_day("must water-heater relay off 10:20..11:40\n",
                      "  absent: {role: inhibit, load: water-heater, bus: board, unit: 11, "
                      "address: 0}\n")

    @long
    def test_a_run_goes_on_over_a_restart_when_its_inhibit_is_read_as_open(self):
        def restart():
            self.daemon.kill()
            self.start()

        self.at("10:30", lambda: self.daemon.order("on", "water-heater", "60min"))
        self.at("10:50", restart)
        self.play_day("must water-heater relay on 10:30:10..11:20; water-heater cycles <= 1\n", PIPES)

    @long
    def test_an_inhibit_outlives_a_restart_and_a_reload_that_reads_it_less_often(self):
        def restart():
            self.daemon.kill()
            self.start()

        def reload():
            self.change_settings(("unit: 10, address: 5}", "unit: 10, address: 5, every: 2 s}"))
            self.daemon.order("reload", "--yes")

        self.at("10:50:30", lambda: self.assertEqual(self.reason(), "off-inhibit"))
        self.at("10:51", reload)
        self.at("10:51:30", lambda: self.assertEqual(
            len(self.said("input pipes cannot be read, and what it inhibits stays so")), 1))
        self.at("10:51:40", lambda: self.assertEqual(self.input("pipes")["state"], "unknown"))
        self.at("10:52", restart)
        self.at("10:53", lambda: self.assertEqual(self.reason(), "off-inhibit"))
        self.play_day("""
at 10:40 hold pipes until 11:10
at 10:50 fault relay silent for 10 min
""", PIPES)

    @long
    def test_a_lamp_is_steady_while_there_is_heating_and_blinks_while_something_is_wrong(self):
        self.at("10:30", lambda: self.daemon.order("on", "water-heater", "20min"))
        self.play_day("""
lamp hall coil 8
at 11:10 fault inverter silent for 10 min
must hall relay off 10:20..10:30; hall relay on 10:31..10:49:50
must hall relay off 10:51..11:10; hall cycles >= 90; hall relay off 11:25..11:40
must hall longest-run <= 22 min
""", "lamp: {load: water-heater, output: {bus: board, unit: 10, address: 8}}\n")

    @long
    def test_a_reload_keeps_what_was_read_and_what_is_gone_is_no_longer_watched(self):
        def more():
            self.settings.write_text(self.settings.read_text() + BEHIND)
            self.daemon.order("reload")
            self.assertEqual(self.input("boost")["state"], "open")
            self.assertEqual(self.input("behind")["state"], "unknown")

        def fewer():
            self.assertEqual(self.input("behind")["state"], "open")
            self.settings.write_text(self.settings.read_text().replace(BEHIND, ""))
            self.daemon.order("reload", "--yes")
            self.assertEqual(len(self.daemon.status()["inputs"]), 1)

        self.at("10:30", more)
        self.at("10:40", fewer)
        self.play_day("""
at 10:50 hold boost for 3 s
must water-heater relay off 10:20..10:50; water-heater relay on 10:50:10..11:19
""")


if __name__ == "__main__":
    main()
