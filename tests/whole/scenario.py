#!/usr/bin/env python3
"""Plays one scenario with the real programs: simhouse grants the moments and
judges the day, sluiced polls and switches over real Modbus, orders come by the
real `sluice`. Fails where a promise is broken, where either program fails, or
where sluiced did not say what the scenario's "# told:" lines ask for.

usage: scenario.py BUILD-DIR SOURCE-DIR SCENARIO [--step STEP] [--pty] [--keep DIR]
"""
import argparse
import os
import pathlib
import re
import shutil
import sys
import tempfile

from programs import DAY_S, Built, Simhouse, Sluiced, fill_in


def lines_with(text, word):
    return [match.strip() for match in re.findall(rf"^#\s*{word}:\s*(.*)$", text, re.M)]


def settings_name(path):
    for line in path.read_text().splitlines():
        words = line.split("#")[0].split()
        if words[:1] == ["settings"]:
            return words[1]
        if words[:1] == ["include"]:
            return settings_name(path.parent / words[1])
    raise SystemExit(f"{path}: names no settings")


def in_steps(scenario, step, folder):
    """The scenario, beside what it includes, with other steps than it is written in."""
    shutil.copytree(scenario.parent, folder / "scenarios")
    path = folder / "scenarios" / scenario.name
    with path.open("a") as text:
        text.write(f"\nstep {step}\n")
    return path


def play(built, given, folder):
    """What was broken, and the daemon's last words."""
    settings = folder / "house.yaml"
    environment = dict(os.environ, SLUICE_SOCKET=str(folder / "control"))
    environment["PATH"] = f"{built.sluice.parent}:{environment['PATH']}"
    scenario = in_steps(given.scenario, given.step, folder) if given.step else given.scenario
    house = Simhouse(built, scenario, folder, pty=given.pty, environment=environment)
    fill_in(given.scenario.parent / settings_name(given.scenario), settings,
            {"BUS": house.bus, "TCP_PORT": str(house.port), "SOCKET": str(folder / "control"),
             "STATE": str(folder)})
    sluiced = Sluiced(built, settings, folder, clock=house.clock)
    try:
        judged, status = house.end(DAY_S), sluiced.end()
    finally:
        sluiced.close()
        house.close()
    (folder / "sluiced.log").write_text(sluiced.said.text())
    print(house.said.text())
    broken = []
    if judged != 0:
        broken.append(f"simhouse ended with {judged}:\n{house.complained.text()}")
    if status != 0:
        broken.append(f"sluiced ended with {status}")
    broken += [f"sluiced never said {wanted!r}"
               for wanted in lines_with(given.scenario.read_text(), "told")
               if not sluiced.said.find(wanted)]
    return broken, sluiced.said.tail()


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("build", type=pathlib.Path)
    arguments.add_argument("source", type=pathlib.Path)
    arguments.add_argument("scenario", type=pathlib.Path)
    arguments.add_argument("--step", help="how far the day goes at once, such as 5 s")
    arguments.add_argument("--pty", action="store_true", help="the bus is a serial line")
    arguments.add_argument("--keep", type=pathlib.Path, help="leave what was written here")
    given = arguments.parse_args()
    with tempfile.TemporaryDirectory(prefix="sluice-") as name:
        folder = pathlib.Path(name)
        broken, last_words = play(Built(given.build, given.source), given, folder)
        if given.keep:
            # Sockets and the pseudo-terminal's link are no files to keep.
            given.keep.mkdir(parents=True, exist_ok=True)
            for path in folder.iterdir():
                if path.is_file():
                    shutil.copy(path, given.keep)
    if broken:
        print("\n".join([*broken, last_words]))
    print("scenario broken" if broken else "scenario kept")
    return bool(broken)


sys.exit(main())
