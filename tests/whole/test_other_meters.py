#!/usr/bin/env python3
"""Meters and relay boards that share no code with us, in real time: python3-pymodbus and
the npm package jsmodbus serve the registers, the test changes them as a day would.

usage: test_other_meters.py BUILD-DIR SOURCE-DIR
"""
import struct
import subprocess
import sys

from case import SOURCE, Case, main
from programs import PATIENCE_S, Spoken, coils, eventually, load_of, modbus

sys.path.insert(0, str(SOURCE / "tests/peers"))
import registers

COIL = 100
SETTINGS = """
site: {{name: Other meters, timezone: Australia/Sydney, phases: 1, supply_limit: 100 A,
        margin: 0 W, start_gap: 0 s, restart_spread: 0 s, control_socket: "{socket}"}}
buses:
  line: {bus}
meters:
  grid: {{role: grid, bus: line, unit: {unit}, map: {map}, every: 200 ms, totals_every: 1 s}}
loads:
  heater:
    power: 1 kW
    phases: L1
    priority: 1
    start_fraction: 100 %
    settle_start: 0 s
    settle_stop: 0 s
    minimum_on: 0 s
    minimum_off: 0 s
    output: {{kind: coil, bus: line, unit: {unit}, address: {coil}, read_back: yes}}
storage:
  path: "{state}/ledger.db"
"""
# Holding registers that can be written from outside, as a float meter lays them out.
FLOAT_MAP = """
title: floats in holding registers
source: "invented for this test"
points:
  power: {table: holding, address: 200, type: float32, unit: W}
  voltage-l1: {table: holding, address: 202, type: float32, unit: V}
  import-energy: {table: holding, address: 204, type: float32, unit: kWh}
  export-energy: {table: holding, address: 206, type: float32, unit: kWh}
"""
# github.com/sunspec/models, json/model_203.json: offsets from the model's id.
MODEL, W, W_SF, EXPORT_WH, IMPORT_WH, WH_SF = 40070, 18, 22, 38, 46, 54


