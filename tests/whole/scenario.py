#!/usr/bin/env python3
"""Plays one scenario with the real programs: simhouse grants the moments and
judges the day, sluiced polls and switches over real Modbus, orders come by the
real `sluice`. Fails where a promise is broken, where either program fails, or
where sluiced did not say what the scenario's "# told:" lines ask for.

usage: scenario.py BUILD-DIR SOURCE-DIR SCENARIO [--pty] [--keep DIR]
"""
import argparse
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

PATIENCE_S = 600


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


def read_ready(simhouse, wanted):
    """The "ready KIND VALUE" lines, until each wanted kind has come."""
    ready = {}
    while not wanted <= ready.keys():
        line = simhouse.stdout.readline()
        if not line:
            raise SystemExit("simhouse ended before it was ready")
        words = line.split()
        if words[:1] == ["ready"]:
            ready[words[1]] = words[2]
    return ready


def fill_in(source, target, values):
    text = source.read_text()
    for key, value in values.items():
        text = text.replace(f"@{key}@", value)
    target.write_text(text)


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("build", type=pathlib.Path)
    arguments.add_argument("source", type=pathlib.Path)
    arguments.add_argument("scenario", type=pathlib.Path)
    arguments.add_argument("--pty", action="store_true", help="the bus is a serial line")
    arguments.add_argument("--keep", type=pathlib.Path, help="leave what was written here")
    given = arguments.parse_args()
    text = given.scenario.read_text()
    folder = pathlib.Path(tempfile.mkdtemp(prefix="sluice-"))
    settings = folder / "house.yaml"
    paths = {name: str(folder / name) for name in ("clock", "control", "pty")}
    environment = dict(os.environ, SLUICE_SOCKET=paths["control"])
    environment["PATH"] = f"{given.build / 'tools/sluice'}:{environment['PATH']}"

    command = [given.build / "tools/simhouse/simhouse", "--scenario", given.scenario,
               "--clock", paths["clock"], "--log", folder / "day.csv", "--tcp", "0"]
    if given.pty:
        command += ["--pty", paths["pty"]]
    simhouse = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                                env=environment)
    ready = read_ready(simhouse, {"tcp", "clock"} | ({"pty"} if given.pty else set()))
    line = (f"{{port: {paths['pty']}, baud: 115200, parity: none, answer: 300 ms}}" if given.pty
            else f"{{host: 127.0.0.1, tcp_port: {ready['tcp']}, answer: 300 ms}}")
    fill_in(given.scenario.parent / settings_name(given.scenario), settings,
            {"BUS": line, "TCP_PORT": ready["tcp"], "SOCKET": paths["control"],
             "STATE": str(folder)})
    log = folder / "sluiced.log"
    with log.open("w") as out:
        sluiced = subprocess.Popen(
            [given.build / "daemon/sluiced", "--settings", settings, "--maps",
             given.source / "conf/meters", "--clock", paths["clock"]],
            stderr=out, env=environment)
        try:
            sums, faults = simhouse.communicate(timeout=PATIENCE_S)
            status = sluiced.wait(timeout=30)
        finally:
            for process in (simhouse, sluiced):
                if process.poll() is None:
                    process.kill()
    said = log.read_text()
    broken = []
    if simhouse.returncode != 0:
        broken.append(f"simhouse ended with {simhouse.returncode}:\n{faults}{sums}")
    if status != 0:
        broken.append(f"sluiced ended with {status}")
    broken += [f"sluiced never said {wanted!r}" for wanted in lines_with(text, "told")
               if not re.search(wanted, said)]
    if given.keep:
        shutil.copytree(folder, given.keep, dirs_exist_ok=True)
    shutil.rmtree(folder)
    if broken:
        print("\n".join(broken))
        print("--- sluiced said, at the end:")
        print("\n".join(said.splitlines()[-60:]))
        return 1
    print(sums)
    return 0


sys.exit(main())
