#!/usr/bin/env python3
"""set, undo, diff and history: the settings file changed from afar, with a way back.

usage: test_change.py BUILD-DIR SOURCE-DIR
"""
import fcntl
import os

from command import SOURCE, Case, main
from fake_control import FakeControl

HOUSE = """# The house as it was left
site:
  name: Wattle house   # on the lid
  timezone: Australia/Sydney
  phases: 1
  supply_limit: 63 A
buses:
  switchboard: {host: 192.0.2.1}
meters:
  grid: {role: grid, bus: switchboard, unit: 1, map: eastron-sdm630}
loads:
  water-heater:
    power: 3.6 kW      # nameplate
    phases: L1
    thermostat: yes
    output: {kind: coil, bus: switchboard, unit: 10, address: 0}
    floors:
      - {amount: 3 h, by: "17:00"}   # hot by dinner
storage: {path: "@STATE@/ledger.db"}
"""
BY, ON = "loads.water-heater.floors.1.by", "loads.water-heater.minimum_on"


class Change(Case):
    def setUp(self):
        super().setUp()
        self.settings = self.folder / "sluice.yaml"
        self.house = HOUSE.replace("@STATE@", str(self.folder))
        self.settings.write_text(self.house)
        self.settings.chmod(0o640)

    def run_it(self, *words, **login):
        maps = () if words[0] == "history" else ("--maps", SOURCE / "conf/meters")
        return self.sluice(*words, "--settings", self.settings, *maps, "--socket", self.socket,
                           **{"USER": "", "SUDO_USER": "", "SSH_CONNECTION": "", **login})

    def done(self, *words, **login):
        run = self.run_it(*words, **login)
        self.assert_done(run)
        return run.stdout

    def refused(self, *words, status=1):
        run = self.run_it(*words)
        self.assertEqual(run.returncode, status, run)
        return run.stderr

    def text(self):
        return self.settings.read_text()

    def test_what_changes_is_said_and_put_in_force_and_the_rest_stays(self):
        with FakeControl(self.socket, {"reload": {"ok": True, "text": "settings read"}}) as daemon:
            said = self.done("set", BY, "18:30")
        self.assertIn(f"{BY}: 17:00 -> 18:30\n", said)
        self.assertIn("  before:   Guaranteed: 3 h of drawing power by 17:00", said)
        self.assertIn("  now:      Guaranteed: 3 h of drawing power by 18:30", said)
        self.assertIn("settings read", said)
        self.assertEqual(daemon.heard, ["reload"])
        self.assertEqual(self.text(), self.house.replace('"17:00"', '"18:30"'))
        self.assertEqual(self.settings.stat().st_mode & 0o777, 0o640)

    def test_undo_restores_the_bytes_change_by_change(self):
        texts = [self.text()]
        for key, value in ((BY, "18:30"), (ON, "10 min"), ("site.name", "Bob's: house")):
            self.done("set", key, value)
            texts.append(self.text())
        self.assertEqual(len(set(texts)), 4)
        for text in reversed(texts[:-1]):
            self.assertIn("takes it when it starts", self.done("undo"))
            self.assertEqual(self.text(), text)
        self.assertIn("no change was made", self.refused("undo"))

    def test_the_daemon_refuses_and_the_file_is_as_it_was(self):
        answer = {"reload": {"ok": False, "text": "refused: a load would be lost"}}
        with FakeControl(self.socket, answer):
            said = self.refused("set", BY, "18:30")
        self.assertIn("a load would be lost", said)
        self.assertIn("the file is as it was before", said)
        self.assertEqual(self.text(), self.house)
        self.assertIn("refused: ", self.done("history"))
        self.assertIn("no change was made", self.refused("undo"))

    def test_an_undo_that_is_refused_can_be_tried_again(self):
        self.done("set", BY, "18:30")
        self.done("set", ON, "10 min")
        two = self.text()
        with FakeControl(self.socket, {"reload": {"ok": False, "text": "not now"}}):
            self.assertIn("not now", self.refused("undo"))
        self.assertEqual(self.text(), two)
        self.done("undo")
        self.done("undo")
        self.assertEqual(self.text(), self.house)

    def test_whether_it_is_in_force_is_not_said_where_it_is_not_known(self):
        with FakeControl(self.socket, {"reload": b""}):
            said = self.refused("set", BY, "18:30", status=3)
        self.assertIn("whether it is in force is not known", said)
        self.assertIn("18:30", self.text())

    def test_a_link_stays_a_link(self):
        real = self.folder / "real.yaml"
        self.settings.rename(real)
        self.settings.symlink_to(real)
        self.done("set", BY, "18:30")
        self.assertTrue(self.settings.is_symlink())
        self.assertIn("18:30", real.read_text())
        self.assertIn("17:00 -> 18:30", self.done("history"))
        self.done("undo")
        self.assertEqual(real.read_text(), self.house)

    def test_a_name_of_two_lines_is_one_line_of_history(self):
        self.settings.write_text(self.house.replace("Wattle house", '"Wattle\\nhouse\\t9"'))
        self.done("set", "site.name", "Acacia house")
        self.assertIn("site.name: Wattle?house?9 -> Acacia house", self.done("history"))

    def test_a_wrong_value_changes_nothing_and_is_told_with_its_place(self):
        said = self.refused("set", "loads.water-heater.power", "3600 kW")
        self.assertIn(f"{self.settings}:13:12: power: 3600 kW is out of range", said)
        self.assertEqual(self.text(), self.house)
        self.assertEqual(sorted(os.listdir(self.folder / "sluice.yaml.changes")), ["lock"])
        self.assertIn('do you mean "minimum_on"',
                      self.refused("set", "loads.water-heater.minimum_onn", "5 min"))

    def test_a_file_edited_since_is_not_undone(self):
        self.done("set", BY, "18:30")
        edited = self.text().replace("63 A", "40 A")
        self.settings.write_text(edited)
        self.assertIn('was edited since change 1: "sluice diff 1"', self.refused("undo"))
        self.assertEqual(self.text(), edited)
        self.assertEqual(self.done("diff", "1"),
                         f"site.supply_limit: 63 A -> 40 A\n{BY}: 17:00 -> 18:30\n")

    def test_two_at_once_wait_for_each_other(self):
        folder = self.folder / "sluice.yaml.changes"
        folder.mkdir()
        with open(folder / "lock", "w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            self.assertIn("somebody else is changing the settings",
                          self.refused("set", BY, "18:30", status=3))
        self.assertEqual(self.text(), self.house)

    def test_tried_only_it_is_told_and_not_done(self):
        self.assertIn("17:00 -> 18:30", self.done("set", BY, "18:30", "--try"))
        self.assertEqual(self.text(), self.house)
        self.assertEqual(os.listdir(self.folder), ["sluice.yaml"])

    def test_who_changed_what_and_from_where(self):
        self.done("set", BY, "18:30", SUDO_USER="sparky", SSH_CONNECTION="192.0.2.7 5 192.0.2.1 22")
        self.done("undo", SUDO_USER="sparky", SSH_CONNECTION="")
        first, what, second, undid = self.done("history").splitlines()
        self.assertRegex(first, r"^   1  20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ  sparky from 192.0.2.7  \(undone\)$")
        self.assertEqual(what, f"      {BY}: 17:00 -> 18:30")
        self.assertRegex(second, r"^   2  20\S+Z  sparky$")
        self.assertEqual(undid, f"      undid 1: {BY}: 17:00 -> 18:30")

    def test_what_is_in_force_and_what_the_file_says(self):
        accepted = self.folder / "accepted"
        self.assertIn("cannot be read", self.refused("diff", status=3))
        accepted.mkdir()
        (accepted / "sluice.yaml").write_text(self.house)
        self.assertEqual(self.done("diff"), "no value differs from what sluiced has accepted\n")
        self.done("set", ON, "10 min")
        self.assertEqual(self.done("diff"), f"{ON}: not set -> 10 min\n")

    def test_what_is_the_same_already_is_no_change(self):
        self.assertIn("nothing to change", self.done("set", BY, "17:00"))
        self.assertIn("no change was made", self.done("history"))


if __name__ == "__main__":
    main()
