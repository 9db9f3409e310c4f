#!/usr/bin/env python3
"""`sluice test`: a load is switched, the meter is looked at, and the load is left as it was.

usage: test_trials.py BUILD-DIR SOURCE-DIR [--long]
"""
import json
import signal
import socket

from case import long, main
from trial_case import TrialCase


class Trials(TrialCase):
    # ---- what it finds ----

    def test_a_test_whose_command_was_cut_off_is_waited_for(self):
        def cut_off():
            with socket.socket(socket.AF_UNIX) as client:
                client.connect(str(self.folder / "control"))
                client.sendall(b"test water-heater on 20 s\n")
                self.assertTrue(json.loads(client.recv(4096))["ok"])

        self.trial("", "test", "water-heater", before=cut_off)
        self.assertEqual(self.status, 0, self.said)
        self.look_for("a test of it is under way: waiting for its end", "on L1: as expected")

    def test_a_sound_heater_draws_as_expected_and_is_off_again(self):
        self.trial("must water-heater relay off 10:21:30..10:23:59; water-heater cycles = 1",
                   "test", "water-heater")
        self.assertEqual(self.status, 0, self.said)
        self.look_for("on: the meter rose by 3.", "off: the meter fell by 3.",
                      "on L1: as expected", "element: 1", "by its nameplate 14.", " A",
                      "left as it was ordered; now off: ")

    @long
    def test_it_reads_well_on_forty_columns(self):
        self.trial("", "test", "water-heater", terminal=40)
        self.assertEqual(self.status, 0, self.said)
        self.look_for("on L1: as expected")
        self.assertTrue(all(len(line) <= 40 for line in self.said.split("\n")), self.said)
        self.assertNotIn("\033", self.said)

    def test_a_broken_element_is_possible_and_what_to_measure_first_is_said(self):
        self.trial("at 10:20:05 fault water-heater element-broken", "test", "water-heater")
        self.assertEqual(self.status, 1, self.said)
        self.look_for("possible: no power reaches the element, or it is open",
                      "voltage at the contactor's coil", "Isolate before opening",
                      "an open thermostat looks the same")
        self.assertTrue(self.daemon.said.find("possible: no power reaches the element, it is open, "
                                              "or its water is hot already: a test switched it twice"))

    @long
    def test_a_contactor_that_welds_is_possible_once_it_was_ordered_off_twice(self):
        self.trial("at 10:20:22 fault water-heater welded", "test", "water-heater")
        self.assertEqual(self.status, 1, self.said)
        self.look_for("on: the meter rose by 3.", "once more",
                      "possible: contact welded or bypassed", "Isolate before opening")

    @long
    def test_a_noisy_house_is_looked_at_up_to_three_times(self):
        self.trial("use oven 10:20:20-10:21 2 kW", "test", "water-heater",
                   "--json")
        self.assertEqual(self.status, 0, self.said)
        result, = json.loads(self.said)
        self.assertEqual(result["outcome"], "as-expected")
        self.assertAlmostEqual(result["power_w"], 3300, delta=60)
        steps = [abs(look["step_w"]) for look in result["looks"]]
        self.assertGreater(len(steps), 2, "one cycle was enough: the house is not noisy")
        self.assertGreater(max(steps) - min(steps), 1000)

    @long
    def test_a_meter_wired_the_wrong_way_round_is_told(self):
        self.trial("meter inverted", "test", "water-heater")
        self.assertEqual(self.status, 1, self.said)
        self.look_for("possible: the meter's sign is reversed: switched on, and import fell by 3.",
                      "the setting that inverts its sign")

    # ---- how it leaves the load ----

    @long
    def test_a_load_that_runs_on_spare_power_runs_on_after_it(self):
        def spare():
            self.assertEqual(self.daemon.load()["basis"], "spare")

        self.trial("pv 6.6 kWp clear seed 7 at -33.9 151.2 tilt 22 facing 10\n"
                   "must water-heater relay on 10:42..10:45; water-heater cycles = 2",
                   "test", "water-heater", begin=(10 * 60 + 40) * 60, before=spare,
                   length="25 min")
        self.assertEqual(self.status, 0, self.said)
        self.look_for("off: the meter fell", "on: the meter rose", "now on: spare")

    @long
    def test_a_load_that_is_off_by_hand_is_off_by_hand_after_it(self):
        def after():
            load = self.daemon.load()
            self.assertEqual((load["hand"], load["reason_name"], load["test"]),
                             ("off", "off-manual", "none"))

        self.trial("must water-heater relay off 10:21:30..10:23:59", "test", "water-heater",
                   before=lambda: self.daemon.order("off", "water-heater"), acts={70: after})
        self.assertEqual(self.status, 0, self.said)
        self.look_for("left as it was ordered; now off: manually, no end time")

    def interrupt(self, act, **choices):
        def stop():
            self.assertTrue(self.relay(), "it is in the middle of its test")
            act()

        def after():
            load = self.daemon.load()
            self.assertEqual((load["hand"], load["test"]), ("auto", "none"))

        return self.trial("at 10:20:05 fault water-heater element-broken\n"
                          "must water-heater relay off 10:20:40..10:23:59",
                          "test", "water-heater", acts={6: stop, 70: after}, **choices)

    def test_ctrl_c_switches_it_off_and_leaves_it_as_it_was(self):
        self.interrupt(lambda: self.client.send_signal(signal.SIGINT))
        self.assertEqual(self.status, 1, self.said)
        self.look_for("water-heater: interrupted")

    @long
    def test_a_connection_that_drops_does_the_same(self):
        self.interrupt(self.drop_terminal, terminal=80)
        self.assertNotEqual(self.status, -signal.SIGHUP, "it was ended before it could tidy up")

    @long
    def test_a_test_whose_command_was_killed_ends_by_itself(self):
        def kill():
            self.assertTrue(self.relay())
            self.client.kill()

        self.trial("at 10:20:05 fault water-heater element-broken\n"
                   "must water-heater relay on 10:20:30..10:25:00\n"
                   "must water-heater relay off 10:25:40..10:27:59",
                   "test", "water-heater", acts={6: kill}, length="8 min")
        self.assertEqual(self.status, -signal.SIGKILL)

    @long
    def test_a_daemon_that_dies_in_the_middle_is_told_and_nothing_is_claimed(self):
        self.trial("at 10:20:05 fault water-heater element-broken", "test", "water-heater",
                   acts={6: lambda: self.daemon.kill()}, ends_well=False)
        self.assertEqual(self.status, 3, self.said)
        self.look_for("Its output may be on or off", "what was ordered before holds")

    # ---- what it may not do ----

    def refused_under_inhibit(self, of, words):
        self.trial("must water-heater relay off", "test", "water-heater", length="2 min",
                   before=lambda: self.daemon.order("inhibit", of))
        self.assertEqual(self.status, 1, self.said)
        self.look_for(words)

    @long
    def test_an_inhibit_of_the_load_is_not_passed(self):
        self.refused_under_inhibit("water-heater", "it is inhibited")

    @long
    def test_an_inhibit_of_all_is_not_passed(self):
        self.refused_under_inhibit("all", "all loads are inhibited")

    @long
    def test_an_inhibit_in_the_middle_ends_it(self):
        self.trial("at 10:20:05 fault water-heater element-broken\n"
                   "must water-heater relay off 10:20:40..10:23:59", "test", "water-heater",
                   acts={6: lambda: self.daemon.order("inhibit", "water-heater")})
        self.assertEqual(self.status, 1, self.said)
        self.look_for("it may not run now; off: inhibited")

    @long
    def test_nothing_is_switched_without_a_fresh_reading(self):
        self.trial("at 10:20:05 fault meter silent until 10:24\nmust water-heater relay off",
                   "test", "water-heater", begin=(10 * 60 + 20) * 60 + 40)
        self.assertEqual(self.status, 1, self.said)
        self.look_for("the reading of the grid meter is", "Nothing was switched")

    MOTOR = ("    power: 1.1 kW\n", "    power: 1.1 kW\n    motor: yes\n")
    SHORT_REST = ("    minimum_off: 5 min\n    output: {kind: coil, bus: board, unit: 10, "
                  "address: 1,", "    minimum_off: 40 s\n    output: {kind: coil, bus: board, "
                  "unit: 10, address: 1,")

    def test_the_minimum_off_of_a_motor_is_waited_for_and_told(self):
        self.trial("must pool-pump relay off 10:20..10:20:39; pool-pump relay on 10:20:50..10:23",
                   "test", "pool-pump", settings=(self.MOTOR, self.SHORT_REST))
        self.assertEqual(self.status, 0, self.said)
        self.look_for("waiting ", "minimum off of a motor", "draws 1.", "as expected",
                      "now on: minimum on")

    @long
    def test_it_does_not_wait_where_it_is_told_not_to(self):
        self.trial("must pool-pump relay off", "test", "pool-pump", "--no-wait", length="2 min",
                   settings=(self.MOTOR, self.SHORT_REST))
        self.assertEqual(self.status, 1, self.said)
        self.look_for("minimum off of a motor", "not waited for")

    @long
    def test_all_are_tested_in_turn_but_for_one_that_is_off_by_hand(self):
        self.trial("must pool-pump relay off; water-heater cycles = 1", "test", "--all", "--json",
                   before=lambda: self.daemon.order("off", "pool-pump"))
        results = {result["load"]: result["outcome"] for result in json.loads(self.said)}
        self.assertEqual(results, {"water-heater": "as-expected", "pool-pump": "refused"})
        self.assertEqual(self.status, 1)


if __name__ == "__main__":
    main()
