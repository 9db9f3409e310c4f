#!/usr/bin/env python3
"""Words on the command line, what the daemon hears, and what a person is told.

usage: test_orders.py BUILD-DIR SOURCE-DIR
"""
import re
import socket

from command import WIDTH, Case, main
from fake_control import FakeControl, status

# What a person types, and what the daemon must hear of it.
HEARD = [
    (("on", "water-heater", "2h"), "order water-heater on 2h"),
    (("on", "water-heater", "2", "h"), "order water-heater on 2 h"),
    (("on", "water-heater", "90min"), "order water-heater on 90min"),
    (("on", "water-heater", "2", "h", "30", "min"), "order water-heater on 2 h 30 min"),
    (("on", "water-heater", "2 h 30 min"), "order water-heater on 2 h 30 min"),
    (("on", "water-heater", "until", "17:00"), "order water-heater on until 17:00"),
    (("off", "water-heater"), "order water-heater off"),
    (("off", "water-heater", "2h"), "order water-heater off 2h"),
    (("off", "water-heater", "until", "2026-01-20", "17:00"),
     "order water-heater off until 2026-01-20 17:00"),
    (("auto", "water-heater"), "order water-heater auto"),
    (("holiday", "until", "2026-01-20", "17:00"), "holiday until 2026-01-20 17:00"),
    (("holiday", "end"), "holiday end"),
    (("inhibit", "water-heater"), "inhibit water-heater yes"),
    (("inhibit", "all"), "inhibit all yes"),
    (("allow", "all"), "inhibit all no"),
    (("enable", "pool-pump"), "enable pool-pump yes"),
    (("disable", "pool-pump"), "enable pool-pump no"),
    (("reload",), "reload"),
    (("reload", "--yes"), "reload even-if-cut"),
    (("exchange", "grid"), "exchange grid"),
    (("exchange", "grid", "end"), "exchange grid end"),
    (("status",), "status"),
]

# What is wrong whatever the daemon would say: words, and what the message must quote.
WRONG = [
    (("on", "water-heater"), ('"on water-heater"', "2h", "until 17:00")),
    (("on",), ("usage: sluice on LOAD DURATION",)),
    (("on", "water-heater", "2"), ("2", "unit", "2 h 30 min")),
    (("on", "water-heater", "soon"), ("soon", "duration")),
    (("on", "water-heater", "until"), ('"until"', "17:00")),
    (("off", "water-heater", "-2h"), ('"-2h"',)),
    (("off", "two words"), ('"two words"', "load's name")),
    (("off", ""), ('""',)),
    (("off", "a\nreload"), ('"a\nreload"',)),
    (("on", "water-heater", "2h\nreload"), ("control character",)),
    (("off", "x" * 400), ("too long",)),
    (("auto", "water-heater", "now"), ("usage: sluice auto LOAD",)),
    (("holiday",), ("usage: sluice holiday until DATE TIME | end",)),
    (("holiday", "never"), ('"never"', "until 2026-01-20 17:00")),
    (("holiday", "until", "2026-01-20\nreload"), ("not a date",)),
    (("inhibit",), ("usage: sluice inhibit LOAD | all",)),
    (("disable", "a", "b"), ("usage: sluice disable LOAD",)),
    (("test",), ("usage: sluice test LOAD | --all",)),
    (("test", "--all", "water-heater"), ("usage: sluice test LOAD | --all",)),
    (("test", "two words"), ('"two words"', "load's name")),
    (("exchange",), ("usage: sluice exchange METER [end]",)),
    (("exchange", "grid", "now"), ("usage: sluice exchange METER [end]",)),
    (("exchange", "grid\nreload"), ("meter's name",)),
    (("exchange", "x" * 400), ("too long",)),
    (("reload", "now"), ("usage: sluice reload",)),
    (("status", "--jsn"), ('"--jsn"', '"--json"')),
    (("status", "--json=yes"), ('"--json=yes"', "takes no value")),
    (("status", "--socket"), ("--socket", "the socket's path")),
    (("statsu",), ('"statsu"', '"status"')),
    (("ofd",), ('"ofd"', '"off"')),
    (("zzzzzzzz",), ('"zzzzzzzz"', "sluice help")),
    ((), ("sluice help",)),
    (("help", "statsu"), ('"statsu"', '"status"')),
]


