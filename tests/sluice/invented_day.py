"""Invented days for the ledger: simple enough that their sums are known by heart.

A day here: 1 kW is imported all day but from 10:00 to 14:00 local time, when 4 kW
are spare. The water heater takes 3.6 kW of it from 11:02 to 13:32, the pool pump
1.2 kW from the grid from 20:00 to 20:30."""
import datetime
import pathlib
import subprocess
import zoneinfo

STEP_MIN = 5
HEATER = (11 * 60 + 2, 13 * 60 + 32)
PUMP = (20 * 60, 20 * 60 + 30)
SUN = (10 * 60, 14 * 60)


def overlap(run, minute):
    return max(0, min(run[1], minute + STEP_MIN) - max(run[0], minute))


def mwh(watts, minutes):
    return int(watts * minutes * 1000 / 60)


def midnight_ms(date, zone):
    moment = datetime.datetime.fromisoformat(date).replace(tzinfo=zoneinfo.ZoneInfo(zone))
    return int(moment.timestamp() * 1000)


def history(begin_ms, minutes=24 * 60, first=0):
    for minute in range(first, minutes, STEP_MIN):
        at = begin_ms + (minute + STEP_MIN) * 60000
        heater, pump = overlap(HEATER, minute), overlap(PUMP, minute)
        sun = overlap(SUN, minute)
        yield f"history {at} water-heater {mwh(3600, heater)} 0 {heater * 60000}"
        yield f"history {at} pool-pump 0 {mwh(1200, pump)} {pump * 60000}"
        yield (f"history {at} grid {mwh(4000, sun) - mwh(3600, heater)} "
               f"{mwh(1000, STEP_MIN - sun) + mwh(1200, pump)} 0")
        yield f"history {at} spare {mwh(4000, sun)} 0 0"
        yield f"history {at} solar {mwh(5000, sun)} 0 0"


EVENTS = [
    (0, "water-heater", "off: spare 0 W of 3.6 kW needed"),
    (11 * 60, "water-heater", "off: settling, spare 4 kW, 3.6 kW needed, 2 min left"),
    (HEATER[0], "water-heater", "on: spare 4 kW, 3.6 kW needed"),
    (12 * 60, "water-heater", "on: spare 3.9 kW, 3.6 kW needed"),
    (13 * 60, "water-heater", "floor 1 met"),
    (HEATER[1], "water-heater", "off: satisfied, tried again in 2 h"),
    (HEATER[1], "water-heater", "satisfied: the thermostat has opened"),
    (PUMP[0], "pool-pump", "on: manually, 30 min left"),
    (PUMP[0], "pool-pump", "ordered locally: on 30 min"),
    (PUMP[1], "pool-pump", "off: spare 0 W of 1.2 kW needed"),
]


def events(begin_ms, rows=None):
    for minute, subject, text in EVENTS if rows is None else rows:
        yield f"event {begin_ms + minute * 60000} {subject} {text}"


def write(build, path, lines):
    """By time, as the daemon writes them."""
    lines = sorted(lines, key=lambda line: int(line.split()[1]))
    subprocess.run([pathlib.Path(build) / "tests/sluice/sample_ledger", path], text=True, check=True,
                   input="\n".join(lines) + "\n", timeout=60)
