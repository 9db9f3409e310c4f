#!/usr/bin/env python3
"""Prices, changes of price and whole bills of random tariffs, worked out a second time
with Python's own calendar and time zones (zoneinfo reads the system's zone files) and
with exact fractions. The weeks looked at hold a change of the clock or the turn of a
month. Lord Howe moves its clock by half an hour; Chatham does so at a quarter to three."""
import datetime
import fractions
import pathlib
import random
import subprocess
import sys
import zoneinfo

DESK = sys.argv[1]
UTC = datetime.timezone.utc
ZONES = ["Australia/Sydney", "Australia/Lord_Howe", "Pacific/Chatham", "Europe/Berlin",
         "America/New_York", "Australia/Brisbane"]
# From a day or two before the edge; the year's changes as published in tzdata.
BEGINS = [(2026, 4, 3), (2026, 10, 2), (2026, 9, 25), (2026, 3, 27), (2026, 10, 23),
          (2026, 3, 6), (2026, 10, 30), (2025, 12, 29), (2028, 2, 27)]
STEPS = [60 * 5, 60 * 15, 60 * 30]
DAYS = 5


class Band:
    def __init__(self, chance, season=True, price=(-20, 100)):
        self.price = chance.randint(*price) * 10000 + chance.choice([0, 1, 123])
        self.months = (0, 0)
        if season and chance.random() < 0.5:
            self.months = (chance.randint(1, 12), chance.randint(1, 12))
        self.spans = [(chance.randrange(96) * 900, chance.randint(1, 96) * 900,
                       chance.randint(1, 127)) for _ in range(chance.randint(0, 2))]
        self.spans = [span for span in self.spans if span[0] != span[1]]

    def rows(self):
        return ["span %d %d %d" % span for span in self.spans]

    def in_season(self, month):
        first, last = self.months
        if first == 0:
            return True
        return (month - first) % 12 <= (last - first) % 12

    def open(self, local):
        return not self.spans or any(in_span(span, local) for span in self.spans)

    def holds(self, local):
        return self.in_season(local.month) and self.open(local)


def in_span(span, local):
    """By the clock face: a span that begins today, or one of yesterday that goes on."""
    begin, end, weekdays = span
    for ago in (0, 1):
        day = local.date() - datetime.timedelta(days=ago)
        if not weekdays >> day.weekday() & 1:
            continue
        midnight = datetime.datetime.combine(day, datetime.time())
        face = (local.replace(tzinfo=None) - midnight).total_seconds()
        if begin <= face < (end if end > begin else end + 86400):
            return True
    return False


class Demand(Band):
    def __init__(self, chance):
        super().__init__(chance, price=(0, 2000))
        self.window = chance.choice([5, 10, 15, 20, 30, 60]) * 60
        self.per_day = chance.random() < 0.5


class Tariff:
    def __init__(self, chance):
        self.imports = [Band(chance) for _ in range(chance.randint(0, 5))]
        self.feed_ins = [Band(chance) for _ in range(chance.randint(0, 3))]
        self.controlled = [Band(chance) for _ in range(chance.randint(0, 2))]
        self.switch = Band(chance, season=False)
        self.demands = [Demand(chance) for _ in range(chance.randint(0, 3))]
        self.feed_in, self.daily, self.controlled_daily = (
            chance.randint(-100000, 300000), chance.randint(0, 2000000), chance.randint(0, 90000))

    def rows(self):
        rows = ["charges %d %d %d" % (self.feed_in, self.daily, self.controlled_daily)]
        rows += self.switch.rows()
        for kind, bands in (("i", self.imports), ("f", self.feed_ins), ("c", self.controlled)):
            for band in bands:
                rows += ["band %s %d %d %d" % (kind, band.price, *band.months)] + band.rows()
        for demand in self.demands:
            rows += ["demand %d %d %d %d %d" % (demand.price, demand.window * 1000,
                                                demand.per_day, *demand.months)] + demand.rows()
        return rows

    def prices(self, local):
        return (price(self.imports, local, 0), price(self.feed_ins, local, self.feed_in),
                price(self.controlled, local, 0))


def price(bands, local, otherwise):
    for band in reversed(bands):
        if band.holds(local):
            return band.price
    return otherwise


