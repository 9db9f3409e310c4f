#!/usr/bin/env python3
"""Temperature sensors in tanks that are no meters: files as the kernel shows them, and a topic on
a real broker.

usage: test_sensors.py BUILD-DIR SOURCE-DIR
"""
import re

from broker import Broker
from case import Case, main

DAY = """
start 2026-01-14 00:20
length 20 min
draws none
"""
TOPIC = "cellar/tank/temperature"


class Sensors(Case):
    def sensor(self):
        return self.daemon.status()["sensors"][0]

    def load_mc(self):
        return self.daemon.load()["tank_temperature_mc"]

    def faults(self):
        return [line for line in self.daemon.status()["troubles"] if "sensor tank" in line]

    def open_with(self, *lines):
        self.open_house(DAY)
        self.fill_settings()
        self.settings.write_text("\n".join([self.settings.read_text(), *lines, ""]))

    def play_with(self, *lines):
        self.open_with(*lines)
        self.start()
        self.play()

    def test_a_file_is_the_loads_temperature_until_it_is_gone_and_once_it_is_back(self):
        file = self.folder / "temperature"
        file.write_text("54312\n")

        def pull_out():
            self.assertEqual(self.load_mc(), 54312)
            self.assertEqual(self.sensor()["quality"], "fresh")
            self.assertEqual(self.faults(), [])
            file.unlink()

        def plug_in():
            self.assertIsNone(self.load_mc())
            self.assertRegex(self.faults()[0], f"cannot be read: {re.escape(str(file))}: No such")
            file.write_text("53000\n")

        def is_back():
            self.assertEqual(self.load_mc(), 53000)
            self.assertEqual(self.faults(), [])
            file.write_text("85000\n")

        def cannot_be():
            self.assertIsNone(self.load_mc())
            self.assertRegex(self.faults()[0], "sensor tank says 85 °C, its value before it has")

        for when, act in (("00:25", pull_out), ("00:30", plug_in), ("00:35", is_back),
                          ("00:39", cannot_be)):
            self.at(when, act)
        self.play_with("sensors:", self.line(file))

    def test_a_reload_takes_another_file_and_goes_on_with_the_same_one(self):
        one, other = self.folder / "one", self.folder / "other"
        one.write_text("54312\n")
        other.write_text("61000\n")

        def same():
            self.change_settings(("margin: 50 W", "margin: 70 W"))
            one.unlink()  # what it said goes on over the reload, until it is too old
            self.daemon.order("reload")
            self.assertEqual(self.load_mc(), 54312)

        def another():
            self.change_settings((str(one), str(other)))
            self.daemon.order("reload")

        def gone():
            self.assertEqual(self.load_mc(), 61000)
            self.change_settings(("sensors:", ""), (self.line(other), ""))
            self.daemon.order("reload", "--yes")

        def none():
            self.assertIsNone(self.load_mc())
            self.assertEqual(self.daemon.status()["sensors"], [])

        for when, act in (("00:25", same), ("00:30", another), ("00:35", gone), ("00:36", none)):
            self.at(when, act)
        self.play_with("sensors:", self.line(one))

    def line(self, file):
        return f"  tank: {{load: water-heater, file: {file}}}"

    def test_a_topic_counts_by_its_age_and_a_retained_one_does_not(self):
        broker = Broker(self.folder)
        self.addCleanup(broker.close)
        broker.publish(TOPIC, b"70", "-r")

        def only_retained():
            self.await_connection()
            self.assertIsNone(self.load_mc())
            broker.publish(TOPIC, b"54.5")

        def said():
            self.wait_for_mc(54500)
            broker.publish(TOPIC, b"warm")

        def too_old():
            self.assertIsNone(self.load_mc())
            self.assertTrue(self.faults())

        for when, act in (("00:22", only_retained), ("00:23", said), ("00:38", too_old)):
            self.at(when, act)
        self.play_with("mqtt:", f"  {{host: localhost, port: {broker.port}}}", "sensors:",
                       f"  tank: {{kind: topic, load: water-heater, topic: {TOPIC}}}")

    def await_connection(self):
        while not self.daemon.status()["mqtt"]["connected"]:
            pass

    def wait_for_mc(self, mc):
        """The broker's thread hands the message over in its own time."""
        while self.load_mc() != mc:
            pass


if __name__ == "__main__":
    main()
