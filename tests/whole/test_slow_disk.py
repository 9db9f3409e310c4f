#!/usr/bin/env python3
"""A disk that takes long for a flush, as cards do that are full or worn: the loop goes on,
whatever it is asked meanwhile.

usage: test_slow_disk.py BUILD-DIR SOURCE-DIR
"""
from case import BUILD, Case, main
from programs import eventually

NOBODY = "{host: 127.0.0.1, tcp_port: 1, answer: 300 ms}"
TARIFF = "tariff: {feed_in: 0.05 /kWh, import: [{price: 0.30 /kWh}]}\nbuses:"
WATER = "water: {volume: 315 L, set: 68 C, standing_loss: 2.66 kWh}"
# A heater that learns, and was never here: what the ledger may know of it is wanted.
SHED = f"""  shed-heater:
    priority: 4
    power: 2 kW
    phases: L1
    thermostat: yes
    start_fraction: learnt
    {WATER}
    output: {{kind: coil, bus: board, unit: 10, address: 5, read_back: yes, fail_state: off}}
storage:"""


class SlowDisk(Case):
    def start_slow(self, **environment):
        self.slow = self.folder / "slow"
        text = (self.built.scenarios / "house.yaml").read_text()
        for key, value in (("BUS", NOBODY), ("SOCKET", str(self.folder / "control")),
                           ("STATE", str(self.folder))):
            text = text.replace(f"@{key}@", value)
        self.settings.write_text(text)
        state = self.folder / "state"
        state.mkdir()
        self.kept = state / "accepted/sluice.yaml"
        return self.start_in_real_time(words=("--state", state), environment={
            "LD_PRELOAD": str(BUILD / "tests/whole/libslow_disk.so"), "SLOW_DISK": str(self.slow),
            "ASAN_OPTIONS": "verify_asan_link_order=0", **environment})

    def stall(self):
        """From here on a flush of the daemon's writer waits."""
        self.slow.touch()
        self.daemon.order("off", "water-heater", "1h")  # is written at once
        eventually("the writer waits", (self.folder / "slow.waiting").exists)

    def test_a_reload_with_a_load_that_learns_waits_for_no_disk(self):
        # sd_watchdog_enabled(3): in microseconds; a loop that stands still is seen by it.
        notified = self.start_slow(WATCHDOG_USEC="1500000")
        self.stall()
        self.change_settings(("buses:", TARIFF), ("storage:", SHED))
        self.daemon.order("reload")
        self.assertEqual(self.daemon.load("shed-heater")["heat"]["days_learnt"], 0)
        for _ in range(3):
            notified.wait_for("WATCHDOG=1", self.daemon)
        self.assertTrue(self.slow.exists(), "the disk is as slow as before")
        self.slow.unlink()

    def test_a_load_goes_and_comes_back_while_the_disk_is_slow(self):
        self.start_slow()
        whole = self.settings.read_text()
        pump = whole[whole.index("  pool-pump:"):whole.index("storage:")]
        self.daemon.order("inhibit", "pool-pump")
        self.stall()
        self.change_settings((pump, ""))
        self.daemon.order("reload", "--yes")
        self.settings.write_text(whole)
        self.daemon.order("reload")
        self.assertIn("pool-pump", [load["name"] for load in self.daemon.status()["loads"]])
        self.slow.unlink()

    def test_the_last_accepted_settings_are_kept_once_the_disk_is_well(self):
        notified = self.start_slow(WATCHDOG_USEC="1500000")
        eventually("the first ones are kept", self.kept.exists)
        self.stall()
        for margin in ("60 W", "70 W", "80 W"):
            text = self.settings.read_text()
            at = text.index("margin: ") + len("margin: ")
            self.settings.write_text(text[:at] + margin + text[text.index("\n", at):])
            eventually("the last change is closed",
                       lambda: self.daemon.ask("reload").returncode == 0)
        for _ in range(3):
            notified.wait_for("WATCHDOG=1", self.daemon)
        self.assertIn("margin: 50 W", self.kept.read_text())
        self.slow.unlink()
        eventually("the newest are kept", lambda: self.kept.exists() and
                   "margin: 80 W" in self.kept.read_text())


if __name__ == "__main__":
    main()