def windows(demand, steps, zone):
    """Energy and time of each window, by month. A window begins on a multiple of its length
    of the local clock, and lasts its length however the clock is moved in it."""
    months, end, key = {}, 0, None
    for at, length, energy in steps:
        local = local_of(at, zone)
        month = months.setdefault((local.year, local.month), {})
        if not demand.holds(local):
            continue
        if at >= end or key[0] != (local.year, local.month):
            past = (local.hour * 3600 + local.minute * 60 + local.second) % demand.window
            end = at - past + demand.window
            key = ((local.year, local.month), end)
        window = month.setdefault(key, [0, 0])
        window[0] += energy[0]
        window[1] += length
    return months


def demand_charge(demand, steps, zone):
    total = fractions.Fraction(0)
    days = {}
    for at, _, _ in steps:
        local = local_of(at, zone)
        days.setdefault((local.year, local.month), set()).add(local.day)
    for month, filled in windows(demand, steps, zone).items():
        highest = max((fractions.Fraction(energy * 3600, max(demand.window, length))
                       for energy, length in filled.values()), default=0)
        total += highest * demand.price * (len(days[month]) if demand.per_day else 1)
    return total / 1000000


def local_of(at, zone):
    return datetime.datetime.fromtimestamp(at, UTC).astimezone(zone)


def expected(tariff, steps, zone):
    lines, parts, dates = [], [fractions.Fraction(0)] * 3, set()
    for at, _, energy in steps:
        local = local_of(at, zone)
        prices = tariff.prices(local)
        lines.append("%d %d %d %d" % (*prices, tariff.switch.open(local)))
        dates.add(local.date())
        for k in range(3):
            parts[k] += fractions.Fraction(energy[k] * prices[k], 1000000)
    return lines, parts, len(dates)


def change_after(tariff, begin, limit, zone):
    now = tariff.prices(local_of(begin, zone))[:2]
    for at in range(begin - begin % 300 + 300, limit, 300):
        if tariff.prices(local_of(at, zone))[:2] != now:
            return at
    return limit


def rule_of(name):
    data = pathlib.Path("/usr/share/zoneinfo", name).read_bytes()
    return data.rstrip(b"\n").rsplit(b"\n", 1)[1].decode()


def house(seed):
    chance = random.Random(seed)
    name = ZONES[seed % len(ZONES)]
    begin = int(datetime.datetime(*chance.choice(BEGINS), chance.randrange(24),
                                  tzinfo=UTC).timestamp())
    length = chance.choice(STEPS)
    steps = []
    for at in range(begin, begin + DAYS * 86400, length):
        if chance.random() < 0.95:  # the others are gaps
            steps.append((at, length, [chance.choice([0, chance.randrange(5000000)])
                                       for _ in range(3)]))
    return name, Tariff(chance), steps


def near(found, exact, allowed):
    return abs(found - exact) <= allowed


def check(seed):
    name, tariff, steps = house(seed)
    zone = zoneinfo.ZoneInfo(name)
    limit = steps[0][0] + 4 * 86400
    rows = ["zone " + rule_of(name)] + tariff.rows()
    rows += ["step %d %d %d %d %d" % (at, length, *energy) for at, length, energy in steps]
    rows += ["change %d %d" % (steps[0][0], limit), "bill"]
    told = subprocess.run([DESK], input="\n".join(rows) + "\n", text=True, check=True,
                          stdout=subprocess.PIPE).stdout.splitlines()
    lines, parts, days = expected(tariff, steps, zone)
    for (at, _, _), line, found in zip(steps, lines, told):
        assert line == found, "%s at %s: %s, not %s" % (name, local_of(at, zone), found, line)
    change = change_after(tariff, steps[0][0], limit, zone)
    assert int(told[-2]) == change, "%s: change at %s, not %d" % (name, told[-2], change)
    imported, controlled, feed_in, demand, daily, total = map(int, told[-1].split())
    half = fractions.Fraction(1, 2)
    assert near(imported, parts[0], half), "import %d, not %s" % (imported, float(parts[0]))
    assert near(feed_in, parts[1], half), "feed-in %d, not %s" % (feed_in, float(parts[1]))
    assert near(controlled, parts[2], half), "controlled %d, not %s" % (controlled,
                                                                         float(parts[2]))
    assert daily == days * (tariff.daily + tariff.controlled_daily), "%d days" % days
    charge = sum(demand_charge(each, steps, zone) for each in tariff.demands)
    assert near(demand, charge, half), "demand %d, not %s" % (demand, float(charge))
    assert total == imported + controlled - feed_in + demand + daily


def main():
    for seed in range(150):
        try:
            check(seed)
        except AssertionError as fault:
            sys.exit("seed %d: %s" % (seed, fault))
    print("150 tariffs agree")


main()
