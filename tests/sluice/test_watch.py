#!/usr/bin/env python3
"""watch: what stands on a terminal, what its keys order, and what it leaves behind.

usage: test_watch.py BUILD-DIR SOURCE-DIR
"""
import re
import signal

from command import SLUICE, SOURCE, main
from fake_control import FakeControl, finding, load, status
from test_day import DATE, DayCase
from vt import PATIENCE_S, Terminal

KEYS = "o on   f off   a auto   r reasons   ? help   q quit"


class Watch(DayCase):
    def open(self, columns=80, rows=24, words=(), **environment):
        terminal = Terminal([SLUICE, "watch", "--settings", str(self.settings), "--maps",
                             str(SOURCE / "conf/meters"), *words], columns, rows,
                            SLUICE_SOCKET=self.socket, **environment)
        self.addCleanup(terminal.close)
        return terminal

    def house(self, **changes):
        control = FakeControl(self.socket, {"status": status(**changes)})
        self.addCleanup(lambda: control.close() if control.thread.is_alive() else None)
        return control

    def end(self, terminal, code=0):
        terminal.until(terminal.has_left)
        self.assertEqual(terminal.process.wait(PATIENCE_S), code)
        self.assertTrue(terminal.modes_are_back(), "the terminal's modes are others than before")
        self.assertTrue(terminal.raw.endswith(b"\033[0m\033[?25h\033[?1049l"))

    # ---- what stands there ----

    def test_a_house_is_one_screen(self):
        self.house()
        self.write_a_day()
        screen = self.open().until_shown(
            "Wattle house", "spare power   1.15 kW", "> ON  Water heater (water-heater)",
            "on: spare 4.7 kW, 3.6 kW needed", "50 %, start by 15:00",
            "sun 5.60 kW -> loads 3.59 kW + house 810 W + grid 1.20 kW", KEYS)
        # It ran from 11:02 to 13:32: half hours from midnight on.
        strip = next(line for line in screen.split("\n") if line.startswith("Water heater"))
        self.assertEqual(strip[20:], "." * 22 + "#####+" + "." * 20)

    def test_on_forty_columns_nothing_passes_the_edge_and_no_colour_is_sent(self):
        self.house(findings=[finding("the ledger cannot be written: no space left on device")])
        terminal = self.open(40, 40, NO_COLOR="1")
        terminal.until_shown("! the ledger cannot be written", "o on f off a auto")
        self.assertEqual(set(re.findall(rb"\033\[[\d;]*m", terminal.raw)), {b"\033[0m"})

    def test_of_many_loads_the_marked_one_is_in_sight(self):
        self.house(loads=[load(f"load-{k}", title=f"Load {k}") for k in range(12)])
        terminal = self.open()
        terminal.until_shown("> off Load 0", KEYS)
        terminal.key("\033[A")
        terminal.until(lambda: "> off Load 11 (load-11)" in terminal.screen() and
                       "Load 0 " not in terminal.screen())

    def test_where_nothing_changes_nothing_is_sent(self):
        control = self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        asked, bytes_then = len(control.heard), len(terminal.raw)
        while len(control.heard) < asked + 3:
            self.assertFalse(terminal.read(0.1), terminal.raw[bytes_then:])

    def test_a_picture_of_before_is_not_taken_for_now(self):
        control = self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        control.close()
        terminal.until_shown("The figures below are from", "spare power   1.15 kW")

    def test_without_a_daemon_it_says_so(self):
        terminal = self.open()
        self.assertNotIn("spare power", terminal.until_shown("sluiced", KEYS))

    def test_another_size_is_drawn_anew(self):
        self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        terminal.raw = b""
        terminal.size(40, 30)
        terminal.until_shown("solar         5.60 kW", "o on f off a auto")

    # ---- keys ----

    def test_a_time_is_asked_for_and_the_order_is_answered(self):
        control = self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        terminal.key("\to")
        terminal.until_shown("pool-pump on for (2 h, until 17:00): _")
        terminal.key("30 mim\x7fn\r")
        terminal.until_shown("heard: order pool-pump on 30 min", KEYS)
        terminal.key("a")
        terminal.until_shown("heard: order pool-pump auto")
        terminal.key("f\r")
        terminal.until(lambda: "order pool-pump off" in control.heard)

    def test_an_order_goes_to_the_load_that_was_marked_wherever_it_stands_now(self):
        control = self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        terminal.key("o1 h")
        terminal.until_shown("water-heater on for")
        loads = status()["loads"]
        control.answers["status"] = status(loads=[load("first", title="First"), *reversed(loads)])
        terminal.until_shown("First", "> ON  Water heater")
        terminal.key("\r")
        terminal.until(lambda: "order water-heater on 1 h" in control.heard)
        terminal.key("o1 h")
        control.answers["status"] = status(loads=[load("first", title="First")])
        terminal.until_shown("> off First", KEYS)
        self.assertEqual({said for said in control.heard if said != "status"},
                         {"order water-heater on 1 h"})

    def test_what_is_typed_is_dropped_by_escape(self):
        control = self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        terminal.key("o2 h")
        terminal.until_shown("2 h_")
        terminal.key("\033")
        terminal.until_shown(KEYS)
        self.assertEqual(set(control.heard), {"status"})

    def test_all_of_one_load_and_help_are_a_key_away(self):
        self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        terminal.key("r")
        terminal.until(lambda: "today: 1 h 31 min on" in terminal.screen() and
                       "Pool pump" not in terminal.screen())
        terminal.key(" ")
        terminal.until_shown("Pool pump")
        terminal.key("?")
        terminal.until_shown("Off is not isolation")

    # ---- how it ends ----

    def test_the_terminal_is_left_as_it_was(self):
        self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        self.assertFalse(terminal.modes_are_back())
        terminal.key("q")
        self.end(terminal)

    def test_also_by_a_signal(self):
        self.house()
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            terminal = self.open()
            terminal.until_shown(KEYS)
            terminal.process.send_signal(number)
            self.end(terminal)

    def test_also_when_killed(self):
        self.house()
        terminal = self.open()
        terminal.until_shown(KEYS)
        terminal.process.kill()
        self.end(terminal, -signal.SIGKILL)

    def test_without_a_terminal_it_names_what_to_use(self):
        self.assert_complains(self.sluice("watch"), 2, "a terminal is needed", "sluice status")


if __name__ == "__main__":
    main()
