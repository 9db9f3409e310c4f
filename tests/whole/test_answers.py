#!/usr/bin/env python3
"""What a person is told in answer to an order is what then happens.

usage: test_answers.py BUILD-DIR SOURCE-DIR
"""
import json
import socket

from case import Case, long, main

DAY = """
start 2026-01-14 10:00
length {length}
pv 6.6 kWp dark
draws none
water water-heater 20 C
"""


class Answers(Case):
    def setUp(self):
        super().setUp()
        self.said = {}

    def say(self, when, *words):
        def order():
            self.said[when] = self.daemon.order(*words)
        self.at(when, order)

    def play(self, length="30 min", text="", *changes):
        self.open_house(DAY.format(length=length) + text)
        self.fill_settings()
        self.change_settings(*changes)
        self.start()
        return super().play()

    def test_a_meter_on_the_daemons_own_serial_port_is_read_from_the_daemon(self):
        runs = []

        def read_meter():
            runs.append(self.daemon.ask("meter", "read", "grid", "--settings", self.settings,
                                        "--maps", self.built.maps))

        self.at("10:05", read_meter)
        self.at("10:06:30", read_meter)
        self.open_house(DAY.format(length="7 min") + "at 10:06 fault meter silent\n", pty=True)
        self.fill_settings()
        self.start()
        super().play()
        read, dead = runs
        self.assertNotEqual(dead.returncode, 0)
        self.assertRegex(dead.stdout, r"(?m)^  read by sluiced \d+ s ago$")
        self.assertIn("the last read of meter grid failed: ", dead.stderr)
        self.assertEqual((read.returncode, read.stderr), (0, ""), read.stdout)
        self.assertRegex(read.stdout, r"(?m)^  read by sluiced [\d.]+ (s|ms)( .*)? ago$")
        self.assertRegex(read.stdout, r"(?m)^  power +-?[\d.]+ W$")
        self.assertRegex(read.stdout, r"(?m)^  frequency +(49\.9|50)\S* Hz$")

    def ask(self, line):
        with socket.socket(socket.AF_UNIX) as control:
            control.connect(str(self.folder / "control"))
            control.sendall(line.encode() + b"\n")
            return json.loads(control.makefile().readline())

    def test_of_orders_of_one_moment_the_last_word_is_off(self):
        def order():
            for line in ("order water-heater off", "test water-heater on 5 min",
                         "order water-heater off"):
                self.assertTrue(self.ask(line)["ok"], line)

        self.at("10:02", order)
        self.play("10 min", "must water-heater relay off 10:00..10:10\n")

    def test_the_end_of_a_test_is_an_order_like_others_since_it_may_start_the_load(self):
        def order():
            answers = [self.ask(f"order pool-pump off {k + 1} min") for k in range(60)]
            self.assertTrue(all(answer["ok"] for answer in answers))
            answers = [self.ask(f"order water-heater on {k + 1} min") for k in range(60)]
            self.assertFalse(answers[-1]["ok"])
            self.assertFalse(self.ask("test water-heater end")["ok"])
            self.assertTrue(self.ask("test water-heater off 1 min")["ok"])

        self.at("10:02", order)
        self.play("4 min")

    def test_a_run_that_is_inhibited_is_said_to_stay_off_and_why(self):
        self.say("10:10", "inhibit", "water-heater")
        self.say("10:11", "on", "water-heater", "10 min")
        self.say("10:20:30", "inhibit", "all")
        self.say("10:21", "on", "pool-pump", "5 min")
        self.say("10:22", "on", "water-heater", "5 min")
        self.say("10:23", "allow", "water-heater")
        self.play(text="must water-heater relay off; pool-pump relay off\n")
        told = self.said["10:11"]
        self.assertIn("stays off: inhibited", told)
        self.assertIn("sluice allow water-heater", told)
        self.assertNotIn("allow all", told)
        self.assertIn("stays off: inhibited; to lift that of all loads: sluice allow all",
                      self.said["10:21"])
        self.assertIn("allow water-heater; to lift that of all loads: sluice allow all",
                      self.said["10:22"])
        self.assertIn("inhibit lifted; now off: inhibited", self.said["10:23"])

    def test_a_run_in_minimum_off_is_told_when_it_starts_and_what_is_left_of_it(self):
        self.say("10:10", "on", "water-heater", "5 min")
        self.say("10:16", "on", "water-heater", "10 min")
        self.say("10:16:10", "auto", "water-heater")
        self.say("10:16:20", "on", "water-heater", "2 min")
        # off at 10:15, minimum off until 10:20
        self.say("10:16:30", "on", "water-heater", "10 min")
        self.say("10:16:50", "enable", "water-heater")
        self.play(text="must water-heater relay off 10:15:10..10:19:55\n"
                       "must water-heater relay on 10:20:05..10:26:25\n"
                       "must water-heater relay off 10:26:40..10:29:50\n")
        self.assertEqual(self.said["10:10"],
                         "water-heater: on manually for 5 min, until 10:15\n")
        self.assertRegex(self.said["10:16:30"],
                         r"off: minimum off, 4 min left; starts in 4 min, then on manually for \d+ min, until 10:26")
        self.assertRegex(self.said["10:16:50"],
                         r"enabled; now off: minimum off, 4 min left; starts in 4 min\n")
        self.assertIn("stays off: minimum off, 4 min left; this run would be over before that",
                      self.said["10:16:20"])
        self.assertIn("automatic; now off: ", self.said["10:16:10"])

    @long
    def test_strict_hours_that_are_closed_are_said_to_bind_a_run_by_hand(self):
        self.say("10:10", "on", "pool-pump", "1 h")
        self.say("10:11", "on", "pool-pump", "3 h")
        self.play("20 min", "must pool-pump relay off\n",
                  ("    title: Pool pump\n",
                   "    title: Pool pump\n    strict: yes\n    hours: \"12:00-18:00\"\n"))
        self.assertIn("stays off: outside its hours", self.said["10:10"])
        self.assertIn('"strict: yes" binds', self.said["10:10"])
        self.assertIn("starts in 1 h 50 min, then on manually for 1 h 11 min, until 13:11",
                      self.said["10:11"])

    def test_an_output_that_fails_is_said_to_be_able_to_be_on_still(self):
        self.say("10:05", "on", "water-heater", "2 h")
        self.say("10:12", "on", "water-heater", "2 h")
        self.say("10:13", "off", "water-heater")
        self.play("15 min", "at 10:06 fault relay silent\n")
        self.assertIn("stays ordered off, may be on: output failed", self.said["10:12"])
        self.assertIn("it may still be on", self.said["10:13"])

    @long
    def test_a_contact_that_stays_closed_is_told_on_the_screen_with_what_it_draws(self):
        def look():
            self.heater = self.daemon.load()
            self.screen = self.daemon.order("status")
        self.say("10:05", "on", "water-heater", "5 min")
        self.at("10:13", look)
        self.play("15 min", "at 10:07 fault water-heater welded\n")
        self.assertEqual((self.heater["on"], self.heater["draw"], self.heater["output_is"]),
                         (False, "stuck", "unknown"))
        self.assertGreater(self.heater["draw_w"], 3000)
        self.assertIn(" off? Water heater", self.screen)
        self.assertIn("though off", self.screen)
        self.assertIn("possible contact that stays closed", " ".join(self.screen.split()))

    @long
    def test_an_element_that_is_broken_is_not_told_as_satisfied(self):
        def look():
            self.heater = self.daemon.load()
        self.say("10:05", "on", "water-heater", "15 min")
        self.at("10:25", look)
        self.play("30 min", "at 10:01 fault water-heater element-broken\n")
        self.assertFalse(self.heater["satisfied"])
        self.assertNotIn("satisfied,", self.heater["reason"])
        self.assertFalse(self.heater["floors"][0]["met"])

    def test_a_holiday_names_what_goes_on_and_what_will_not_be_hot(self):
        heats = ("    title: Water heater\n", "    title: Water heater\n    heat_up: 5 h\n")
        goes_on = ("    title: Pool pump\n", "    title: Pool pump\n    normal_on_holiday: yes\n")
        self.say("10:02", "on", "water-heater", "2 h")
        self.say("10:05", "holiday", "until", "2026-01-14", "13:05")
        self.say("10:06", "holiday", "until", "2026-01-16", "18:00")
        self.play("10 min", "", heats, goes_on)
        near, far = self.said["10:05"], self.said["10:06"]
        self.assertIn("water-heater will NOT be hot at the return: its heat-up is short of 2 h", near)
        self.assertNotIn("ready", near)
        self.assertIn("water-heater is heated from 2026-01-16 12:30 on", far)
        for told in near, far:
            self.assertIn("pool-pump goes on as usual", told)
            self.assertIn("water-heater runs on manually", told)


if __name__ == "__main__":
    main()