class Orders(Case):
    def test_the_daemon_hears_what_a_person_types(self):
        with FakeControl(self.socket, {"status": status()}) as daemon:
            for words, _ in HEARD:
                with self.subTest(words=words):
                    self.assert_done(self.ask(*words))
            self.assertEqual(daemon.heard, [request for _, request in HEARD])

    def test_what_the_daemon_says_is_passed_on(self):
        answers = {"order water-heater on 2h": {"ok": True, "text": "water-heater: on manually"}}
        with FakeControl(self.socket, answers):
            run = self.ask("on", "water-heater", "2h")
        self.assert_done(run)
        self.assertEqual(run.stdout, "water-heater: on manually\n")

    def test_a_refused_order_is_exit_status_one(self):
        text = 'there is no load "water-haeter"; do you mean "water-heater"?'
        with FakeControl(self.socket, {"order water-haeter auto": {"ok": False, "text": text}}):
            self.assert_complains(self.ask("auto", "water-haeter"), 1, text)

    def test_off_says_that_it_is_not_isolation(self):
        with FakeControl(self.socket):
            self.assertIn("Off is not isolation", self.ask("off", "water-heater").stdout)
            self.assertNotIn("isolation", self.ask("on", "water-heater", "2h").stdout)

    def test_wrong_words_are_quoted_and_nothing_is_sent(self):
        with FakeControl(self.socket) as daemon:
            for words, wanted in WRONG:
                with self.subTest(words=words):
                    self.assert_complains(self.ask(*words), 2, *wanted)
            self.assertEqual(daemon.heard, [])

    def test_a_socket_is_named_by_option_before_or_after_the_command(self):
        with FakeControl(self.socket) as daemon:
            self.assert_done(self.sluice("--socket", self.socket, "reload"))
            self.assert_done(self.sluice("reload", f"--socket={self.socket}"))
            self.assert_done(self.sluice("reload", "--socket", self.socket,
                                         SLUICE_SOCKET="/nowhere"))
            self.assertEqual(daemon.heard, ["reload"] * 3)


class Daemon(Case):
    def test_no_daemon_is_exit_status_three_and_names_the_socket(self):
        self.assert_complains(self.ask("status"), 3, self.socket, "is sluiced running?")

    def test_a_socket_that_nobody_listens_on_is_told_from_none(self):
        with socket.socket(socket.AF_UNIX) as left_over:
            left_over.bind(self.socket)
        self.assert_complains(self.ask("status"), 3, self.socket, "no daemon listens on it")

    def test_a_path_too_long_for_a_socket_is_quoted(self):
        path = "/" + "x" * 120
        self.assert_complains(self.sluice("status", "--socket", path), 3, path, "at most 107 bytes")

    def test_an_answer_that_is_none_is_quoted(self):
        for answer in (b"hello\n", b'{"ok":1}\n', b"[]\n", b"\n"):
            with self.subTest(answer=answer), FakeControl(
                    self.socket, {"reload": answer, "status": answer}):
                self.assert_complains(self.ask("reload"), 3, answer.decode().strip())
                self.assert_complains(self.ask("status"), 3, answer.decode().strip())

    def test_an_answer_without_an_end_is_no_answer(self):
        with FakeControl(self.socket, {"reload": b'{"ok":true,"text":"half'}):
            self.assert_complains(self.ask("reload"), 3, "without a whole answer")

    def test_an_endless_answer_is_not_kept(self):
        with FakeControl(self.socket, {"reload": b"x" * (5 << 20)}):
            self.assert_complains(self.ask("reload"), 3, "does not end")


class Help(Case):
    def test_without_a_command_all_are_listed_a_line_each(self):
        run = self.sluice()
        self.assertEqual(run.returncode, 2)
        self.assertEqual(run.stdout, "")
        for name in ("status", "on", "holiday", "day", "compare", "check", "meter", "help"):
            self.assertRegex(run.stderr, rf"(?m)^  {name} +\S")
        self.assertLessEqual(max(map(len, run.stderr.splitlines())), 80)

    def test_the_help_of_each_command_fits_on_a_terminal(self):
        commands = set(re.findall(r"(?m)^  sluice (\w+)", self.sluice("help").stdout))
        self.assertGreater(len(commands), 25)
        for command in sorted(commands):
            said = self.sluice("help", command).stdout
            self.assertLessEqual(max(map(len, said.splitlines())), WIDTH, said)

    def test_help_lists_every_command_and_exit_status(self):
        run = self.sluice("help")
        self.assert_done(run)
        for name in ("check", "explain", "example", "status", "on", "off", "auto", "holiday",
                     "inhibit", "allow", "enable", "disable", "reload", "day", "help"):
            self.assertRegex(run.stdout, rf"(?m)^  sluice {name}\b")
        for code in "0123":
            self.assertRegex(run.stdout, rf"(?m)^  {code}  ")
        self.assertIn("not isolation", run.stdout)
        for line in run.stdout.splitlines():
            self.assertLessEqual(len(line), WIDTH, line)

    def test_help_is_found_where_people_look_for_it(self):
        whole = self.sluice("help").stdout
        self.assertEqual(self.sluice("--help").stdout, whole)
        one = self.sluice("help", "on")
        self.assert_done(one)
        self.assertIn("sluice on LOAD DURATION", one.stdout)
        self.assertEqual(self.sluice("on", "--help").stdout, one.stdout)

    def test_the_version_is_told(self):
        self.assertRegex(self.sluice("--version").stdout, r"^sluice \d+\.\d+\.\d+\n$")


if __name__ == "__main__":
    main()
