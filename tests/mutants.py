#!/usr/bin/env python3
"""How well a room's own tests watch over it: changes one place of its sources at a time
and looks whether its suite notices. Works on a copy; prints each change that nothing
noticed, for a person to judge: some change nothing that anybody could see.

usage: mutants.py ROOM [--count N] [--seed N] [--only REGEX]

  --only REGEX   only lines that match, e.g. those of tuned constants

(R. A. DeMillo, R. J. Lipton, F. G. Sayward, "Hints on test data selection", Computer 11
(4), 1978, for the idea.)
"""
import argparse
import json
import os
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile

SOURCE = pathlib.Path(__file__).resolve().parent.parent
SECONDS_MOST = 600
# A step beyond an array ends the program, as in the tests under sanitizers.
TRAPS = "-Dc_args=-fsanitize=undefined -fsanitize-undefined-trap-on-error"

# What to look for on a line, and what to put there.
CHANGES = [
    (r" < ", " <= "), (r" <= ", " < "), (r" > ", " >= "), (r" >= ", " > "),
    (r" == ", " != "), (r" != ", " == "), (r" && ", " || "), (r" \|\| ", " && "),
    (r" \+ ", " - "), (r" - ", " + "), (r" \* ", " / "), (r" / ", " * "),
    (r"\btrue\b", "false"), (r"\bfalse\b", "true"), (r" \+= ", " -= "), (r" -= ", " += "),
    (r"^(\s+)[a-z_]+\(.*\);$", r"\1;"),
    (r"(?<=[A-Z_] = )(\d+)\b", lambda m: str(int(m[0]) * 5 // 4 + 1)),
]


def code_of(line, in_comment):
    """The part of a line that is code: none where texts or directives stand."""
    if in_comment or '"' in line or re.match(r"\s*(/\*|\*|#|//)", line):
        return ""
    return line.split("/*")[0].rstrip()


def changes_of(code):
    for pattern, put in CHANGES:
        for match in re.finditer(pattern, code):
            new = put(match) if callable(put) else match.expand(put)
            yield code[:match.start()] + new + code[match.end():]


def places(room, only):
    """Each change that can be made: file, line, and what the line becomes."""
    found = []
    for path in sorted((SOURCE / "lib" / room).glob("*.c")):
        in_comment = False
        for number, line in enumerate(path.read_text().splitlines()):
            code = code_of(line, in_comment)
            if re.search(only, code):
                found += [(path.relative_to(SOURCE), number, now) for now in changes_of(code)]
            in_comment = (in_comment or "/*" in line) and "*/" not in line
    return found


def changed(text, number, now):
    lines = text.splitlines(keepends=True)
    lines[number] = now + "\n"
    return "".join(lines)


class Copy:
    """The tree, and the programs that the room's suite needs, built elsewhere."""

    def __init__(self, folder, room):
        self.tree, self.build, self.room = folder / "tree", folder / "tree/build", room
        self.copy()
        subprocess.run(["meson", "setup", self.build, self.tree, "-Dtests=true", TRAPS],
                       check=True, stdout=subprocess.DEVNULL)
        programs = {target["id"]: target["filename"] for target in self.introspect("targets")}
        tests = [test for test in self.introspect("tests") if f"sluice:{room}" in test["suite"]]
        self.programs = sorted({os.path.relpath(name, self.build) for test in tests
                                for identifier in test["depends"]
                                for name in programs[identifier]})
        self.quick = [test["name"] for test in tests if "sluice:slow" not in test["suite"]]
        self.slow = [test["name"] for test in tests if "sluice:slow" in test["suite"]]

    def copy(self):
        listed = subprocess.run(["git", "-C", SOURCE, "ls-files", "-z"], check=True,
                                capture_output=True, text=True).stdout.split("\0")
        for name in filter(None, listed):
            (self.tree / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(SOURCE / name, self.tree / name)
        peers = SOURCE / "tests/peers/node_modules"
        if peers.exists():
            (self.tree / "tests/peers/node_modules").symlink_to(peers)

    def introspect(self, what):
        return json.loads(subprocess.run(["meson", "introspect", f"--{what}", self.build],
                                         check=True, capture_output=True).stdout)

    def run(self, *command):
        """Whether it ends well and in time; nothing of it is left behind."""
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            return process.wait(SECONDS_MOST) == 0
        except subprocess.TimeoutExpired:
            process.terminate()  # meson and ninja then end what they started
            process.wait()
            return False

    def builds(self):
        return self.run("ninja", "-C", self.build, *self.programs)

    def passes(self):
        """The slow tests are asked where the others have noticed nothing."""
        return all(self.run("meson", "test", "-C", self.build, "--no-rebuild", "--suite", self.room,
                            "--maxfail", "1", "--num-processes", "2",
                            "--timeout-multiplier", "4", *names)
                   for names in (self.quick, self.slow) if names)


def notices(copy, path, before, after):
    """None for what doesn't compile: that the compiler noticed, and it counts for nothing."""
    path.write_text(after)
    noticed = not copy.passes() if copy.builds() else None
    path.write_text(before)
    return noticed


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("room")
    arguments.add_argument("--count", type=int, default=10)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--only", default="")
    given = arguments.parse_args()
    found = places(given.room, given.only)
    random.Random(given.seed).shuffle(found)
    noticed = tried = 0
    with tempfile.TemporaryDirectory(prefix="mutants-") as name:
        copy = Copy(pathlib.Path(name), given.room)
        if not (copy.builds() and copy.passes()):
            sys.exit(f"the suite of {given.room} does not pass as it stands")
        for file, number, now in found:
            if tried == given.count:
                break
            before = (copy.tree / file).read_text()
            seen = notices(copy, copy.tree / file, before, changed(before, number, now))
            if seen is None:
                continue
            tried += 1
            noticed += seen
            if not seen:
                print(f"{file}:{number + 1}: {before.splitlines()[number].strip()}\n"
                      f"    unnoticed as: {now.strip()}", flush=True)
    print(f"{given.room}: {noticed} of {tried} changes noticed (seed {given.seed})", flush=True)


if __name__ == "__main__":
    main()
