#!/usr/bin/env python3
"""The last accepted settings: a restart with a file that is half edited, or cut off, goes
on with them, and says so.

usage: test_accepted.py BUILD-DIR SOURCE-DIR
"""
import shutil
import signal
import subprocess

from case import Case, main
from programs import PATIENCE_S, coils, eventually, load_of

NOBODY = "{host: 127.0.0.1, tcp_port: 1, answer: 300 ms}"
LOADS = ["water-heater", "pool-pump"]


class Accepted(Case):
    def setUp(self):
        super().setUp()
        self.state = self.folder / "state"
        self.state.mkdir()
        self.kept = self.state / "accepted/sluice.yaml"

    def start(self, **choices):
        return super().start(words=("--state", self.state), **choices)

    def write_settings(self, bus=NOBODY):
        text = (self.built.scenarios / "house.yaml").read_text()
        for key, value in (("BUS", bus), ("SOCKET", str(self.folder / "control")),
                           ("STATE", str(self.folder))):
            text = text.replace(f"@{key}@", value)
        self.settings.write_text(text)

    def wait_until_kept(self):
        text = self.settings.read_bytes()
        eventually("the settings are kept", lambda: self.kept.exists() and
                   self.kept.read_bytes() == text and not (self.state / "accepted.old").exists())

    def start_and_keep(self):
        self.write_settings()
        self.start_in_real_time()
        self.wait_until_kept()

    def restart(self):
        self.daemon.kill()
        self.start_in_real_time()

    def spoil(self):
        """Half of it is written, and ends in the midst of a value."""
        text = self.settings.read_text()
        self.settings.write_text(text[:text.index("3.6 kW") + len("3.6 k")])

    def without_pump(self):
        text = self.settings.read_text()
        pump = text[text.index("  pool-pump:"):text.index("storage:")]
        self.settings.write_text(text.replace(pump, ""))

    def assert_last_accepted(self, *wanted):
        status = self.daemon.status()
        self.assertEqual(status["settings"]["in_force"], "last-accepted")
        self.assertEqual([load["name"] for load in status["loads"]], LOADS)
        told = [trouble for trouble in status["troubles"] if "last accepted" in trouble]
        self.assertEqual(len(told), 1, status["troubles"])
        for text in (str(self.settings), *wanted):
            self.assertIn(text, told[0])
        return status

    def assert_file(self, *loads):
        status = self.daemon.status()
        self.assertEqual(status["settings"],
                         {"file": str(self.settings), "in_force": "file", "accepted": None})
        self.assertEqual([load["name"] for load in status["loads"]], list(loads or LOADS))
        self.assertFalse([t for t in status["troubles"] if "settings" in t], status["troubles"])

    # ---- a start ----

    def test_a_power_cut_with_a_half_edited_file_leaves_the_water_hot(self):
        def cut():
            self.wait_until_kept()
            self.whole = self.settings.read_text()
            self.daemon.kill()
            self.spoil()
            self.start()

        def look():
            status = self.assert_last_accepted(f"{self.settings}:")
            self.assertTrue(status["settings"]["accepted"].startswith("2026-01-14T10:"))
            self.assertTrue(load_of(status, "water-heater")["on"])
            screen = self.daemon.order("status")
            self.assertRegex(screen, r"settings +those last accepted, not the file; accepted .*14 Jan.* 10:")

        def repair():
            self.settings.write_text(self.whole)
            self.daemon.order("reload")

        self.at("10:30", lambda: self.daemon.order("on", "water-heater", "2h"))
        self.at("11:00", cut)
        self.at("11:10", look)
        self.at("11:20", repair)
        self.at("11:20:01", self.assert_file)
        self.open_house("""
start 2026-01-14 10:20
length 1 h 20 min
water water-heater 20 C
draws none
must water-heater relay on 10:30:05..10:59; water-heater relay on 11:10..11:39
""")
        self.fill_settings()
        self.start()
        self.play()

    def test_a_file_that_lost_a_load_is_taken_only_when_somebody_says_so(self):
        self.start_and_keep()
        self.daemon.kill()
        self.without_pump()
        self.start_in_real_time()
        self.assert_last_accepted("load pool-pump is gone", "If it is meant: sluice reload --yes")
        self.daemon.order("reload", "--yes")
        self.assert_file("water-heater")
        self.wait_until_kept()
        self.restart()
        self.assert_file("water-heater")

    def test_the_maps_are_kept_with_it(self):
        maps = self.folder / "maps"
        maps.mkdir()
        shutil.copy(next(self.built.maps.glob("*.yaml")), maps / "own-meter.yaml")
        self.built.maps = maps
        self.write_settings()
        self.change_settings(("unit: 1, map: sunspec", "unit: 1, map: own-meter"))
        self.start_in_real_time()
        self.wait_until_kept()
        shutil.rmtree(maps)
        self.restart()
        self.assert_last_accepted("map: there is no own-meter.yaml")

    def test_a_cut_between_two_renames_loses_nothing(self):
        self.start_and_keep()
        whole = self.settings.read_text()
        self.daemon.kill()
        (self.state / "accepted").rename(self.state / "accepted.old")
        (self.state / "accepted.new").mkdir()
        (self.state / "accepted.new/sluice.yaml").write_text("half")
        self.spoil()
        self.start_in_real_time()
        self.assert_last_accepted()
        self.settings.write_text(whole)
        self.daemon.order("reload")
        self.wait_until_kept()
        self.assertEqual([path.name for path in self.state.iterdir()], ["accepted"])

    def test_what_is_kept_already_is_not_written_again(self):
        self.start_and_keep()
        before = self.kept.stat()
        self.daemon.order("reload")
        self.daemon.signal(signal.SIGTERM)
        self.assertEqual(self.daemon.end(), 0)
        self.start_in_real_time()
        self.daemon.signal(signal.SIGTERM)
        self.assertEqual(self.daemon.end(), 0)
        after = self.kept.stat()
        self.assertEqual((after.st_ino, after.st_mtime_ns), (before.st_ino, before.st_mtime_ns))

    def test_without_a_place_to_keep_them_it_runs_and_says_so(self):
        self.state = self.folder / "letter"
        self.state.write_text("a letter\n")
        self.write_settings()
        self.start_in_real_time()
        eventually("it is told", lambda: [t for t in self.daemon.status()["troubles"]
                                          if "cannot be kept for a restart" in t])
        self.assertEqual(self.state.read_text(), "a letter\n")

    def test_the_stop_helper_knows_the_outputs_of_the_last_accepted_settings(self):
        def helper():
            self.wait_until_kept()
            self.daemon.kill()
            self.assertEqual(coils(self.house.port), [True, False])
            whole = self.settings.read_text()
            self.spoil()
            run = subprocess.run([self.built.sluiced, "--fail-state", "--settings", self.settings,
                                  "--maps", self.built.maps, "--state", self.state],
                                 stderr=subprocess.PIPE, text=True, timeout=PATIENCE_S)
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assertEqual(coils(self.house.port), [False, False])
            self.settings.write_text(whole)
            self.start()

        self.at("10:25", lambda: self.daemon.order("on", "water-heater", "2h"))
        self.at("10:30", helper)
        self.open_house("""
start 2026-01-14 10:20
length 12 min
water water-heater 20 C
draws none
""")
        self.fill_settings()
        self.start()
        self.play()

    # ---- a reload ----

    def test_no_file_that_is_cut_at_a_line_comes_into_force_by_a_reload(self):
        self.start_and_keep()
        whole = self.settings.read_text()
        lines = whole.splitlines(keepends=True)
        for count in range(len(lines)):
            self.settings.write_text("".join(lines[:count]))
            run = self.daemon.ask("reload")
            self.assertNotEqual(run.returncode, 0, count)
            self.assertIn("nothing was changed", run.stderr)
        status = self.daemon.status()
        self.assertEqual([load["name"] for load in status["loads"]], LOADS)
        self.settings.write_text(whole)
        self.daemon.order("reload")
        self.assert_file()

    def test_a_signal_refuses_a_file_that_looks_cut_off_and_tells_the_way(self):
        self.start_and_keep()
        self.without_pump()
        self.daemon.signal(signal.SIGHUP)
        self.daemon.said.wait_for("the settings were not changed: .*load pool-pump is gone.*"
                                  "If it is meant: sluice reload --yes")
        self.assertEqual(len(self.daemon.status()["loads"]), 2)
        self.daemon.order("reload", "--yes")
        self.assert_file("water-heater")

    def test_a_pipe_in_place_of_the_file_is_not_waited_for(self):
        self.start_and_keep()
        self.settings.unlink()
        subprocess.run(["mkfifo", self.settings], check=True)
        run = self.daemon.ask("reload")
        self.assertIn("is a pipe or device, not a file", run.stderr)
        self.restart()
        self.assert_last_accepted("is a pipe or device, not a file")

    def test_a_password_that_everyone_can_read_is_a_trouble_until_it_is_closed(self):
        password = self.folder / "password"
        password.write_text("secret\n")
        password.chmod(0o644)
        self.write_settings()
        self.change_settings(("storage:", "mqtt: {host: localhost, user: sluice, "
                              f"password_file: {password}}}\nstorage:"))
        self.start_in_real_time()

        def told():
            return [t for t in self.daemon.status()["troubles"] if "can be read by everyone" in t]
        self.assertEqual(len(told()), 1)
        self.assertIn(str(password), told()[0])
        password.chmod(0o600)
        self.daemon.order("reload")
        self.assertEqual(told(), [])


if __name__ == "__main__":
    main()
