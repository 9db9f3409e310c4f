#!/usr/bin/env python3
"""Arrows point one way. Between rooms: no file includes or calls what its room may not
know, and no pure room opens a door to the outside. Inside a room, and inside each folder of
the programs, no two files need each other: neither calls, or reads, what needs itself. (A
file may include the door that is implemented beside it: that is what a door is for.)

usage: rooms.py SOURCE-DIR [BUILD-DIR]

Includes are read from the sources, calls from the objects of the build, where there is one.
tools/rooms draws what is found here.
"""
import json
import pathlib
import re
import subprocess
import sys

MAY_USE = {
    "core": [],
    "terms": ["core"],
    "frame": ["core"],
    "meter": ["core"],
    "tariff": ["core"],
    "heat": ["core", "tariff"],
    "observe": ["core", "terms"],
    "rules": ["core", "terms", "tariff", "heat", "observe"],
    "house": ["core"],
    "days": ["core"],
    "result": ["core"],
    "refine": ["core", "house", "days"],
    "trial": ["core", "terms", "tariff", "heat", "rules", "house", "days", "result"],
    "quote": ["core", "tariff", "heat", "rules", "house", "days", "refine", "result", "trial"],
    "loop": ["core"],
    "bus": ["core", "frame", "meter", "loop"],
    "gateway": ["core", "frame", "meter", "loop", "bus"],
    "output": ["core", "terms", "bus", "loop", "meter"],
    "input": ["core", "terms", "bus", "loop", "meter"],
    "sensor": ["core", "terms", "loop"],
    "ledger": ["core", "loop"],
    "mqtt": ["core", "loop"],
    "settings": ["core", "terms", "meter", "tariff", "heat", "rules", "bus", "output", "input", "sensor", "ledger", "mqtt",
                 "gateway"],
    "values": ["core", "terms", "tariff", "heat", "observe", "meter", "rules", "bus", "gateway", "output", "input", "sensor", "mqtt", "settings"],
}
PURE = ["core", "terms", "frame", "meter", "tariff", "heat", "observe", "rules", "house"]
PURE_SYSTEM_HEADERS = {
    "ctype.h", "errno.h", "float.h", "inttypes.h", "limits.h", "math.h", "stdarg.h", "stdbool.h",
    "stddef.h", "stdint.h", "stdio.h", "stdlib.h", "string.h", "strings.h", "assert.h",
}
# What a pure room may not call: it knows no file, clock, thread or allocation.
IMPURE_CALL = re.compile(
    r"\b(malloc|calloc|realloc|free|strdup|fopen|open|printf|puts|perror|getenv|"
    r"time|clock_gettime|gettimeofday|localtime_r?|rand|exit)\s*\(")
INCLUDE = re.compile(r'^\s*#include\s+(["<])([^">]+)[">]')
COMMENT = re.compile(r"/\*.*?\*/|\"(?:\\.|[^\"\\])*\"", re.S)


def sources(root):
    return [path for top in ("lib", "daemon", "tools")
            for path in sorted((root / top).rglob("*.[ch]"))]


def folder_of(root, path):
    """The name of a room, or the place of a program's folder."""
    place = path.relative_to(root)
    return place.parts[1] if place.parts[0] == "lib" else str(place.parent)


def includes(path):
    """Number of the line, kind and name of each."""
    for number, line in enumerate(path.read_text().splitlines(), 1):
        match = INCLUDE.match(line)
        if match:
            yield number, *match.groups()


# ---- who needs whom ------------------------------------------------------------------------

def included(root):
    """Pairs of files, the second's header included by the first, both without their ends."""
    for path in sources(root):
        for _, kind, name in includes(path):
            for place in (path.parent, root / "lib", root / path.relative_to(root).parts[0],
                          root / "tools/sluice"):
                if kind == '"' and (place / name).exists():
                    yield path.with_suffix(""), (place / name).resolve().with_suffix("")
                    break


