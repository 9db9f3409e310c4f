"""The alternatives once more, from the same file of days and nothing else of ours.

Always on, a timer, the off-peak circuit and a diverter with a boost, in a one-zone tank of
five-minute steps: loss, then draw, then heat up to the set-point. Arguments: the program
that prints our figures, the file of days.
"""
import csv, math, subprocess, sys
from datetime import datetime

LITRES = [1, 0, 0, 0, 0, 2, 50, 50, 4, 3, 3, 3, 16, 16, 3, 3, 3, 3, 10, 10, 10, 6, 3, 1]
CAPACITY = 315 * 4186 / 3.6e6  # kWh per K
STEP = 1 / 12  # h
KEPT = math.exp(-2.66 / 24 / 55 * STEP / CAPACITY)
ELEMENT, SET, HYSTERESIS, WANTED, ROOM, KWP = 3.6, 70, 6, 45, 20, 4


def price(hour):
    return 0.20 if hour < 7 or hour >= 22 else 0.45 if 15 <= hour < 21 else 0.28


def always(hour, spare, store):
    return ELEMENT


def timer(hour, spare, store):
    return ELEMENT if 10 <= hour < 15 else 0


def off_peak(hour, spare, store):
    return ELEMENT if hour >= 22 or hour < 7 else 0


def diverter(hour, spare, store):
    store["boosts"] = store["c"] < 46 or store.get("boosts", False) and store["c"] < 49
    return ELEMENT if store["boosts"] else min(max(spare, 0), ELEMENT)


def run(rows, offer):
    store, calls = {"c": 67.0}, True
    money = sun = grid = unmet = 0.0
    for at, use, solar in rows:
        main = 18 - 4 * math.cos(2 * math.pi * (at.timetuple().tm_yday - 40) / 365)
        for _ in range(12):
            c = store["c"]
            calls = False if c >= SET - 1e-6 else True if c <= SET - HYSTERESIS else calls
            heat = offer(at.hour, solar - use, store) * STEP if calls else 0
            lost = (c - ROOM) * (1 - KEPT)
            heat = min(heat, max(0, SET - c) * CAPACITY + lost * CAPACITY)
            c -= lost
            drawn = LITRES[at.hour] / 12 * 4186 / 3.6e6  # kWh per K
            got = drawn * max(0, min(c, WANTED) - main)
            unmet += drawn * (WANTED - main) - got
            store["c"] = c + (heat - got) / CAPACITY
            net = (use - solar) * STEP
            shone = 0 if offer is off_peak else min(heat, max(0, -net))
            sun, grid = sun + shone, grid + heat - shone
            if offer is off_peak:
                money += heat * 0.15
            else:
                net += heat
            money += net * (price(at.hour) if net > 0 else 0.05)
    return money, sun, grid, unmet, (store["c"] - 67) * CAPACITY


def main(program, path):
    with open(path, newline="") as file:
        rows = [(datetime.fromisoformat(r["time"]), float(r["use_kw"]),
                 float(r["solar_w_per_kwp"]) * KWP / 1000) for r in csv.DictReader(file)]
    assert len(rows) == 504
    told = subprocess.run([program, path], check=True, stdout=subprocess.PIPE, text=True).stdout
    ours = {line.split()[0]: [float(x) for x in line.split()[1:]] for line in told.splitlines()}
    strategies = {"always": always, "timer": timer, "off-peak": off_peak, "diverter": diverter}
    assert ours.keys() == strategies.keys()
    for name, offer in strategies.items():
        again = run(rows, offer)
        print(name, *(f"{x:.4f}" for x in again))
        for mine, yours in zip(ours[name], again):
            # days are kept in single precision; money in whole milliwatt-hours
            assert abs(mine - yours) < 1e-4, (name, ours[name], again)


main(*sys.argv[1:])