class OtherMeters(Case):
    def start_peer(self, interpreter, program, *words):
        self.peer = subprocess.Popen([interpreter, self.built.peers / program, *words],
                                     stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                     stderr=subprocess.DEVNULL, text=True)
        said = Spoken(self.peer.stdout)
        self.addCleanup(self.end_peer, said)
        return said.wait_for("^ready (.*)").group(1)

    def end_peer(self, said):
        self.peer.stdin.close()
        self.peer.wait(PATIENCE_S)
        said.close()

    def start_on(self, bus, meter_map, more=""):
        maps = self.folder / "maps"
        maps.mkdir()
        (maps / "floats.yaml").write_text(FLOAT_MAP + more)
        self.settings.write_text(SETTINGS.format(
            socket=self.folder / "control", bus=bus, unit=registers.UNIT, map=meter_map, coil=COIL,
            state=self.folder))
        self.start_in_real_time(words=("--maps", maps))

    def write(self, address, words):
        """Modbus Application Protocol V1.1b3, section 6.12: write multiple registers."""
        pdu = struct.pack(">BHHB", 16, address, len(words), 2 * len(words))
        answer = modbus(self.port, registers.UNIT, pdu + struct.pack(f">{len(words)}H", *words))
        self.assertEqual(answer, struct.pack(">BHH", 16, address, len(words)))

    def coil(self):
        return coils(self.port, 1, registers.UNIT, COIL)[0]

    def wait_for_status(self, what, condition):
        def look():
            status = self.daemon.status()
            return status if condition(status) else None
        return eventually(what, look)

    def follow_the_sun(self, set_power, set_import_kwh):
        """Spare power comes and goes: so does the coil, and the status says the same."""
        # Enough whatever power the steps make the heater seem to have: these houses do not answer.
        for power_w, on in ((-3000, True), (500, False), (-900, False), (-5000, True),
                            (300, False)):
            set_power(power_w)
            eventually(f"at {power_w} W the coil is {on}", lambda: self.coil() == on)
            status = self.wait_for_status(
                f"grid power {power_w} W", lambda s: s["reading"]["grid_power_w"] == power_w and
                load_of(s, "heater")["on"] == on and
                load_of(s, "heater")["output"] == "confirmed")
            self.assertEqual(status["reading"]["quality"], "fresh")
            self.assertEqual(status["meters"][0]["outcome"], "answered")
        self.assertEqual(load_of(status, "heater")["total"]["starts"], 2)
        # Energy is the meter's own: what its register rose by, to the watt-hour.
        before = self.daemon.status()["import_mwh"]
        set_import_kwh(1001.5)
        self.wait_for_status("1.5 kWh more", lambda s: s["import_mwh"] == before + 1_500_000)
        self.assertEqual(self.daemon.status()["troubles"], [])

    def follow_sunspec(self, bus):
        self.write(MODEL + W_SF, [0])
        self.write(MODEL + WH_SF, [0])
        self.write(MODEL + EXPORT_WH, [0, 5000])  # 0 would say that it does not count

        def set_power(power_w):
            self.write(MODEL + W, [power_w & 0xFFFF])

        def set_import_kwh(energy):
            wh = int(energy * 1000)
            self.write(MODEL + IMPORT_WH, [wh >> 16, wh & 0xFFFF])

        set_import_kwh(1000)
        self.start_on(bus, "sunspec")
        self.wait_for_status("what the peer begins with",
                             lambda s: s["reading"]["grid_power_w"] == -1234)
        self.follow_the_sun(set_power, set_import_kwh)

    def follow_floats(self, bus):
        def write_float(address, value):
            self.write(address, struct.unpack(">HH", struct.pack(">f", value)))

        write_float(202, 230.2)
        write_float(204, 1000)
        self.start_on(bus, "floats")
        self.follow_the_sun(lambda power_w: write_float(200, power_w),
                            lambda energy: write_float(204, energy))

    def tcp_bus(self):
        return f"{{host: 127.0.0.1, tcp_port: {self.port}, answer: 1 s}}"

    def test_pymodbus_serves_a_sunspec_meter_and_the_board(self):
        self.port = int(self.start_peer("/usr/bin/python3", "peer_pymodbus.py", "tcp"))
        self.follow_sunspec(self.tcp_bus())

    def test_pymodbus_serves_a_float_meter_and_the_board(self):
        self.port = int(self.start_peer("/usr/bin/python3", "peer_pymodbus.py", "tcp"))
        self.follow_floats(self.tcp_bus())

    def test_jsmodbus_serves_a_float_meter_and_the_board(self):
        if not (self.built.peers / "node_modules/jsmodbus").exists():
            self.fail("the npm peer is not installed: npm ci --prefix tests/peers")
        self.port = int(self.start_peer("node", "peer_jsmodbus.js"))
        self.follow_floats(self.tcp_bus())

    def test_a_frequency_of_500_hz_does_not_lose_the_power_beside_it(self):
        self.port = int(self.start_peer("/usr/bin/python3", "peer_pymodbus.py", "tcp"))
        for address, value in ((200, -3000), (202, 230.2), (204, 1000), (208, 500)):
            self.write(address, struct.unpack(">HH", struct.pack(">f", value)))
        self.start_on(self.tcp_bus(), "floats",
                      "  frequency: {table: holding, address: 208, type: float32, unit: Hz}\n")
        eventually("3 kW of export start the heater", lambda: self.coil())
        status = self.wait_for_status("the power is taken",
                                      lambda s: s["reading"]["grid_power_w"] == -3000)
        self.assertEqual(status["reading"]["quality"], "fresh")
        self.assertIn("frequency", str(status["troubles"]))

    def test_pymodbus_on_a_serial_line_is_read_and_switched(self):
        path = self.start_peer("/usr/bin/python3", "peer_pymodbus.py", "rtu")
        self.start_on(f"{{port: {path}, baud: 19200, parity: none, answer: 1 s}}", "sunspec")
        status = self.wait_for_status(
            "12 kW of export start the heater, and the board says so",
            lambda s: load_of(s, "heater")["on"] and
            load_of(s, "heater")["output"] == "confirmed")
        self.assertEqual(status["reading"]["grid_power_w"], -12340)
        self.daemon.order("off", "heater")
        self.wait_for_status("off, and read back as off",
                             lambda s: not load_of(s, "heater")["on"] and
                             load_of(s, "heater")["output"] == "confirmed")


if __name__ == "__main__":
    main()
