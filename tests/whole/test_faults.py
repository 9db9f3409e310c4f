#!/usr/bin/env python3
"""An element that breaks is found by what its starts show, told everywhere by one name, stands
over a kill, runs the household's command once, and is over after the repair.

usage: test_faults.py BUILD-DIR SOURCE-DIR
"""
import json
import os

from broker import Broker, Topics
from case import Case, long, main
from programs import eventually

ID = "no-power-water-heater"
SAYS = "no power reaches the element"
# Switched on and off by somebody who tries, so that nothing else switches in the same moment.
BREAKS = """
start 2026-01-14 10:20
length {hours} h
step 5 s
water water-heater 20 C
draws none
at 11:00 run sluice off water-heater
at 11:05 fault water-heater element-broken
at 11:15 run sluice on water-heater 4h
at 11:30 run sluice off water-heater
at 11:45 run sluice on water-heater 4h
at 12:00 run sluice off water-heater
at 12:15 run sluice on water-heater 4h
at 12:36 fault water-heater none
at 12:40 run sluice off water-heater
at 12:55 run sluice on water-heater 4h
"""
TELL = """#!/bin/sh
[ ! -e {told}.broken ] || exit 3
{{ echo "id=$SLUICE_FAULT_ID state=$SLUICE_FAULT_STATE sure=$SLUICE_FAULT_SURE"; cat; echo ---; }} >> {told}
"""


