#!/usr/bin/env python3
"""The unit's stop helper, `sluiced --fail-state`, after a daemon that was killed.

usage: test_fail_state.py BUILD-DIR SOURCE-DIR
"""
import subprocess
import time

from case import Case, main
from programs import PATIENCE_S, coils, set_coil

HELPER_S = 15  # its patience with a board is 10 s; the unit gives it 30


class FailState(Case):
    def run_helper(self):
        begun = time.monotonic()
        run = subprocess.run([self.built.sluiced, "--fail-state", "--settings", self.settings,
                              "--maps", self.built.maps], stderr=subprocess.PIPE, text=True,
                             timeout=PATIENCE_S)
        self.took_s = time.monotonic() - begun
        return run

    def play_with(self, act, text=""):
        """A house whose heater and pump have been ordered on; `act` at half past ten."""
        def order():
            for load in ("water-heater", "pool-pump"):
                self.daemon.order("on", load, "2h")

        def kill():
            self.daemon.kill()
            act()
            self.start()

        self.at("10:25", order)
        self.at("10:30", kill)
        self.open_house(f"""
start 2026-01-14 10:20
length 15 min
water water-heater 20 C
draws none
must water-heater relay on 10:26..10:30; pool-pump relay on 10:26..10:30
{text}
""")
        self.fill_settings()
        self.start()
        self.play()

    def test_every_coil_goes_to_its_fail_state(self):
        def act():
            self.assertEqual(coils(self.house.port), [True, True], "the board keeps what it has")
            run = self.run_helper()
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assertEqual(coils(self.house.port), [False, False])
            for load in ("water-heater", "pool-pump"):
                self.assertRegex(run.stderr, f"{load}: fail state confirmed")
            again = self.run_helper()
            self.assertEqual(again.returncode, 0, again.stderr)
            self.assertEqual(coils(self.house.port), [False, False])

        self.play_with(act, "must water-heater relay off 10:30..10:34")

    def test_on_is_a_fail_state_too_and_a_normally_closed_contact_is_let_go(self):
        def act():
            self.change_settings(("address: 0, read_back: yes, fail_state: off",
                                  "address: 0, read_back: yes, fail_state: on"),
                                 ("address: 1, read_back: yes, fail_state: off",
                                  "address: 1, read_back: yes, normally_closed: yes, "
                                  "fail_state: on"),
                                 ("power: 1.1 kW", "power: 1.1 kW\n    thermostat: yes"))
            set_coil(self.house.port, 0, False)
            set_coil(self.house.port, 1, True)
            run = self.run_helper()
            self.assertEqual(run.returncode, 0, run.stderr)
            self.assertEqual(coils(self.house.port), [True, False])
            self.change_settings(("fail_state: on", "fail_state: off"),
                                 ("normally_closed: yes, ", ""))

        self.play_with(act)

    def test_a_silent_board_is_named_within_its_patience(self):
        def act():
            run = self.run_helper()
            self.assertNotIn(run.returncode, (0, None))
            self.assertGreater(run.returncode, 0, "it ended by itself")
            self.assertLess(self.took_s, HELPER_S)
            for load in ("water-heater", "pool-pump"):
                self.assertRegex(run.stderr, f"{load}: fail state (failed|unsafe|pending):"
                                             " .*silent")

        self.play_with(act, "at 10:29:59 fault relay silent until 10:31")

    def test_one_board_that_is_gone_does_not_keep_the_other_on(self):
        def act():
            # The pump's board is where nobody listens.
            self.change_settings(("buses:\n", "buses:\n  shed: {host: 127.0.0.1, tcp_port: 1, "
                                              "answer: 300 ms}\n"),
                                 ("kind: coil, bus: board, unit: 10, address: 1",
                                  "kind: coil, bus: shed, unit: 10, address: 1"))
            run = self.run_helper()
            self.assertGreater(run.returncode, 0)
            self.assertLess(self.took_s, HELPER_S)
            self.assertRegex(run.stderr, "water-heater: fail state confirmed")
            self.assertRegex(run.stderr, "pool-pump: fail state (failed|unsafe|pending): .+")
            self.assertEqual(coils(self.house.port), [False, True])
            self.change_settings(("bus: shed", "bus: board"))

        self.play_with(act)


if __name__ == "__main__":
    main()
