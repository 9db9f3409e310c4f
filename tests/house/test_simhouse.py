#!/usr/bin/python3
"""simhouse from outside: pymodbus reads it, raw sockets see its faults, and a
lock-step clock of our own turns its day.

usage: test_simhouse.py SIMHOUSE FAKE_DAEMON [unittest arguments]
"""
import os
import select
import socket
import struct
import subprocess
import sys
import tempfile
import time
import unittest

from pymodbus.client import ModbusTcpClient

SIMHOUSE, FAKE_DAEMON = sys.argv[1:3]

HOUSE = """
zone Australia/Sydney
start 2026-01-14 12:00
length 1 h
seed 3
supply 3 phases
use base 300 W
heater water-heater 3.6 kW tank 250 L start 30 C coil 0 phase L2
pump pool-pump 1.1 kW coil 1 phase L3
charger car battery 60 kWh charged 20 kWh most 32 A unit 11 register 100 phase L1
submeter 21 on water-heater
"""


def crc16(data):
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return struct.pack("<H", crc)


class House:
    """simhouse with a scenario, and we are its daemon."""

    def __init__(self, text, pty=False):
        self.folder = tempfile.TemporaryDirectory()
        self.scenario = self.path("scenario.txt")
        with open(self.scenario, "w") as file:
            file.write(text)
        arguments = [SIMHOUSE, "--scenario", self.scenario, "--tcp", "0", "--clock", self.path("clock")]
        if pty:
            arguments += ["--pty", self.path("bus")]
        self.process = subprocess.Popen(arguments, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.port = None
        for line in self.process.stdout:
            if line.startswith("ready tcp "):
                self.port = int(line.split()[2])
            if line.startswith("ready clock "):
                break
        self.moment = None
        self.connect()
        self.modbus = ModbusTcpClient("127.0.0.1", port=self.port, timeout=3)
        self.modbus.connect()

    def path(self, name):
        return os.path.join(self.folder.name, name)

    def connect(self):
        self.clock = socket.socket(socket.AF_UNIX)
        self.clock.connect(self.path("clock"))
        self.lines = self.clock.makefile("r")
        self.take()

    def take(self):
        line = self.lines.readline().split()
        self.moment = tuple(int(word) for word in line[1:]) if line else None

    def step(self, steps=1):
        for _ in range(steps):
            self.clock.sendall(b"done\n")
            self.take()

    def finish(self):
        while self.moment:
            self.step()
        return self.end()

    def end(self):
        self.modbus.close()
        self.clock.close()
        self.lines.close()
        out, err = self.process.communicate(timeout=30)
        self.folder.cleanup()
        return self.process.returncode, out, err

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.kill()
        self.modbus.close()
        self.clock.close()
        self.lines.close()
        self.process.communicate()
        self.folder.cleanup()

    # -- what the house shows -------------------------------------------------

    def holding(self, unit, address, count):
        return self.modbus.read_holding_registers(address, count, slave=unit).registers

    def float_at(self, unit, address):
        words = self.modbus.read_input_registers(address, 2, slave=unit).registers
        return struct.unpack(">f", struct.pack(">HH", *words))[0]

    def grid_w(self):
        return self.float_at(1, 0x34)

    def coil(self, coil, on):
        return self.modbus.write_coil(coil, on, slave=10)


def signed(word):
    return word - 0x10000 if word & 0x8000 else word


class Raw:
    """One TCP connection, bytes as they are."""

    READ_W = struct.pack(">HHHBBHH", 7, 0, 6, 1, 4, 0x34, 2)

    def __init__(self, house):
        self.peer = socket.create_connection(("127.0.0.1", house.port))

    def ask(self, request=READ_W, wait=0.3):
        self.peer.sendall(request)
        return self.hear(wait)

    def hear(self, wait):
        ready, _, _ = select.select([self.peer], [], [], wait)
        return self.peer.recv(300) if ready else None

    def close(self):
        self.peer.close()


class Shows(unittest.TestCase):
    def walk(self, house, unit):
        words = house.holding(unit, 40000, 2)
        self.assertEqual(struct.pack(">HH", *words), b"SunS")
        address, chain = 40002, []
        while True:
            model, length = house.holding(unit, address, 2)
            if model == 0xFFFF:
                return chain
            chain.append((model, length, address))
            address += 2 + length

    def test_the_meter_has_the_chain_of_the_published_models(self):
        # github sunspec/models: lengths of models 1 and 203; first model at 40070.
        with House(HOUSE) as house:
            self.assertEqual(self.walk(house, 1), [(1, 66, 40002), (203, 105, 40070)])

    def test_the_two_views_of_the_meter_agree(self):
        with House(HOUSE) as house:
            house.coil(0, True)
            house.step(5)
            body = house.holding(1, 40070, 107)
            scale = 10.0 ** signed(body[22])
            self.assertAlmostEqual(signed(body[18]) * scale, house.grid_w(), delta=0.6)
            for phase in range(3):
                self.assertAlmostEqual(signed(body[19 + phase]), house.float_at(1, 0x0C + 2 * phase), delta=0.6)
                self.assertAlmostEqual(body[8 + phase] / 10, house.float_at(1, 2 * phase), delta=0.11)
            self.assertAlmostEqual(sum(signed(w) for w in body[19:22]), signed(body[18]), delta=2)
            imported = body[46] << 16 | body[47]
            self.assertAlmostEqual(imported / 1000, house.float_at(1, 0x48), delta=0.02)

    def test_model_213_is_floats(self):
        with House(HOUSE + "meter model 213\n") as house:
            self.assertEqual(self.walk(house, 1), [(1, 66, 40002), (213, 124, 40070)])
            house.step()
            words = house.holding(1, 40070 + 28, 2)
            self.assertAlmostEqual(struct.unpack(">f", struct.pack(">HH", *words))[0], house.grid_w(), delta=0.1)

    def test_the_inverter_says_when_it_is_throttled(self):
        # SunSpec model 103: St 4 is MPPT, 5 is THROTTLED.
        sun = HOUSE + "pv 6.6 kWp clear at -33.9 151.2 phase L1,L2,L3 "
        with House(sun + "\n") as house:
            house.step()
            self.assertEqual(self.walk(house, 2), [(1, 66, 40002), (103, 50, 40070)])
            body = house.holding(2, 40070, 52)
            self.assertEqual(body[38], 4)
            self.assertGreater(signed(body[14]), 4000)
            self.assertLess(house.grid_w(), -3500)
        with House(sun + "export-limit 1 kW\n") as house:
            house.step()
            body = house.holding(2, 40070, 52)
            self.assertEqual(body[38], 5)
            self.assertAlmostEqual(house.grid_w(), -1000, delta=1)

    def test_a_relay_switches_a_load_on_its_phase_and_reads_back(self):
        with House(HOUSE) as house:
            house.step()
            before = [house.float_at(1, 0x0C + 2 * phase) for phase in range(3)]
            house.coil(0, True)
            self.assertTrue(house.modbus.read_coils(0, 1, slave=10).bits[0])
            self.assertEqual(house.holding(10, 0, 2), [1, 0])
            house.step()
            volts = house.float_at(1, 2)
            after = [house.float_at(1, 0x0C + 2 * phase) for phase in range(3)]
            self.assertAlmostEqual(after[1] - before[1], 3600 * (volts / 240) ** 2, delta=120)
            self.assertAlmostEqual(after[0], before[0], delta=30)
            self.assertAlmostEqual(house.float_at(21, 0x0C), after[1] - after[0], delta=60)
            house.modbus.write_register(0, 0, slave=10)
            self.assertFalse(house.modbus.read_coils(0, 1, slave=10).bits[0])
            house.step()
            self.assertAlmostEqual(house.float_at(21, 0x0C), 0)

    def test_a_car_follows_its_set_point(self):
        with House(HOUSE) as house:
            house.modbus.write_register(100, 100, slave=11)  # 10 A
            house.step(5)
            high, low, amps, state = house.modbus.read_input_registers(0, 4, slave=11).registers
            self.assertAlmostEqual(amps, 1000, delta=10)
            self.assertEqual(state, 2)
            self.assertAlmostEqual((high << 16 | low), 10 * house.float_at(1, 0), delta=15)
            house.modbus.write_register(100, 59, slave=11)  # 5.9 A: none
            house.step(5)
            self.assertEqual(house.modbus.read_input_registers(0, 4, slave=11).registers[2:], [0, 1])

    def test_a_battery_holds_the_meter_at_zero_and_tells_its_own_power(self):
        # At noon in January 6.6 kW of panels give some 5 kW; the battery takes 6.
        sun = HOUSE + "pv 6.6 kWp clear at -33.9 151.2\nbattery 6 kW capacity 10 kWh charged 4 kWh phase L2\n"
        with House(sun) as house:
            house.step(10)
            self.assertAlmostEqual(house.grid_w(), 0, delta=60)
            self.assertGreater(house.float_at(12, 0x34), 4000)
            self.assertAlmostEqual(house.float_at(12, 0x0E), house.float_at(12, 0x34), delta=0.2)
            self.assertEqual(house.holding(12, 0, 1), [401])  # 0.1 %: 10 s of 5 kW are 0.01 kWh
            house.coil(0, True)
            house.coil(1, True)
            house.step(10)
            self.assertAlmostEqual(house.grid_w(), 0, delta=60)
            self.assertLess(house.float_at(12, 0x34), 1000)

    def test_an_inverted_meter_counts_the_other_way(self):
        plain = HOUSE + "meter import 100 kWh export 2 kWh"
        with House(plain + "\n") as right, House(plain + " inverted\n") as wrong:
            for house in right, wrong:
                house.coil(0, True)
                house.step(60)
            self.assertGreater(right.grid_w(), 3000)
            self.assertAlmostEqual(wrong.grid_w(), -right.grid_w(), delta=0.2)
            self.assertAlmostEqual(wrong.float_at(1, 0x0E), -right.float_at(1, 0x0E), delta=0.2)
            self.assertAlmostEqual(wrong.float_at(1, 0x4A), right.float_at(1, 0x48))
            self.assertAlmostEqual(wrong.float_at(1, 0x48), right.float_at(1, 0x4A))

    def test_meters_take_no_orders_and_strangers_get_0x0b(self):
        with House(HOUSE) as house:
            self.assertEqual(house.modbus.write_register(40000, 1, slave=1).exception_code, 1)
            self.assertEqual(house.modbus.read_holding_registers(0, 1, slave=77).exception_code, 0x0B)
            self.assertEqual(house.modbus.read_holding_registers(39000, 1, slave=1).exception_code, 2)

    def test_half_a_request_holds_nobody_up(self):
        with House(HOUSE) as house:
            half, whole = Raw(house), Raw(house)
            half.peer.sendall(Raw.READ_W[:9])
            self.assertEqual(len(whole.ask(wait=2)), 13)
            self.assertEqual(len(half.ask(Raw.READ_W[9:], wait=2)), 13)
            half.close(), whole.close()

    def test_two_requests_at_once_get_two_answers(self):
        with House(HOUSE) as house:
            raw = Raw(house)
            answers = raw.ask(Raw.READ_W + Raw.READ_W, wait=2)
            while len(answers) < 26:
                answers += raw.hear(2)
            self.assertEqual(len(answers), 26)
            raw.close()


class Faults(unittest.TestCase):
    def ask_under(self, fault, **more):
        """The answer before the fault, and under it."""
        with House(HOUSE + "at +2 s fault meter %s for 3 s\n" % fault) as house:
            raw = Raw(house)
            house.step()
            good = raw.ask(wait=2)
            house.step()
            bad = raw.ask(**more)
            house.step(4)
            raw.close()
            raw = Raw(house)
            self.assertEqual(len(raw.ask(wait=2)), 13)
            raw.close()
        self.assertEqual(len(good), 13)
        return good, bad

    def test_silent(self):
        self.assertIsNone(self.ask_under("silent")[1])

    def test_garbage(self):
        good, bad = self.ask_under("garbage")
        self.assertNotEqual(good[:9], bad[:9])

    def test_corrupt(self):
        good, bad = self.ask_under("corrupt")
        self.assertEqual(bad[2:4], b"\0\1")

    def test_wrong_unit(self):
        self.assertEqual(self.ask_under("wrong-unit")[1][6], 2)

    def test_truncated(self):
        self.assertEqual(len(self.ask_under("truncated")[1]), 6)

    def test_exception(self):
        self.assertEqual(self.ask_under("exception 6")[1][7:], b"\x84\x06")

    def test_nan(self):
        self.assertEqual(self.ask_under("nan")[1][9:], b"\x7f\xc0\0\0")

    def test_stuck(self):
        good, bad = self.ask_under("stuck")
        self.assertEqual(good, bad)

    def test_jump(self):
        self.assertEqual(struct.unpack(">f", self.ask_under("jump -45 kW")[1][9:])[0], -45000)

    def test_late(self):
        with House(HOUSE + "at +1 s fault meter late 400 ms\n") as house:
            house.step()
            raw = Raw(house)
            began = time.monotonic()
            self.assertEqual(len(raw.ask(wait=5)), 13)
            self.assertGreaterEqual(time.monotonic() - began, 0.39)
            raw.close()

    def test_previous_answer(self):
        volts = struct.pack(">HHHBBHH", 8, 0, 6, 1, 4, 0, 2)
        with House(HOUSE + "at +1 s fault meter previous-answer\n") as house:
            raw = Raw(house)
            first = raw.ask(wait=2)
            house.step()
            second = raw.ask(volts, wait=2)
            self.assertEqual(second[:2], b"\0\x08")  # the present transaction
            self.assertEqual(second[2:], first[2:])  # and the answer to the question before
            raw.close()

    def test_sunspec_values_can_be_absent(self):
        for model, address, absent in ((203, 18, [0x8000]), (213, 28, [0x7FC0, 0])):
            with House(HOUSE + "meter model %d\nat +1 s fault meter nan\n" % model) as house:
                house.step()
                self.assertEqual(house.holding(1, 40070 + address, len(absent)), absent)

    def test_a_relay_that_refuses(self):
        with House(HOUSE + "at +1 s fault relay refuse\n") as house:
            house.step()
            self.assertEqual(house.coil(0, True).exception_code, 4)
            self.assertFalse(house.modbus.read_coils(0, 1, slave=10).bits[0])

    def test_a_relay_that_says_yes_and_does_not(self):
        with House(HOUSE + "at +1 s fault relay ignore\n") as house:
            house.step()
            self.assertFalse(house.coil(0, True).isError())
            self.assertFalse(house.modbus.read_coils(0, 1, slave=10).bits[0])
            house.step(2)
            self.assertLess(house.grid_w(), 500)

    def test_a_welded_contactor_draws_while_its_coil_is_off(self):
        with House(HOUSE + "at +1 s fault water-heater welded\n") as house:
            house.step(3)
            self.assertFalse(house.modbus.read_coils(0, 1, slave=10).bits[0])
            self.assertGreater(house.grid_w(), 3000)

    def test_an_open_coil_and_a_broken_element_draw_nothing(self):
        for fault in ("coil-open", "element-broken", "thermostat-open"):
            with House(HOUSE + "at +1 s fault water-heater %s\n" % fault) as house:
                house.step()
                house.coil(0, True)
                house.step(2)
                self.assertLess(house.grid_w(), 500)

    def test_a_unit_may_answer_with_anothers_values(self):
        with House(HOUSE + "at +2 s fault meter answers-of 21 for 2 s\n") as house:
            house.coil(0, True)
            house.coil(1, True)
            house.step()
            self.assertGreater(house.grid_w(), house.float_at(21, 0x34) + 1000)
            house.step()
            self.assertEqual(house.grid_w(), house.float_at(21, 0x34))
            house.step(2)
            self.assertGreater(house.grid_w(), house.float_at(21, 0x34) + 1000)

    def phases_under(self, fault):
        with House(HOUSE + "use air-conditioner 12:00-13:00 2 kW phase L1\nat +2 s fault meter %s for 2 s\n" % fault) as house:
            house.coil(0, True)  # 3.4 kW on L2
            seen = []
            for _ in range(5):
                house.step()
                seen.append([house.float_at(1, 0x0C + 2 * phase) for phase in range(3)] + [house.grid_w()])
        for sound in seen[0], seen[4]:
            for w, expected in zip(sound, (2100, 3400, 100, 5600)):
                self.assertAlmostEqual(w, expected, delta=150)
        return seen[2]

    def test_transformers_of_the_meter(self):
        for fault, expected in (("ct-reversed L1", (-2100, 3400, 100, 1400)), ("ct-reversed", (-2100, -3400, -100, -5600)),
                                ("ct-reversed L1,L3", (-2100, 3400, -100, 1200)),
                                ("exchanged L1,L2", (3400, 2100, 100, 5600)),
                                ("cts-exchanged L1,L2", (-1700, -1050, 100, -2650))):
            for w, wanted in zip(self.phases_under(fault), expected):
                self.assertAlmostEqual(w, wanted, delta=150, msg=fault)

    def test_a_meter_tells_as_finely_as_it_can(self):
        for resolution in (1, 10, 100):
            with House(HOUSE + "meter resolution %d W noise 30 W\n" % resolution) as house:
                seen = set()
                for _ in range(20):
                    house.step()
                    seen.add(house.grid_w())
                    self.assertEqual(house.grid_w() % resolution, 0)
                self.assertGreater(len(seen), 1)

    def test_a_meter_may_renew_its_values_now_and_then(self):
        with House(HOUSE + "meter renewed-every 5 s\n") as house:
            seen = []
            for _ in range(10):
                house.step()
                seen.append(house.grid_w())
            self.assertEqual(len(set(seen[4:9])), 1)
            self.assertEqual(len(set(seen)), 3)

    def test_outside_its_supply_hours_a_load_has_no_supply(self):
        with House(HOUSE.replace("coil 0 phase L2", "coil 0 phase L2 supply-hours 22:00-12:00:05,12:00:10-13:00")) as house:
            house.coil(0, True)
            drawn = []
            for _ in range(12):
                house.step()
                drawn.append(house.float_at(21, 0x0C) > 0)
            self.assertEqual(drawn, [True] * 5 + [False] * 5 + [True] * 2)

    def test_random_appliances_and_draws(self):
        chances = ("use random shower-heater 3.6 kW 40 a day for 1 min to 2 min between 11:00-13:00 spread 5 % "
                   "phase L1 cycle 20 s on 10 s off\ndraws random 2000 L a day\n")
        with House(HOUSE + chances + "start 2026-01-14 08:00\n") as house:
            house.step(900)
            self.assertLess(house.modbus.read_input_registers(1, 1, slave=10).registers[0], 290)  # bottom
        with House(HOUSE + chances) as house:
            seen = []
            for _ in range(900):
                house.step()
                seen.append(house.float_at(1, 0x0C))
        high = [w for w in seen if w > 2000]
        self.assertGreater(len(high), 100)
        self.assertLess(len(high), 600)
        self.assertLess(max(high), 3600 * 1.05 + 200)

    def heater_under(self, faults, on=True):
        """What the heater draws, by a meter in its line, second by second from the start."""
        with House(HOUSE + faults) as house:
            house.coil(0, on)
            drawn = []
            for _ in range(6):
                house.step()
                drawn.append(house.float_at(21, 0x0C))
        return drawn

    def test_faults_of_a_load_begin_and_end(self):
        whole = self.heater_under("")[-1]
        for fault, share in (("element-left 1/2", 1 / 2), ("element-left 67 %", 0.67), ("element-left 1/3", 1 / 3),
                             ("element-resistance 125 %", 0.8), ("breaker-off", 0), ("supply-off", 0),
                             ("cut-out-open", 0), ("hot-leak 5 L/h", 1), ("element-drift 5 % a year", 1),
                             ("element-left 0 % phase L2", 0), ("element-left 0 % phase L1", 1)):
            drawn = self.heater_under("at +2 s fault water-heater %s for 2 s\n" % fault)
            for second, expected in enumerate((1, 1, share, share, 1, 1)):
                self.assertAlmostEqual(drawn[second] / whole, expected, delta=0.03, msg=fault)

    def test_faults_of_a_load_add_up_until_they_are_repaired(self):
        drawn = self.heater_under("at +1 s fault water-heater bypassed\nat +2 s fault water-heater element-left 1/2\n"
                                  "at +3 s fault water-heater breaker-off for 1 s\n"
                                  "at +5 s fault water-heater none\n", on=False)
        for second, expected in enumerate((0, 3400, 1700, 0, 1700, 0)):
            self.assertAlmostEqual(drawn[second], expected, delta=200)

    def test_the_bus_goes_and_comes_back(self):
        with House(HOUSE + "at +1 s fault bus gone for 2 s\n", pty=True) as house:
            raw = Raw(house)
            self.assertEqual(len(raw.ask(wait=2)), 13)
            house.step()
            self.assertEqual(raw.hear(2), b"")
            self.assertRaises(OSError, socket.create_connection, ("127.0.0.1", house.port))
            self.assertFalse(os.path.lexists(house.path("bus")))
            house.step(2)
            back = Raw(house)
            self.assertEqual(len(back.ask(wait=2)), 13)
            self.assertTrue(os.path.exists(house.path("bus")))
            raw.close(), back.close()


class Board(unittest.TestCase):
    """The discrete inputs of a board, function 2."""

    def watch(self, text, steps, coils=(), count=8):
        with House(HOUSE + text) as house:
            for coil in coils:
                house.coil(coil, True)
            seen = []
            for _ in range(steps):
                seen.append([int(bit) for bit in house.modbus.read_discrete_inputs(0, count, slave=10).bits[:count]])
                house.step()
        return seen

    def test_voltage_and_contactor_are_sensed(self):
        wires = "input 0 voltage water-heater\ninput 1 contactor water-heater\ninput 3 voltage water-heater inverted\n"
        for fault, coils, expected in (("", (), [0, 0, 0, 1]), ("", (0,), [1, 1, 0, 0]), ("breaker-off", (0,), [0, 1, 0, 1]),
                                       ("coil-open", (0,), [0, 0, 0, 1]), ("welded", (), [1, 1, 0, 0]),
                                       ("bypassed", (), [1, 0, 0, 0])):
            event = "at +0 s fault water-heater %s\n" % fault if fault else ""
            self.assertEqual(self.watch(wires + event, 3, coils)[2][:4], expected, fault)

    def test_a_button_is_pressed_and_held(self):
        seen = self.watch("input 2 button boost\nat +2 s press boost\nat +4 s hold boost for 3 s\nat +9 s hold boost\n", 12)
        self.assertEqual([row[2] for row in seen], [0, 0, 1, 0, 1, 1, 1, 0, 0, 1, 1, 1])

    def test_a_press_between_two_steps_is_seen_for_one(self):
        seen = self.watch("step 5 s\ninput 2 button boost\nat +6 s press boost\n", 5)
        self.assertEqual([row[2] for row in seen], [0, 0, 1, 0, 0])

    def test_somebody_turns_the_switch(self):
        text = ("input 0 voltage water-heater\ninput 4 hand water-heater\ninput 5 auto water-heater\n"
                "at +2 s turn water-heater hand\nat +4 s turn water-heater off\nat +6 s turn water-heater auto\n")
        seen = self.watch(text, 9)
        self.assertEqual([row[4] for row in seen], [0, 0, 1, 1, 0, 0, 0, 0, 0])
        self.assertEqual([row[5] for row in seen], [1, 1, 0, 0, 0, 0, 1, 1, 1])
        self.assertEqual([row[0] for row in seen], [0, 0, 0, 1, 1, 0, 0, 0, 0])

    def test_inputs_that_stand_still(self):
        seen = self.watch("input 2 button boost\nat +1 s fault relay stuck for 2 s\nat +2 s hold boost\n", 5)
        self.assertEqual([row[2] for row in seen], [0, 0, 0, 1, 1])

    def test_a_lamp_is_a_coil(self):
        with House(HOUSE + "length 10 s\nlamp boost-lamp coil 8\n"
                   "must boost-lamp relay on 12:00:05..12:00:08\n") as house:
            house.step(4)
            house.coil(8, True)
            self.assertTrue(house.modbus.read_coils(8, 1, slave=10).bits[0])
            house.step(5)
            self.assertEqual(house.finish()[0], 0)

    def test_a_meter_has_no_inputs(self):
        with tempfile.NamedTemporaryFile("w", suffix=".txt") as file:
            file.write(HOUSE + "input 0 voltage water-heater unit 1\n")
            file.flush()
            run = subprocess.run([SIMHOUSE, "--scenario", file.name, "--tcp", "0"], capture_output=True, text=True)
        self.assertEqual((run.returncode, run.stderr), (2, "simhouse: unit 1 has no inputs\n"))


class Serial(unittest.TestCase):
    @staticmethod
    def ask(bus, pdu, wait=0.3):
        os.write(bus, pdu + crc16(pdu))
        ready, _, _ = select.select([bus], [], [], wait)
        return os.read(bus, 300) if ready else b""

    def test_several_units_share_a_line(self):
        with House(HOUSE, pty=True) as house:
            bus = os.open(house.path("bus"), os.O_RDWR | os.O_NOCTTY)
            answer = self.ask(bus, struct.pack(">BBHH", 1, 4, 0x34, 2), 2)
            self.assertEqual((answer[:3], answer[7:]), (b"\1\4\4", crc16(answer[:7])))
            switch = struct.pack(">BBHH", 10, 5, 0, 0xFF00)
            self.assertEqual(self.ask(bus, switch, 2)[:6], switch)
            both = struct.pack(">BBHHBB", 10, 15, 0, 2, 1, 3)
            self.assertEqual(self.ask(bus, both, 2)[:6], both[:6])
            self.assertEqual(self.ask(bus, struct.pack(">BBHH", 10, 1, 0, 2), 2)[3] & 3, 3)
            os.close(bus)

    def test_strangers_and_broken_frames_get_silence(self):
        with House(HOUSE, pty=True) as house:
            bus = os.open(house.path("bus"), os.O_RDWR | os.O_NOCTTY)
            self.assertEqual(self.ask(bus, struct.pack(">BBHH", 77, 4, 0, 2)), b"")
            os.write(bus, b"\1\4\0\x34\0\2\0\0")  # wrong CRC
            self.assertEqual(select.select([bus], [], [], 0.2)[0], [])
            self.assertEqual(len(self.ask(bus, struct.pack(">BBHH", 1, 4, 0x34, 2), 2)), 9)
            os.close(bus)

    def test_faults_on_the_line(self):
        read = struct.pack(">BBHH", 1, 4, 0x34, 2)
        for fault, holds in (("corrupt", lambda a: a[-2:] != crc16(a[:-2])),
                             ("wrong-unit", lambda a: a[0] == 2 and a[-2:] == crc16(a[:-2])),
                             ("truncated", lambda a: len(a) == 4),
                             ("silent", lambda a: a == b"")):
            with House(HOUSE + "at +1 s fault meter %s\n" % fault, pty=True) as house:
                house.step()
                bus = os.open(house.path("bus"), os.O_RDWR | os.O_NOCTTY)
                self.assertTrue(holds(self.ask(bus, read)), fault)
                os.close(bus)


class Days(unittest.TestCase):
    SHORT = HOUSE.replace("length 1 h", "length 10 s")

    def test_time_goes_by_the_step_and_the_clock_does_as_it_is_told(self):
        text = self.SHORT + "at +2 s clock +1 h\nat +4 s clock untrusted\nat +6 s clock right\n"
        with House(text) as house:
            noon = 1768352400000  # 2026-01-14 12:00 in Sydney, UTC+11
            seen = []
            while house.moment:
                seen.append((house.moment[0] - 60000, house.moment[1] - noon, house.moment[2]))
                house.step()
            self.assertEqual(seen[:3], [(0, 0, 1), (1000, 1000, 1), (2000, 3602000, 1)])
            self.assertEqual(seen[4:7], [(4000, 3604000, 0), (5000, 3605000, 0), (6000, 6000, 1)])
            self.assertEqual(len(seen), 10)

    def test_a_clock_at_1970(self):
        with House(self.SHORT + "clock 1970\n") as house:
            house.step(3)
            self.assertEqual(house.moment[1:], (3000, 0))

    def test_a_day_that_keeps_its_promises_ends_with_0(self):
        with House(self.SHORT + "must water-heater relay off\nmust import >= 0.0001 kWh\n") as house:
            status, out, err = house.finish()
            self.assertEqual((status, err), (0, ""))
            self.assertIn("musts 2\nbroken 0\n", out)

    def test_a_broken_promise_names_its_line_and_what_was_seen(self):
        text = self.SHORT + "must water-heater relay off 12:00:02..12:00:08\n"
        with House(text) as house:
            house.step(4)
            house.coil(0, True)
            status, _, err = house.finish()
            line = len(text.splitlines())
            self.assertEqual(status, 1)
            self.assertIn(":%d: must water-heater relay off 12:00:02..12:00:08: it was on, day 1 12:00:04" % line, err)

    def test_a_breach_within_its_patience_is_forgiven(self):
        # 10 s of 3.6 kW and 0.3 kW at 230 V: more than 10 A, and not for longer.
        house_and_must = HOUSE + "must amps L2 <= 10 A within %d s\n"
        for patience, status in ((10, 0), (9, 1)):
            with House(house_and_must % patience) as house:
                house.step(5)
                house.coil(0, True)
                house.step(10)
                house.coil(0, False)
                self.assertEqual(house.finish()[0], status)

    def test_what_a_charger_is_offered_is_judged_by_the_offer(self):
        with House(HOUSE + "must car least-offered >= 6 A\nmust car most-offered <= 10 A\n") as house:
            house.modbus.write_register(100, 100, slave=11)
            house.step(5)
            house.modbus.write_register(100, 59, slave=11)  # the car draws nothing, but 5.9 A is no offer
            house.step(5)
            house.modbus.write_register(100, 0, slave=11)
            status, out, err = house.finish()
            self.assertEqual((status, err.count("must ")), (1, 1), err)
            self.assertIn("least-offered >= 6 A: 5.9 A", err)

    def test_a_promise_about_a_time_that_never_comes_is_broken(self):
        with House(self.SHORT + "must water-heater drawing >= 0 s by 17:00\n") as house:
            status, _, err = house.finish()
            self.assertEqual(status, 1)
            self.assertIn("that time never came", err)

    def test_what_is_switched_on_the_way_out_is_seen(self):
        for leave, status in ((False, 0), (True, 1)):
            with House(self.SHORT + "must water-heater relay off after exit\n") as house:
                house.coil(0, True)
                while house.moment:
                    house.step()
                house.coil(0, leave)
                self.assertEqual(house.end()[0], status)

    def test_time_stands_still_for_a_command(self):
        with House(self.SHORT + "at +5 s run echo hello; sleep 0.2\n") as house:
            status, out, err = house.finish()
            self.assertEqual((status, err), (0, "hello\n"))
            self.assertNotIn("hello", out)

    def test_a_command_that_fails_ends_the_day(self):
        with House(self.SHORT + "at +5 s run exit 7\n") as house:
            status, _, err = house.finish()
            self.assertEqual(status, 3)
            self.assertIn("exit status 7", err)

    def test_a_daemon_may_come_back(self):
        with House(self.SHORT) as house:
            house.step(3)
            before = house.moment
            house.clock.close(), house.lines.close()
            house.connect()
            self.assertEqual(house.moment, before)
            self.assertEqual(house.finish()[0], 0)

    def check(self, text):
        with tempfile.NamedTemporaryFile("w", suffix=".txt") as file:
            file.write(text)
            file.flush()
            run = subprocess.run([SIMHOUSE, "--check", "--scenario", file.name], capture_output=True, text=True)
            return run.returncode, run.stderr.replace(file.name, "F")

    def test_every_mistake_is_reported_with_its_line(self):
        status, err = self.check("start 2026-01-14 00:00\nlenght 24 h\nheater h 3.6 tank 315 L\n"
                                 "pump p 1 kW coil 16\nat 10:00 fault metre silent\nmust h warm\n")
        self.assertEqual(status, 2)
        self.assertEqual([line.split(" ")[0] for line in err.splitlines()],
                         ["F:2:1:", "F:3:10:", "F:4:18:", "F:5:16:", "F:6:6:"])
        self.assertIn('"length"', err)

    def test_a_mistake_is_told_at_its_column(self):
        for statement, column, what in (
                ("at 10:00 fault h element-left 3/2", 31, "the share that is left"),
                ("at 10:00 fault h element-resistance 0 %", 37, "the nameplate's resistance"),
                ("at 10:00 fault h element-drift 5 %", 35, "a year"),
                ("at 10:00 fault h hot-leak 5 L", 29, "L/h"),
                ("at 10:00 fault p cut-out-open", 30, "is a fault of heaters; p is none"),
                ("at 10:00 fault meter ct-reversed L3", 34, "phases that the supply has"),
                ("at 10:00 fault meter exchanged L1", 32, "two phases of the supply"),
                ("at 10:00 fault meter answers-of", 32, "the unit whose values it shows"),
                ("pump q 1 kW coil 2 supply-hours 6:00", 33, "22:00-06:00"),
                ("use random x 1 kW 5 a week", 23, "day"),
                ("input 16 voltage h", 7, "an input, 0 to 15"),
                ("input 1 voltage x", 17, "a load that stands above"),
                ("input 1 warmth h", 9, "voltage, contactor, hand, auto or button"),
                ("input 1 button b; input 1 voltage h", 36, "input 1 of unit 10 is taken already"),
                ("at 10:00 press b", 16, "a button that stands above"),
                ("at 10:00 turn h round", 17, "hand, off or auto"),
                ("use random x 1 kW 5 a day for 4 min to many", 40, "a duration"),
                ("use random x 1 kW 5 a day for 4 min on Sundays", 37, "between, spread, phase or cycle"),
                ("draws random 180 a day", 14, "a volume"),
                ("use base 300 W; fridge warm", 24, "a power"),
                ("meter resolution 10 W; ghost", 24, "model, import, export, resolution")):
            status, err = self.check("start 2026-01-14 00:00\nheater h 3 kW coil 0\npump p 1 kW coil 1\n" + statement)
            self.assertEqual(status, 2)
            self.assertTrue(err.startswith("F:4:%d: " % column), (statement, err))
            self.assertIn(what, err)

    def test_every_scenario_of_the_project_can_be_read(self):
        folder = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "scenarios")
        names = [name for name in os.listdir(folder) if name.endswith(".txt")]
        self.assertGreater(len(names), 30)
        for name in names:
            run = subprocess.run([SIMHOUSE, "--check", "--scenario", os.path.join(folder, name)],
                                 capture_output=True, text=True)
            self.assertEqual((name, run.returncode, run.stderr), (name, 0, ""))

    def test_a_house_is_shared_but_its_day_is_not(self):
        with tempfile.TemporaryDirectory() as folder:
            for name, text in (("a.house", "pump p 1 kW coil 1\nmust p relay off\n"),
                               ("s.txt", "include a.house\nstart 2026-01-14 00:00\nmust p relay off\n")):
                with open(os.path.join(folder, name), "w") as file:
                    file.write(text)
            run = subprocess.run([SIMHOUSE, "--check", "--scenario", os.path.join(folder, "s.txt")],
                                 capture_output=True, text=True)
        self.assertEqual(run.returncode, 2)
        self.assertIn('a.house:2:1: "must" belongs in the scenario itself', run.stderr)
        self.assertIn('s.txt:1:16: "a.house" can\'t be used', run.stderr)

    def test_a_whole_day_is_the_same_each_time(self):
        text = HOUSE.replace("length 1 h", "length 5 h") + "pv 6.6 kWp clouds seed 5\ndraws profile-m\n"
        days = []
        for _ in range(2):
            with tempfile.TemporaryDirectory() as folder:
                path = os.path.join(folder, "s.txt")
                with open(path, "w") as file:
                    file.write(text)
                clock, log = os.path.join(folder, "clock"), os.path.join(folder, "log.csv")
                process = subprocess.Popen([SIMHOUSE, "--scenario", path, "--tcp", "0", "--clock", clock,
                                            "--log", log], stdout=subprocess.PIPE, text=True)
                port = process.stdout.readline().split()[2]
                process.stdout.readline()
                daemon = subprocess.run([sys.executable, FAKE_DAEMON, clock, port])
                out, _ = process.communicate(timeout=60)
                with open(log) as file:
                    days.append((daemon.returncode, process.returncode, out, file.read()))
        self.assertEqual(days[0], days[1])
        self.assertEqual(days[0][:2], (0, 0))
        self.assertEqual(len(days[0][3].splitlines()), 1 + 5 * 60)
        summary = dict(line.split() for line in days[0][2].splitlines())
        self.assertGreater(float(summary["water-heater.sun_kwh"]), 1)
        self.assertAlmostEqual(float(summary["water-heater.sun_kwh"]) + float(summary["water-heater.grid_kwh"]),
                               float(summary["water-heater.energy_kwh"]), delta=0.002)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1] + sys.argv[3:])
