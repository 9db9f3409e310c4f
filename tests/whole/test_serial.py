#!/usr/bin/env python3
"""The same house over Modbus RTU, on a pseudo-terminal in place of a serial adapter.

usage: test_serial.py BUILD-DIR SOURCE-DIR
"""
from case import Case, main
from programs import coils


class Serial(Case):
    def play_on_the_line(self, text):
        self.open_house(text, pty=True)
        self.fill_settings()
        self.start()
        return self.play()

    def test_the_end_of_a_wet_morning_waits_for_the_sun(self):
        self.play_on_the_line("""
start 2026-01-14 11:20
length 1 h 40 min
water water-heater 40 C
draws none
pv 6.6 kWp wet-morning seed 3
must water-heater relay off 11:20..12:00
must water-heater drawing >= 30 min
must water-heater grid-energy <= 0.3 kWh
must water-heater shortest-run >= 5 min; water-heater shortest-rest >= 5 min
""")

    def test_an_adapter_that_is_pulled_out_and_put_back_is_used_again(self):
        def pulled():
            status = self.daemon.status()
            self.assertEqual(status["reading"]["quality"], "stale")
            self.assertTrue(any("board" in trouble for trouble in status["troubles"]),
                            status["troubles"])

        def back():
            status = self.daemon.status()
            self.assertEqual(status["reading"]["quality"], "fresh")
            self.assertEqual(status["troubles"], [])

        self.at("10:57", pulled)
        self.at("11:10", back)
        self.play_on_the_line("""
start 2026-01-14 10:30
length 50 min
water water-heater 20 C
draws none
at 10:55 fault bus gone for 5 min
must water-heater relay on 10:50..10:55
must water-heater relay on 11:15..11:20
must water-heater cycles <= 2
""")

    def test_a_killed_daemon_finds_the_relay_on_at_the_end_of_the_line(self):
        def kill():
            self.assertTrue(coils(self.house.port)[0])
            self.daemon.kill()
            self.start()

        def look():
            self.daemon.said.wait_for("water-heater: found on and remembered on")

        self.at("11:00", kill)
        self.at("11:00:02", look)
        self.play_on_the_line("""
start 2026-01-14 10:30
length 40 min
water water-heater 20 C
draws none
must water-heater relay on 10:50..11:10
must water-heater cycles = 1
""")

    def test_noise_on_the_line_costs_readings_and_nothing_else(self):
        self.play_on_the_line("""
start 2026-01-14 10:30
length 40 min
water water-heater 20 C
draws none
at 10:50 fault meter corrupt until 10:50:05; at 10:52 fault relay corrupt until 10:52:02
at 10:54 fault meter garbage until 10:54:05; at 10:56 fault meter wrong-unit until 10:56:05
at 10:58 fault meter truncated until 10:58:05; at 11:00 fault meter late 400 ms until 11:00:05
must water-heater relay on 10:45..11:10
must water-heater cycles = 1
""")


if __name__ == "__main__":
    main()
