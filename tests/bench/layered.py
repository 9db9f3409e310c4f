#!/usr/bin/env python3
"""What a contactor with a learnt start saves in tanks that layer, as figures: shares of what
the best of seven timers saves, over homes 5 to 8, which were not looked at while the rules
were made; beside them homes 1 to 4, which were. Homes and draws as for capture.py.

usage: layered.py BUILD-DIR SOURCE-DIR
"""
import concurrent.futures
import os
import pathlib
import re
import statistics
import subprocess
import sys

LINE = re.compile(r"home (?P<home>\d+) .* sensor (?P<sensor>\d) saved (?P<saved>\S+) "
                  r"timer (?P<timer>\S+) its (?P<its>\S+) spoilt (?P<spoilt>\d+) "
                  r"over (?P<always>\d+) cycles (?P<cycles>\d+)")
DRAWS = ["200L_1min_4cat_sf_nods_max1200.txt", "160L_1min_4cat_sf_nods_max1200.txt"]
BIG_W, SMALL_W = "3600", "1800"


def cases(program, data, draws, element_w):
    command = [program, "--homes", data / "homes-ca", "--element", element_w]
    if draws:
        command += ["--draws", data / "hotwater-draws" / draws]
    printed = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    found = [{key: float(value) for key, value in match.groupdict().items()}
             for match in map(LINE.match, printed.splitlines()) if match]
    for case in found:
        case["over_timer"] = 100 * case["saved"] / case["timer"]
        case["over_its"] = 100 * case["saved"] / case["its"]
    return found


def figure(name, unit, how, cases_of, key):
    shares = [[case[key] for case in cases_of if (case["home"] >= 5) == unseen]
              for unseen in (True, False)]
    print(f"figure {name} {how(shares[0]):.0f} {unit} (homes 1 to 4: {how(shares[1]):.0f})",
          flush=True)


def with_sensor(found, sensor):
    return [case for case in found if case["sensor"] == sensor]


def tell(regular, random, small):
    alone, sensor = with_sensor(random, 0), with_sensor(random, 1)
    for name, some in (("", alone), ("sensor_", sensor)):
        for label, how in (("median", statistics.median), ("least", min)):
            figure(f"layered_random_over_timer_{name}{label}", "percent", how, some, "over_timer")
    for name, key in (("", "over_timer"), ("own_timer_", "over_its")):
        figure(f"layered_random_small_element_{name}median", "percent", statistics.median,
               with_sensor(small, 1), key)
    figure("layered_regular_over_timer_least", "percent", min, regular, "over_timer")
    every = regular + random + small
    for case in every:
        case["more_spoilt"] = case["spoilt"] - case["always"]
    figure("layered_spoilt_over_always_on", "a-year", max, every, "more_spoilt")
    figure("layered_cycles_per_year_worst", "a-year", max, every, "cycles")


def main():
    build, source = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
    program = build / "tests/bench/layered"
    data = pathlib.Path(os.environ.get("SLUICE_DATA", source / "../shared/data"))
    if not (data / "homes-ca/home01.csv").exists():
        print(f"layered: no homes in {data}; SLUICE_DATA names another folder")
        return
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        regular = pool.submit(cases, program, data, None, BIG_W)
        random = [pool.submit(cases, program, data, draws, BIG_W) for draws in DRAWS]
        small = [pool.submit(cases, program, data, draws, SMALL_W) for draws in DRAWS]
    tell(regular.result(), sum((one.result() for one in random), []),
         sum((one.result() for one in small), []))


if __name__ == "__main__":
    sys.exit(main())
