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

# What to look for on a line, and what to put there.
CHANGES = [
    (r" < ", " <= "), (r" <= ", " < "), (r" > ", " >= "), (r" >= ", " > "),
    (r" == ", " != "), (r" != ", " == "), (r" && ", " || "), (r" \|\| ", " && "),
    (r" \+ ", " - "), (r" - ", " + "), (r" \* ", " / "), (r" / ", " * "),
    (r"\btrue\b", "false"), (r"\bfalse\b", "true"), (r" \+= ", " -= "), (r" -= ", " += "),
    (r"^(\s+)[a-z_]+\(.*\);$", r"\1;"),
    (r"(?<=[A-Z_] = )(\d+)\b", lambda m: str(int(m[0]) * 5 // 4 + 1)),
]


def is_code(line, in_comment):
    return not in_comment and not re.match(r"\s*(/\*|\*|#|//)", line) and '"' not in line


def places(room, only):
    found = []
    for path in sorted((SOURCE / "lib" / room).glob("*.c")):
        in_comment = False
        for number, line in enumerate(path.read_text().splitlines()):
            if is_code(line, in_comment) and re.search(only, line):
                for pattern, put in CHANGES:
                    found += [(path.relative_to(SOURCE), number, match.span(), pattern, put)
                              for match in re.finditer(pattern, line)]
            in_comment = (in_comment or "/*" in line) and "*/" not in line
    return found


def changed(text, place):
    _, number, (begin, end), pattern, put = place
    lines = text.splitlines(keepends=True)
    line = lines[number]
    lines[number] = line[:begin] + re.sub(pattern, put, line[begin:end].rstrip("\n"),
                                          count=1) if pattern.startswith("^") else line
    if not pattern.startswith("^"):
        what = line[begin:end]
        new = put(re.match(r".*", what)) if callable(put) else put
        lines[number] = line[:begin] + new + line[end:]
    elif not lines[number].endswith("\n"):
        lines[number] += "\n"
    return "".join(lines)


class Copy:
    """The tree, and the programs that the room's suite needs, built elsewhere."""

    def __init__(self, folder, room):
        self.tree, self.room = folder / "tree", room
        listed = subprocess.run(["git", "-C", SOURCE, "ls-files", "-z"], check=True,
                                capture_output=True, text=True).stdout.split("\0")
        for name in filter(None, listed):
            (self.tree / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(SOURCE / name, self.tree / name)
        peers = SOURCE / "tests/peers/node_modules"
        if peers.exists():
            (self.tree / "tests/peers/node_modules").symlink_to(peers)
        self.build = self.tree / "build"
        subprocess.run(["meson", "setup", self.build, self.tree, "-Dwerror=false"], check=True,
                       stdout=subprocess.DEVNULL)
        tests = json.loads(subprocess.run(["meson", "introspect", "--tests", self.build],
                                          check=True, capture_output=True).stdout)
        mine = [test for test in tests if f"sluice:{room}" in test["suite"]]
        self.targets = sorted({os.path.relpath(word, self.build) for test in mine
                               for word in test["cmd"] + test["depends"]
                               if str(word).startswith(str(self.build))}
                              | {name for test in mine for name in self.outputs(test["depends"])})

    def outputs(self, identifiers):
        if not hasattr(self, "by_id"):
            shown = subprocess.run(["meson", "introspect", "--targets", self.build], check=True,
                                   capture_output=True).stdout
            self.by_id = {target["id"]: target["filename"] for target in json.loads(shown)}
        return [os.path.relpath(name, self.build) for identifier in identifiers
                for name in self.by_id.get(identifier, [])]

    def run(self, *command):
        try:
            return subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                                  timeout=SECONDS_MOST).returncode == 0
        except subprocess.TimeoutExpired:
            return False

    def builds(self):
        return self.run("ninja", "-C", self.build, *[name for name in self.targets
                                                     if name != "."])

    def passes(self):
        return self.run("meson", "test", "-C", self.build, "--no-rebuild", "--suite", self.room,
                        "--maxfail", "1", "--num-processes", "2")


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("room")
    arguments.add_argument("--count", type=int, default=10)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--only", default="")
    given = arguments.parse_args()
    found = places(given.room, given.only)
    random.Random(given.seed).shuffle(found)
    noticed, unnoticed = 0, []
    with tempfile.TemporaryDirectory(prefix="mutants-") as name:
        copy = Copy(pathlib.Path(name), given.room)
        if not (copy.builds() and copy.passes()):
            sys.exit(f"the suite of {given.room} does not pass as it stands")
        for place in found:
            if noticed + len(unnoticed) == given.count:
                break
            path = copy.tree / place[0]
            before = path.read_text()
            after = changed(before, place)
            path.write_text(after)
            # What does not compile was noticed by the compiler, and counts for nothing.
            if after != before and copy.builds():
                if copy.passes():
                    unnoticed.append(place)
                    line = before.splitlines()[place[1]].strip()
                    now = after.splitlines()[place[1]].strip()
                    print(f"{place[0]}:{place[1] + 1}: {line}\n    unnoticed as: {now}", flush=True)
                else:
                    noticed += 1
            path.write_text(before)
    print(f"{given.room}: {noticed} of {noticed + len(unnoticed)} changes noticed (seed {given.seed})")


if __name__ == "__main__":
    main()
