#!/usr/bin/env python3
"""commission: what it refuses to begin with, and what it leaves as it was then. With the real
programs: tests/whole/test_commission.py.

usage: test_commission.py BUILD-DIR SOURCE-DIR
"""
import hashlib
import json
import subprocess

from command import SLUICE, Case, main
from fake_control import FakeControl, status
from test_handover import HOUSE, MAPS


class Commission(Case):
    def setUp(self):
        super().setUp()
        self.settings = self.folder / "sluice.yaml"
        self.state = self.folder / "state.json"
        self.settings.write_text(HOUSE)

    def commission(self, *words, **house):
        with FakeControl(self.socket, {"status": status(**house)}):
            return self.ask("commission", "--settings", self.settings, "--maps", MAPS, "--state",
                            self.state, *words)

    def begin(self, *words):
        """Until it is at its first step."""
        control = FakeControl(self.socket, {"status": status(inhibited=True)})
        self.addCleanup(control.close)
        process = subprocess.Popen(
            [SLUICE, "--socket", self.socket, "commission", "--yes", "--settings", self.settings,
             "--maps", MAPS, "--state", self.state, *words], stdout=subprocess.PIPE)
        self.addCleanup(process.wait, 60)
        self.addCleanup(process.stdout.close)
        self.addCleanup(process.kill)
        process.stdout.readline()
        return process

    def test_without_a_terminal_it_says_how_to_run_it(self):
        run = self.commission()
        self.assert_complains(run, 2, "no terminal", "--yes")
        self.assertFalse(self.state.exists())

    def test_with_standard_input_closed_too(self):
        with FakeControl(self.socket, {"status": status()}):
            run = subprocess.run(["sh", "-c", '"$0" "$@" <&-', SLUICE, "--socket", self.socket,
                                  "commission"], capture_output=True, text=True, timeout=60)
        self.assert_complains(run, 2, "no terminal")

    def test_a_daemon_that_is_not_there(self):
        run = self.ask("commission", "--yes", "--settings", self.settings, "--state", self.state)
        self.assert_complains(run, 3, "is sluiced running?")
        self.assertFalse(self.state.exists())

    def test_the_daemon_of_another_house(self):
        run = self.commission("--yes", site="Gum house")
        self.assert_complains(run, 1, "another house, \"Gum house\"")

    def test_settings_with_errors(self):
        self.settings.write_text(HOUSE.replace("power: 3.6 kW", "power: 3.6"))
        run = self.commission("--yes")
        self.assertEqual(run.returncode, 1)
        self.assertRegex(run.stderr, r"sluice.yaml:\d+:\d+: ")
        self.assertFalse(self.state.exists())

    def refused_state(self, text, *wanted):
        self.state.write_text(text)
        run = self.commission("--yes")
        self.assert_complains(run, 1, "nothing was changed", "--restart", *wanted)
        self.assertEqual(self.state.read_text(), text)

    def test_a_state_that_is_somebody_elses_is_left_alone(self):
        self.refused_state(HOUSE, "not JSON")
        self.refused_state('{"loads": []}', "not of")

    def test_a_state_that_is_cut_off_is_left_alone(self):
        self.refused_state('{"format": "sluice commission", "version": 1, "si', "cut off")

    def test_a_restart_keeps_what_was_there(self):
        self.state.write_text(HOUSE)
        self.begin("--restart").kill()
        self.assertEqual((self.folder / "state.json.old").read_text(), HOUSE)
        self.assertEqual(json.loads(self.state.read_text())["format"], "sluice commission")

    def test_a_state_that_cannot_be_written(self):
        self.state = self.folder / "no-such-folder" / "state.json"
        self.assert_complains(self.commission("--yes"), 3, "cannot be written")

    def test_a_step_that_there_is_not(self):
        run = self.commission("--yes", "--again", "outputs:water-heater")
        self.assert_complains(run, 2, "is not a step", 'do you mean "output:water-heater"?')

    def go_to_findings(self, *findings):
        """All before them is done."""
        figure = hashlib.sha256(self.settings.read_bytes()).hexdigest()
        done = {"outcome": "pass", "evidence": "", "caution": "", "time": "", "settings": figure}
        steps = ["settings", "meter", "master", "sign", "phase:L1", "solar", "battery",
                 "output:water-heater", "output:pool-pump", "stop", "time-out", "clock", "broker",
                 "tls", "storage"]
        self.state.write_text(json.dumps({
            "format": "sluice commission", "version": 1, "site": "Wattle house",
            "results": {step: done for step in steps}, "tests": {}}))
        run = self.commission("--yes", findings=list(findings))
        return run, json.loads(self.state.read_text())["results"]["findings"]

    def test_a_standing_finding_fails_with_the_first_thing_to_do(self):
        run, result = self.go_to_findings({"load": "water-heater", "first": "Isolate, then measure.",
                                           "text": "possible: its element is open"},
                                          {"load": None, "first": "", "text": "no broker"})
        self.assertEqual((run.returncode, result["outcome"]), (1, "fail"), run)
        self.assertEqual(result["evidence"], "water-heater: possible: its element is open. First: "
                                             "Isolate, then measure.; no broker")
        self.assert_fits("\n".join(line for line in run.stdout.splitlines() if "/" not in line))

    def test_with_everything_done_and_nothing_found_all_is_well(self):
        run, result = self.go_to_findings()
        self.assertEqual((run.returncode, result["outcome"]), (0, "pass"), run)
        self.assertIn("16 pass", run.stdout)

    def test_new_settings_without_a_person(self):
        before = self.settings.read_text()
        self.assert_complains(self.commission("--new"), 2, "no terminal")
        self.assert_complains(self.commission("--new", "--yes"), 2, "only a person knows")
        self.assertEqual(self.settings.read_text(), before)

    def test_a_word_too_many(self):
        self.assert_complains(self.commission("--yes", "now"), 2, "usage: sluice commission")

    def test_with_standard_output_closed_what_was_done_is_kept_whole(self):
        """Where nobody reads on, it ends at a step."""
        process = self.begin()
        process.stdout.close()
        self.assertNotEqual(process.wait(60), 0)
        self.assertEqual(json.loads(self.state.read_text())["site"], "Wattle house")


if __name__ == "__main__":
    main()