class Faults(Case):
    def setUp(self):
        super().setUp()
        self.told = self.folder / "told"

    def play_house(self, text, command=None, broker=False):
        script = self.folder / "tell.sh"
        script.write_text(TELL.format(told=self.told))
        script.chmod(0o755)
        command = command or script
        os.environ["SLUICE_SOCKET"] = str(self.folder / "control")
        os.environ["PATH"] = f"{self.built.sluice.parent}:{os.environ['PATH']}"
        self.open_house(text)
        self.fill_settings()
        site = "site:\n"
        self.change_settings((site, f"{site}  on_fault: '{command}'\n"))
        if broker:
            self.settings.write_text(self.settings.read_text() +
                                     f"mqtt: {{host: 127.0.0.1, port: {self.broker.port}}}\n")
        self.start()
        self.play()

    def findings(self):
        return {finding["id"]: finding for finding in self.daemon.status()["findings"]}

    def faults(self, *words):
        return self.daemon.ask("faults", "--settings", str(self.settings), "--maps",
                               str(self.built.maps), *words)

    def runs(self):
        """What the command was told, each time."""
        return self.told.read_text().split("---\n")[:-1] if self.told.exists() else []

    def test_a_broken_element_is_told_once_everywhere_and_over_after_repair(self):
        self.broker = Broker(self.folder)
        self.addCleanup(self.broker.close)
        self.topics = Topics(self.broker)
        self.addCleanup(self.topics.close)

        def is_told():
            finding = self.findings()[ID]
            self.assertEqual((finding["load"], finding["inferred"], finding["seen"]),
                             ("water-heater", True, 3))
            self.assertGreaterEqual(finding["sure_percent"], 90)
            self.assertLess(finding["sure_percent"], 100)
            self.assertEqual(finding["since"], "2026-01-14T11:15:00+11:00")
            self.assertIn("Isolate before opening", finding["first"])
            listed = self.faults()
            self.assertEqual(listed.returncode, 1, listed.stderr)
            self.assertIn(SAYS, " ".join(listed.stdout.split()))
            screen = " ".join(self.daemon.order("status").split())
            self.assertEqual(screen.count(SAYS), 1, screen)
            self.topics.wait_for(f"$alert/{ID}", lambda value: SAYS in value)
            self.topics.wait_for("water-heater/faults", lambda value: SAYS in value)
            self.topics.wait_for("site/faults", lambda value: value != "none")
            eventually("the command was told", lambda: [run for run in self.runs() if SAYS in run])

        def is_over():
            self.assertNotIn(ID, self.findings())
            listed = self.faults("--days", "1", "--json")
            self.assertEqual(listed.returncode, 0, listed.stdout)
            past = {fault["id"]: fault for fault in json.loads(listed.stdout)["past"]}
            self.assertEqual(past[ID]["times"], 1)
            self.assertIsNotNone(past[ID]["last_to"])
            self.topics.wait_is(f"$alert/{ID}", "")
            self.topics.wait_is("water-heater/faults", "none")
            eventually("the end was told", lambda: [run for run in self.runs() if "Over: " in run])
            runs = [run for run in self.runs() if SAYS in run]
            self.assertEqual(len([run for run in runs if "New: " in run]), 1, runs)
            self.assertIn("What to do first: Look at its breaker",
                          next(run for run in runs if "New: " in run))

        self.at("12:30", is_told)
        self.at("13:20", is_over)
        self.play_house(BREAKS.format(hours=4), broker=True)
        told = [line for line in self.daemon.said.lines if SAYS in line]
        self.assertEqual(len([line for line in told if "solved" not in line]), 1, told)

    @long
    def test_what_was_set_anew_is_not_called_solved(self):
        def stands():
            self.assertIn(ID, self.findings())
            return self.corrects

        def over():
            said = [line for line in self.daemon.said.lines if SAYS in line]
            self.assertTrue([line for line in said if "no longer watched since the" in line], said)
            self.assertFalse([line for line in said if "solved" in line], said)

        self.at("12:30", stands)
        self.at("13:15", over)
        self.play_house(BREAKS.split("at 12:36")[0].format(hours=3))

    def corrects(self):
        self.change_settings(("power: 3.6 kW", "power: 3.5 kW"))
        self.daemon.order("reload")

    @long
    def test_it_stands_over_a_kill_and_is_no_news_then(self):
        def kill():
            self.before = self.findings()[ID]
            self.runs_before = len(self.runs())
            self.daemon.kill()
            return self.start

        def stands():
            after = self.findings()[ID]
            self.assertEqual((after["since"], after["seen"]),
                             (self.before["since"], self.before["seen"]))
            self.assertFalse([run for run in self.runs()[self.runs_before:] if SAYS in run])

        self.at("12:25", lambda: eventually(
            "the command was told", lambda: [run for run in self.runs() if SAYS in run]))
        self.at("12:32", kill)
        self.at("12:35", stands)
        self.at("13:20", lambda: self.assertNotIn(ID, self.findings()))
        self.play_house(BREAKS.format(hours=4))

    def test_what_a_failing_command_did_not_tell_is_told_once_it_works(self):
        broken = self.folder / "told.broken"
        broken.touch()

        def fails():
            self.assertIn(ID, self.findings())
            self.assertIn("status 3", eventually(
                "the command's end is told", lambda: self.findings().get("on-fault"))["text"])
            broken.unlink()

        def works():
            eventually("the command was told", lambda: [run for run in self.runs() if SAYS in run])
            self.assertEqual(len([run for run in self.runs() if SAYS in run]), 1)
            self.assertNotIn("on-fault", self.findings())

        self.at("12:30", fails)
        self.at("14:20", works)
        self.play_house(BREAKS.split("at 12:36")[0].format(hours=5))

    def test_what_was_not_told_before_a_kill_is_told_after_it(self):
        broken = self.folder / "told.broken"
        broken.touch()

        def kill():
            self.assertIn(ID, self.findings())
            self.daemon.kill()
            broken.unlink()
            return self.start

        self.at("12:30", kill)
        self.at("12:50", lambda: eventually(
            "the command was told", lambda: [run for run in self.runs() if SAYS in run]))
        self.play_house(BREAKS.split("at 12:36")[0].format(hours=3))

    @long
    def test_a_healthy_house_with_a_bad_command_has_one_fault_that_says_so(self):
        """A meter that is silent for a while is what the command is run for."""
        self.at("11:20", lambda: self.assertEqual(self.findings(), {}))
        self.at("11:50", lambda: self.assertIn("status 127", eventually(
            "the command's end is told", lambda: self.findings().get("on-fault"))["text"]))
        self.play_house("""
start 2026-01-14 10:20
length 2 h
step 5 s
at 11:30 fault meter silent for 10 min
""", command="/nowhere/to/be/found \"$SLUICE_FAULT_TEXT\"")


main()
