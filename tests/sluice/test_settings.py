#!/usr/bin/env python3
"""check, explain, example: settings without a daemon.

usage: test_settings.py BUILD-DIR SOURCE-DIR
"""
import re

from command import SOURCE, Case, main

MAPS = SOURCE / "conf/meters"


class Check(Case):
    def check(self, text):
        path = self.folder / "sluice.yaml"
        path.write_text(text)
        return path, self.sluice("check", path, "--maps", MAPS)

    def test_the_example_is_accepted_and_described(self):
        _, run = self.check(self.sluice("example").stdout)
        self.assert_done(run)
        self.assertRegex(run.stdout, r"\S")

    def test_every_mistake_comes_with_its_place_and_what_was_expected(self):
        good = self.sluice("example").stdout
        self.assertRegex(good, r"(?m)^site:")
        path, run = self.check(good.replace("site:", "site:\n  nmae: x", 1) + "\nlaods: {}\n")
        self.assertEqual(run.returncode, 1)
        self.assertEqual(run.stdout, "")
        place = re.escape(str(path))
        self.assertRegex(run.stderr, rf'(?m)^{place}:\d+:3: .*nmae.*name')
        self.assertRegex(run.stderr, rf'(?m)^{place}:\d+:1: .*laods.*loads')
        self.assertRegex(run.stderr, r"\d+ errors: sluiced would reject this file\n$")

    def test_a_bare_number_where_a_unit_is_needed_is_said(self):
        _, run = self.check(re.sub(r"(?m)^(\s+power:).*$", r"\1 3600",
                                   self.sluice("example").stdout, count=1))
        self.assertEqual(run.returncode, 1)
        self.assertIn("3600", run.stderr)
        self.assertIn("3.6 kW", run.stderr)

    def test_a_file_that_is_not_there_is_quoted(self):
        run = self.sluice("check", "/nowhere/sluice.yaml")
        self.assert_complains(run, 3, '"/nowhere/sluice.yaml"', "settings file is expected")

    def test_binary_and_empty_files_are_refused(self):
        for content in (b"\x00\x01\xff" * 100, b""):
            path = self.folder / "bad.yaml"
            path.write_bytes(content)
            run = self.sluice("check", path, "--maps", MAPS)
            self.assertEqual(run.returncode, 1)
            self.assertIn(str(path), run.stderr)

    def test_a_slip_that_may_be_meant_is_a_notice_with_its_line(self):
        path, run = self.check(self.sluice("example").stdout.replace(
            "margin: 100 W", "margin: -300 W", 1))
        self.assert_done(run)
        self.assertRegex(run.stdout, rf"(?m)^  {re.escape(str(path))}:\d+:11: margin: -300 W")

    def test_a_line_that_is_indented_wrongly_is_named_with_the_one_above(self):
        path, run = self.check(self.sluice("example").stdout.replace(
            "    thermostat: yes", "     thermostat: yes", 1))
        self.assertEqual(run.returncode, 1)
        self.assertRegex(run.stderr, rf'{re.escape(str(path))}:\d+:6: "thermostat" is indented by '
                                     r'5 spaces, and "\w+" above it \(line \d+\) by 4')

    def test_check_needs_one_file(self):
        self.assert_complains(self.sluice("check"), 2, "usage: sluice check FILE")
        self.assert_complains(self.sluice("check", "a", "b"), 2, "usage: sluice check FILE")


class Explain(Case):
    def test_a_key_is_explained_with_its_unit(self):
        run = self.sluice("explain", "minimum_on")
        self.assert_done(run)
        self.assertIn("minimum_on", run.stdout)

    def test_an_unknown_key_names_the_nearest_on_standard_error(self):
        self.assert_complains(self.sluice("explain", "minimum_onn"), 1, "minimum_onn", "minimum_on")

    def test_without_a_key_all_are_listed(self):
        run = self.sluice("explain")
        self.assert_done(run)
        for key in ("minimum_on", "start_fraction", "supply_limit", "control_socket"):
            self.assertIn(key, run.stdout)


if __name__ == "__main__":
    main()
