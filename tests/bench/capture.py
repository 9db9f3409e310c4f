#!/usr/bin/env python3
"""How much of the possible saving is captured over measured homes, as figures.

The homes are a year of hours each and too large to be kept here: they are looked for in
the folder that SLUICE_DATA names, else beside the source, with homes-ca/homeNN.csv
(columns use_kw and solar_w_per_kwp) and hotwater-draws/ (litres per hour, each minute).
Homes 5 to 8 were not looked at while the rules were made.

usage: capture.py BUILD-DIR SOURCE-DIR
"""
import concurrent.futures
import os
import pathlib
import re
import statistics
import subprocess
import sys

LINE = re.compile(r"(\w+) home (\d+) .* captured (\S+) % .* spoilt (\d+) over (\d+) cycles (\d+)")
DRAWS = ["200L_1min_4cat_sf_nods_max1200.txt", "160L_1min_4cat_sf_nods_max1200.txt"]


def figure(name, value, unit, note=""):
    print(f"figure {name} {value} {unit}" + (f" ({note})" if note else ""), flush=True)


def cases(program, data, draws, *options):
    command = [program, "--homes", data / "homes-ca", *options]
    if draws:
        command += ["--draws", data / "hotwater-draws" / draws]
    printed = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return [match.groups() for match in map(LINE.match, printed.splitlines()) if match]


def worst_tenth(shares):
    """The share that nine homes in ten reach."""
    return sorted(shares)[len(shares) // 10]


def tell(label, found):
    shares = [float(case[2]) for case in found if case[0] == "sluice"]
    unseen = [float(case[2]) for case in found if case[0] == "sluice" and int(case[1]) >= 5]
    note = f"homes 5 to 8: {statistics.median(unseen):.1f}, {worst_tenth(unseen):.1f}"
    figure(f"capture_median_{label}", round(statistics.median(shares), 1), "percent", note)
    figure(f"capture_worst_{label}", round(worst_tenth(shares), 1), "percent", "worst tenth")


def main():
    build, source = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
    program = build / "tests/bench/capture"
    data = pathlib.Path(os.environ.get("SLUICE_DATA", source / "../shared/data"))
    if not (data / "homes-ca/home01.csv").exists():
        print(f"capture: no homes in {data}; SLUICE_DATA names another folder")
        return
    asked = {}
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        for probe in ("", "_probed"):
            options = ["--probed", "1"] if probe else []
            asked["regular" + probe] = [pool.submit(cases, program, data, None, *options)]
            asked["random" + probe] = [pool.submit(cases, program, data, draws, *options)
                                       for draws in DRAWS]
    found = {label: sum((one.result() for one in some), []) for label, some in asked.items()}
    for label, some in found.items():
        tell(label, some)
    every = found["regular"] + found["random"]
    figure("spoilt_showers_over_always_on", max(int(case[3]) - int(case[4]) for case in every),
           "a-year", "the worst home; without a probe")
    figure("cycles_per_year_worst", max(int(case[5]) for case in every), "a-year")
    subprocess.run([program, "--homes", data / "homes-ca", "--time", "1"], check=True)


if __name__ == "__main__":
    sys.exit(main())
