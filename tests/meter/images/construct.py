#!/usr/bin/env python3
"""Register images of the meters that conf/meters has maps for: constructed, none is
recorded from a device.

Addresses, types and units are typed here a second time, from the documents that each
map names (or from memory, where it says so), in the documents' own terms; nothing is
taken from the maps. So an image proves that map and decoding agree with the document
as it was read twice, not that the document agrees with the meter. Values are put into
registers by Python's struct, and expected values are what was put in, in mW, mA, mV,
mHz, mWh, permille, import positive.

usage: construct.py > maps.image
"""
import struct

FORMAT = {"s16": ">h", "u16": ">H", "s32": ">i", "u32": ">I", "s64": ">q", "u64": ">Q",
          "f32": ">f", "f64": ">d"}
PHASES = ("l1", "l2", "l3")
# A house at noon: 2.5 kW go out by phase 1, the others use a little.
NOON = {"power": -1.25e6, "power-l1": -2.5e6, "power-l2": 0.5e6, "power-l3": 0.75e6,
        "current-l1": 21500, "current-l2": 2500, "current-l3": 3500,
        "voltage-l1": 232500, "voltage-l2": 230000, "voltage-l3": 229500,
        "frequency": 50000, "import-energy": 12345.5e6, "export-energy": 70000.0e6}
# And at night: everything comes in; more than 32767 W and 65535 of any unit.
NIGHT = {"power": 48.0e6, "power-l1": 16.0e6, "power-l2": 16.0e6, "power-l3": 16.0e6,
         "current-l1": 70000, "current-l2": 69500, "current-l3": 71000,
         "voltage-l1": 226500, "voltage-l2": 228000, "voltage-l3": 253500,
         "frequency": 49500, "import-energy": 123456.5e6, "export-energy": 70001.5e6}
SMALL = {"power": 30.0e6, "power-l1": 10.0e6, "power-l2": 10.0e6, "power-l3": 10.0e6}
SUN = {"power": 5.5e6, "power-l1": 2.0e6, "power-l2": 1.5e6, "power-l3": 2.0e6,
       "current-l1": 8500, "current-l2": 6500, "current-l3": 8500, "export-energy": 70000.0e6}


def put(kind, unit, value, low_first=False):
    """The words of `value` (inside units) in a register that counts in `unit` of them."""
    raw = value / unit
    if kind[0] != "f":
        assert raw == int(raw), (kind, unit, value)
        raw = int(raw)
    packed = struct.pack(FORMAT[kind], raw)
    words = [packed[i:i + 2].hex() for i in range(0, len(packed), 2)]
    return " ".join(reversed(words) if low_first else words)


def held(kind, unit, value):
    """What is left of `value`: a float of 32 bits holds 24 of them."""
    if kind != "f32":
        return round(value)
    return round(struct.unpack(">f", struct.pack(">f", value / unit))[0] * unit)


def floats(table, unit_w=1000, unit_a=1000, unit_v=1000, unit_hz=1000, unit_wh=1e6, **address):
    """A meter that writes everything as floats."""
    unit = {"power": unit_w, "current": unit_a, "voltage": unit_v, "frequency": unit_hz,
            "import": unit_wh, "export": unit_wh}
    return {name.replace("_", "-"): (table, at, "f32", unit[name.split("_")[0]])
            for name, at in address.items()}


def three(name, table, at, kind, unit, step=None):
    """One quantity of three phases, one after another."""
    step = step or struct.calcsize(FORMAT[kind]) // 2
    return {f"{name}-{phase}": (table, at + k * step, kind, unit) for k, phase in enumerate(PHASES)}


def meter(name, line, blocks, points, cases, low_first=(), turned=(), marks=()):
    print(f"meter {name} {line} {blocks}")
    for case, values, absent in cases:
        print(f"case {case}")
        for table, at, words in marks:
            print(f"{table} {at:#06x} {words}")
        for quantity, (table, at, kind, unit) in points.items():
            words = absent.get(quantity)
            value = values.get(quantity, NOON.get(quantity))
            if words is None:
                sign = -1 if quantity in turned else 1
                words = put(kind, unit, sign * value, quantity in low_first)
            print(f"{table} {at:#06x} {words}")
            print(f"{quantity} is " + ("absent" if quantity in absent else str(held(kind, unit, value))))


