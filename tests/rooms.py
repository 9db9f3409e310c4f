#!/usr/bin/env python3
"""Arrows between rooms point one way: no file includes a room that its own may
not know, and no pure room includes a header that opens a door to the outside."""
import pathlib
import re
import sys

MAY_USE = {
    "core": [],
    "terms": ["core"],
    "frame": ["core"],
    "meter": ["core"],
    "tariff": ["core"],
    "heat": ["core", "tariff"],
    "rules": ["core", "terms", "tariff", "heat"],
    "house": ["core"],
    "days": ["core"],
    "refine": ["core", "house", "days"],
    "trial": ["core", "terms", "tariff", "heat", "rules", "house", "days"],
    "quote": ["core", "tariff", "heat", "rules", "house", "days", "refine", "trial"],
    "loop": ["core"],
    "bus": ["core", "frame", "meter", "loop"],
    "gateway": ["core", "frame", "meter", "loop", "bus"],
    "output": ["core", "terms", "bus", "loop", "meter"],
    "ledger": ["core", "loop"],
    "mqtt": ["core", "loop"],
    "settings": ["core", "terms", "meter", "tariff", "rules", "bus", "output", "ledger", "mqtt",
                 "gateway"],
    "values": ["core", "terms", "tariff", "heat", "meter", "rules", "bus", "gateway", "output", "mqtt", "settings"],
}
PURE = ["core", "terms", "frame", "meter", "tariff", "heat", "rules", "house"]
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


def faults(root):
    for path in sorted((root / "lib").rglob("*.[ch]")):
        room = path.relative_to(root / "lib").parts[0]
        if room not in MAY_USE:
            yield f"{path}: {room} is not a room that tests/rooms.py knows"
            continue
        text = path.read_text()
        for number, line in enumerate(text.splitlines(), 1):
            match = INCLUDE.match(line)
            if not match:
                continue
            kind, name = match.groups()
            other = name.split("/")[0] if "/" in name else room
            if kind == '"' and other != room and other not in MAY_USE[room]:
                yield f"{path}:{number}: {room} may not use {other}"
            if kind == "<" and room in PURE and name not in PURE_SYSTEM_HEADERS:
                yield f"{path}:{number}: the pure room {room} includes <{name}>"
        if room in PURE and path.suffix == ".c":
            for match in IMPURE_CALL.finditer(COMMENT.sub("", text)):
                yield f"{path}: the pure room {room} calls {match.group(1)}"


def main():
    root = pathlib.Path(sys.argv[1])
    found = list(faults(root))
    for fault in found:
        print(fault)
    print(f"{len(MAY_USE)} rooms looked at")
    return 1 if found else 0


sys.exit(main())