def called(root, build):
    """The same, where the first's object needs a symbol that the second's defines."""
    commands = json.loads((build / "compile_commands.json").read_text())
    objects = {}
    for command in commands:
        source, output = ((pathlib.Path(command["directory"]) / command[key]).resolve()
                          for key in ("file", "output"))
        if output.exists() and any(source.is_relative_to(root / top)
                                   for top in ("lib", "daemon", "tools")):
            objects.setdefault(source.with_suffix(""), output)
    listed = subprocess.run(["nm", "-A", *objects.values()], check=True, capture_output=True,
                            text=True, errors="replace").stdout
    file_of = {str(output): source for source, output in objects.items()}
    defines, needs = {}, []
    for line in listed.splitlines():
        output, words = line.split(":", 1)[0], line.split(":", 1)[1].split()
        kind, symbol = words[-2], words[-1]
        if kind == "U":
            needs.append((file_of[output], symbol))
        elif kind in "TDBRVWC" and symbol != "main":
            defines[symbol] = file_of[output]
    return [(file, defines[symbol]) for file, symbol in needs if symbol in defines]


def circles(pairs):
    """The groups of files that need each other (R. Tarjan, 1972)."""
    after = {}
    for one, other in pairs:
        if one != other:
            after.setdefault(one, set()).add(other)
    index, low, stack, found = {}, {}, [], []

    def visit(node):
        index[node] = low[node] = len(index)
        stack.append(node)
        for other in sorted(after.get(node, ())):
            if other not in index:
                visit(other)
                low[node] = min(low[node], low[other])
            elif other in stack:
                low[node] = min(low[node], index[other])
        if low[node] == index[node]:
            group = stack[stack.index(node):]
            del stack[stack.index(node):]
            if len(group) > 1:
                found.append(sorted(group))

    for node in sorted(after):
        if node not in index:
            visit(node)
    return found


# ---- what is wrong -------------------------------------------------------------------------

def wrong_includes(root):
    for path in sources(root):
        room = folder_of(root, path)
        if path.relative_to(root).parts[0] != "lib":
            continue
        if room not in MAY_USE:
            yield f"{path}: {room} is not a room that tests/rooms.py knows"
            continue
        for number, kind, name in includes(path):
            other = name.split("/")[0] if "/" in name else room
            if kind == '"' and other != room and other not in MAY_USE[room]:
                yield f"{path}:{number}: {room} may not use {other}"
            if kind == "<" and room in PURE and name not in PURE_SYSTEM_HEADERS:
                yield f"{path}:{number}: the pure room {room} includes <{name}>"
        if room in PURE and path.suffix == ".c":
            for match in IMPURE_CALL.finditer(COMMENT.sub("", path.read_text())):
                yield f"{path}: the pure room {room} calls {match.group(1)}"


def wrong_calls(root, pairs):
    for one, other in pairs:
        room, used = folder_of(root, one), folder_of(root, other)
        if room in MAY_USE and used != room and used not in MAY_USE[room]:
            yield f"{one}: {room} may not use {used}, where {other.name} is"


def wrong_circles(root, pairs):
    within = [(one, other) for one, other in pairs
              if folder_of(root, one) == folder_of(root, other)]
    for group in circles(within):
        names = sorted(file.name for file in group)
        yield f"{folder_of(root, group[0])}: these files need each other: {' '.join(names)}"


def main():
    root = pathlib.Path(sys.argv[1]).resolve()
    by_include = list(included(root))
    by_call = called(root, pathlib.Path(sys.argv[2]).resolve()) if len(sys.argv) > 2 else []
    found = [*wrong_includes(root), *sorted(set(wrong_calls(root, by_call))),
             *wrong_circles(root, by_call)]
    for fault in found:
        print(fault)
    print(f"{len(MAY_USE)} rooms looked at, {len(by_include)} includes, {len(by_call)} calls")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
