#!/usr/bin/env python3
"""Two water heaters, each with a thermometer of its own in its tank.

usage: test_tanks.py BUILD-DIR SOURCE-DIR
"""
from case import Case, main

# The relay board of the simulated house shows the top of heater k at input register 2 k.
MAP = """
title: a thermometer of the simulated house
source: "tools/simhouse/units.h"
points:
  temperature: {{table: input, address: {address}, type: int16, unit: 0.1 °C}}
"""
METERS = """meters:
  first-tank: {role: tank, load: water-heater, bus: board, unit: 10, map: tank-0, every: 1 s}
  second-tank: {role: tank, load: second-heater, bus: board, unit: 10, map: tank-1, every: 1 s}
"""
LOAD = """loads:
  second-heater:
    priority: 3
    power: 2 kW
    phases: L1
    thermostat: yes
    output: {kind: coil, bus: board, unit: 10, address: 2, read_back: yes, fail_state: off}
"""


class Tanks(Case):
    def write_maps(self):
        folder = self.folder / "maps"
        folder.mkdir()
        for k in (0, 1):
            (folder / f"tank-{k}.yaml").write_text(MAP.format(address=2 * k))
        return folder

    def test_each_heater_hears_of_its_own_tank_alone(self):
        def look():
            self.assertAlmostEqual(self.temperature("water-heater"), 40, delta=1)
            self.assertAlmostEqual(self.temperature("second-heater"), 61, delta=1)
            self.assertIsNone(self.temperature("pool-pump"))

        self.at("00:30", look)
        self.open_house("""
heater second-heater 2 kW tank 200 L set 70 C start 61 C inlet 19 C coil 2
start 2026-01-14 00:20
length 20 min
water water-heater 40 C
draws none
must second-heater hottest <= 62 C
""")
        self.fill_settings()
        self.change_settings(("meters:\n", METERS), ("loads:\n", LOAD))
        self.start(words=("--maps", self.write_maps()))
        self.play()

    def temperature(self, load):
        mc = self.daemon.load(load)["tank_temperature_mc"]
        return None if mc is None else mc / 1000


if __name__ == "__main__":
    main()