GRID = (("noon", NOON, {}), ("night", NIGHT, {}))


def main():
    print("# Written by construct.py; see there. Constructed, not recorded from any meter.")
    sdm = floats("input", power=0x34, power_l1=0x0C, power_l2=0x0E, power_l3=0x10,
                 current_l1=0x06, current_l2=0x08, current_l3=0x0A, voltage_l1=0, voltage_l2=2,
                 voltage_l3=4, frequency=0x46, import_energy=0x48, export_energy=0x4A)
    meter("eastron-sdm630", "9600 N 1", 2, sdm,
          GRID + (("not-a-number", NOON, {"voltage-l3": "7fc0 0000", "power-l3": "ff80 0000"}),),
          marks=[("holding", 0xFC02, "0070")])
    meter("eastron-sdm120", "2400 N 1", 2,
          floats("input", power=0x0C, current_l1=0x06, voltage_l1=0, frequency=0x46,
                 import_energy=0x48, export_energy=0x4A), GRID, marks=[("holding", 0xFC02, "0020")])
    # "B23 " is how the type designation begins.
    b23 = {**three("voltage", "holding", 0x5B00, "u32", 100),
           **three("current", "holding", 0x5B0C, "u32", 10), "power": ("holding", 0x5B14, "s32", 10),
           **three("power", "holding", 0x5B16, "s32", 10), "frequency": ("holding", 0x5B2C, "u16", 10),
           "import-energy": ("holding", 0x5000, "u64", 10000),
           "export-energy": ("holding", 0x5004, "u64", 10000)}
    meter("abb-b23", "19200 E 1", 2, b23,
          GRID + (("one-phase", NOON,
                   {"voltage-l2": "ffff ffff", "voltage-l3": "ffff ffff", "current-l2": "ffff ffff",
                    "current-l3": "ffff ffff", "power-l2": "7fff ffff", "power-l3": "7fff ffff",
                    "frequency": "ffff", "export-energy": "ffff ffff ffff ffff"}),),
          marks=[("holding", 0x8960, "4232 3320")])
    em530 = {**three("voltage", "input", 0x00, "s32", 100), **three("current", "input", 0x0C, "s32", 1),
             **three("power", "input", 0x12, "s32", 100), "power": ("input", 0x28, "s32", 100),
             "frequency": ("input", 0x33, "s16", 100), "import-energy": ("input", 0x34, "s32", 1e5),
             "export-energy": ("input", 0x4E, "s32", 1e5)}
    # 0x7fffffff is nothing, in whichever order of words it comes.
    meter("carlo-gavazzi-em530", "9600 N 1", 3, em530,
          GRID + (("overflow", NOON, {"power-l3": "ffff 7fff", "export-energy": "ffff 7fff"}),),
          low_first=set(em530) - {"frequency"}, marks=[("input", 0x0B, "06d1")])
    em112 = {"voltage-l1": ("input", 0x00, "s32", 100), "current-l1": ("input", 0x02, "s32", 1),
             "power": ("input", 0x04, "s32", 100), "frequency": ("input", 0x0F, "s16", 100),
             "import-energy": ("input", 0x10, "s32", 1e5), "export-energy": ("input", 0x20, "s32", 1e5)}
    meter("carlo-gavazzi-em112", "9600 N 1", 1, em112,
          GRID + (("no-frequency", NOON, {"frequency": "ffff"}),),
          low_first=set(em112) - {"frequency"}, marks=[("input", 0x0B, "0068")])
    # The same, but for the export total: it counts below zero.
    meter("carlo-gavazzi-et112", "9600 N 1", 1, em112, GRID, low_first=set(em112) - {"frequency"},
          turned={"export-energy"}, marks=[("input", 0x0B, "0078")])
    # The maker counts from 1: voltage 3028, power 3054, total 3060, frequency 3110; kilowatts.
    iem = floats("holding", unit_w=1e6, power=3059, power_l1=3053, power_l2=3055, power_l3=3057,
                 current_l1=2999, current_l2=3001, current_l3=3003, voltage_l1=3027, voltage_l2=3029,
                 voltage_l3=3031, frequency=3109)
    iem.update({"import-energy": ("holding", 3203, "s64", 1000),
                "export-energy": ("holding", 3207, "s64", 1000)})
    meter("schneider-iem3155", "19200 E 1", 5, iem,
          GRID + (("not-measured", NOON, {"export-energy": "8000 0000 0000 0000",
                                          "voltage-l2": "ffc0 0000"}),))
    # Tenths of a volt, of a watt; milliamperes; hundredths of a hertz. The energies moved
    # between two versions; the newer meter's are 0 at the older addresses, and vice versa.
    for name, imported, exported in (("chint-dtsu666", 0x101E, 0x1028),
                                     ("chint-dtsu666-2016", 0x401E, 0x4028)):
        meter(name, "9600 N 1", 3,
              floats("holding", unit_w=100, unit_a=1, unit_v=100, unit_hz=10, power=0x2012,
                     power_l1=0x2014, power_l2=0x2016, power_l3=0x2018, current_l1=0x200C,
                     current_l2=0x200E, current_l3=0x2010, voltage_l1=0x2006, voltage_l2=0x2008,
                     voltage_l3=0x200A, frequency=0x2044, import_energy=imported,
                     export_energy=exported),
              GRID + (("other-version", NOON, {"import-energy": "0000 0000",
                                               "export-energy": "0000 0000"}),))
    meter("chint-ddsu666", "9600 N 1", 1,
          floats("holding", unit_w=1e6, power=0x2004, current_l1=0x2002, voltage_l1=0x2000,
                 frequency=0x200E), GRID)
    pac = floats("holding", power=65, power_l1=25, power_l2=27, power_l3=29, current_l1=13,
                 current_l2=15, current_l3=17, voltage_l1=1, voltage_l2=3, voltage_l3=5, frequency=55)
    pac.update({"import-energy": ("holding", 801, "f64", 1000),
                "export-energy": ("holding", 809, "f64", 1000)})
    meter("siemens-pac2200", "19200 N 126", 3, pac,
          GRID + (("not-a-number", NOON, {"import-energy": "7ff8 0000 0000 0000"}),))
    meter("janitza-umg96", "115200 N 1", 2,
          floats("holding", unit_wh=1000, power=19026, power_l1=19020, power_l2=19022,
                 power_l3=19024, current_l1=19012, current_l2=19014, current_l3=19016,
                 voltage_l1=19000, voltage_l2=19002, voltage_l3=19004, frequency=19050,
                 import_energy=19068, export_energy=19076), GRID)
    meter("inepro-pro380", "9600 E 1", 2,
          floats("holding", unit_w=1e6, power=0x5012, power_l1=0x5014, power_l2=0x5016,
                 power_l3=0x5018, current_l1=0x500C, current_l2=0x500E, current_l3=0x5010,
                 voltage_l1=0x5002, voltage_l2=0x5004, voltage_l3=0x5006, frequency=0x5008,
                 import_energy=0x600C, export_energy=0x6018), GRID)
    meter("orno-or-we-516", "9600 E 1", 2,
          floats("holding", unit_w=1e6, power=28, power_l1=30, power_l2=32, power_l3=34,
                 current_l1=22, current_l2=24, current_l3=26, voltage_l1=14, voltage_l2=16,
                 voltage_l3=18, frequency=20, import_energy=264, export_energy=272), GRID)
    shelly = floats("input", unit_wh=1000, power=1013, power_l1=1024, power_l2=1044, power_l3=1064,
                    current_l1=1022, current_l2=1042, current_l3=1062, voltage_l1=1020,
                    voltage_l2=1040, voltage_l3=1060, import_energy=1162, export_energy=1164)
    meter("shelly-pro-3em", "9600 N 1", 2, shelly, GRID, low_first=set(shelly))
    # "SUN2" is how the model begins; 1: the meter is normal. Feed-in is positive here.
    sun2000 = {**three("voltage", "holding", 37101, "s32", 100),
               **three("current", "holding", 37107, "s32", 10), "power": ("holding", 37113, "s32", 1000),
               "frequency": ("holding", 37118, "s16", 10), "export-energy": ("holding", 37119, "s32", 1e4),
               "import-energy": ("holding", 37121, "s32", 1e4), **three("power", "holding", 37132, "s32", 1000)}
    flow = {"power", "power-l1", "power-l2", "power-l3", "current-l1", "current-l2", "current-l3"}
    model = ("holding", 30000, "5355 4e32")
    meter("huawei-sun2000-meter", "9600 N 1", 1, sun2000, GRID, turned=flow,
          marks=[model, ("holding", 37100, "0001")])
    meter("huawei-sun2000", "9600 N 1", 2,
          {**three("voltage", "holding", 32069, "u16", 100), **three("current", "holding", 32072, "s32", 1),
           "power": ("holding", 32080, "s32", 1000), "frequency": ("holding", 32085, "u16", 10),
           "export-energy": ("holding", 32106, "u32", 1e4)}, (("noon", {**NOON, **SUN}, {}),),
          marks=[model])
    battery = {"power": ("holding", 37765, "s32", 1000), "battery-charge": ("holding", 37760, "u16", 1)}
    meter("huawei-sun2000-battery", "9600 N 1", 1, battery,
          (("charging", {"power": 3.0e6, "battery-charge": 655}, {}),
           ("discharging", {"power": -4.25e6, "battery-charge": 1000}, {})), marks=[model])
    meter("huawei-smartlogger-meter", "9600 N 1", 2,
          {**three("voltage", "holding", 32260, "u32", 10), **three("current", "holding", 32272, "s32", 100),
           "power": ("holding", 32278, "s32", 1000), **three("power", "holding", 32335, "s32", 1000),
           "import-energy": ("holding", 32349, "s64", 1e4),
           "export-energy": ("holding", 32357, "s64", 1e4)}, GRID, turned=flow)
    meter("goodwe-et-meter", "9600 N 247", 2,
          {**three("voltage", "holding", 35121, "u16", 100, 5), **three("power", "holding", 36005, "s16", 1000),
           "power": ("holding", 36008, "s16", 1000), "frequency": ("holding", 36014, "u16", 10)},
          (("noon", NOON, {}), ("night", {**NIGHT, **SMALL}, {}),
           ("one-phase", NOON, {"voltage-l2": "ffff", "voltage-l3": "ffff"})), turned=flow)
    # Sungrow counts from 1: 13010 export power, 13037 and 13046 totals, 5019-5021. A meter
    # that is lost gives 0x7fffffff, the low word first.
    meter("sungrow-sh-meter", "9600 N 1", 3,
          {**three("voltage", "input", 5018, "u16", 100),
           "power": ("input", 13009, "s32", 1000), "import-energy": ("input", 13036, "u32", 1e5),
           "export-energy": ("input", 13045, "u32", 1e5)},
          GRID + (("one-phase", NOON, {"voltage-l2": "ffff", "voltage-l3": "ffff"}),
                  ("meter-lost", NOON, {"power": "ffff 7fff"})), turned=flow,
          low_first={"power", "import-energy", "export-energy"}, marks=[("input", 4999, "0e03")])
    sma = {"power": ("holding", 30775, "s32", 1000), **three("power", "holding", 30777, "s32", 1000),
           **three("voltage", "holding", 30783, "u32", 10), "frequency": ("holding", 30803, "u32", 10),
           "export-energy": ("holding", 30513, "u64", 1000)}
    none = {name: "8000 0000" if name.startswith("power") else "ffff ffff" for name in sma}
    none["export-energy"] = "ffff ffff ffff ffff"
    meter("sma-inverter", "19200 E 3", 2, sma,
          (("noon", {**NOON, **SUN}, {}), ("asleep", NOON, none)), marks=[("holding", 30051, "0000 1f41")])


main()
