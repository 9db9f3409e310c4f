#!/usr/bin/env python3
"""A house whose meter has a master already: sluiced listens while two processes that
know nothing of it talk, and sends nothing.

usage: test_listen.py BUILD-DIR SOURCE-DIR
"""
import subprocess
import threading

from case import Case, long, main
from programs import eventually

SETTINGS = """
site: {{name: Tapped, timezone: UTC, phases: 1, supply_limit: 63 A,
  control_socket: "{folder}/control"}}
buses:
  tap: {{port: "{path}", mode: listen, baud: 19200}}
meters:
  grid: {{role: grid, bus: tap, unit: {unit}, map: eastron-sdm630, every: 200 ms}}
loads:
  heater: {{power: 2 kW, phases: L1, output: {{kind: topic, topic: test/heater}}}}
mqtt: {{host: 127.0.0.1, port: 1}}
storage: {{path: "{folder}/ledger.db"}}
"""


class Listen(Case):
    def open_line(self):
        """Two that talk, and the tap's path; what comes from the tap is kept."""
        self.line = subprocess.Popen(
            ["/usr/bin/python3", self.built.peers / "peer_overheard.py", "16"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.addCleanup(self.line.stdout.close)
        self.addCleanup(self.line.wait)
        self.addCleanup(self.line.stdin.close)
        path = self.line.stdout.readline().split()[1]
        self.asked, self.done = [], threading.Semaphore(0)
        threading.Thread(target=self.read_line, daemon=True).start()
        return path

    def read_line(self):
        for text in self.line.stdout:
            if text.startswith("asked"):
                self.asked.append(text)
            elif text == "done\n":
                self.done.release()

    def order(self, text):
        self.line.stdin.write(text + "\n")
        self.line.stdin.flush()
        self.assertTrue(self.done.acquire(timeout=30))

    def listen_to(self, unit):
        path = self.open_line()
        self.settings.write_text(SETTINGS.format(folder=self.folder, path=path, unit=unit))
        self.start_in_real_time()

    def status_after_a_round(self):
        self.order("round")
        return self.daemon.status()

    def test_readings_are_overheard_and_nothing_is_sent(self):
        self.listen_to(17)

        def fresh():
            status = self.status_after_a_round()
            return status if status["reading"]["quality"] == "fresh" else None

        status = eventually("a reading that was overheard", fresh)
        self.assertEqual(status["reading"]["grid_power_w"], -1500)
        bus = eventually("counts of the bus", lambda: [
            unit for unit in self.status_after_a_round()["buses"][0]["units"] if unit["answered"]])
        self.assertEqual(bus[0]["unit"], 17)
        self.assertEqual(self.daemon.status()["buses"][0]["mode"], "listen")
        self.assertEqual(self.asked, [])

    @long
    def test_two_masters_that_talk_into_each_other_are_a_trouble_that_is_said(self):
        questions = "1103006b00037687" + "110400080001b298"  # of the standard's examples
        self.listen_to(17)
        self.order("say " + 4 * questions)
        eventually("the trouble", lambda: any("two masters poll at once" in trouble for trouble
                                              in self.status_after_a_round()["troubles"]))

    def test_a_unit_that_nobody_asks_gives_no_reading_and_is_named(self):
        self.listen_to(18)
        eventually("the words", lambda: self.status_after_a_round()["meters"][0]["detail"]
                   == "no master has polled unit 18 yet")
        self.assertEqual(self.daemon.status()["reading"]["quality"], "absent")
        self.assertEqual(self.asked, [])


if __name__ == "__main__":
    main()
