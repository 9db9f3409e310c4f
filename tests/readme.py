#!/usr/bin/env python3
"""README's line of packages for a build is the first part of tools/packages.

usage: readme.py SOURCE-DIR
"""
import pathlib
import re
import sys


def first_part(text):
    """Up to the next heading, which is a comment after a blank line."""
    start = text.index("# To build")
    part = text[start:text.index("\n\n#", start)]
    return [line.split()[0] for line in part.splitlines() if line and not line.startswith("#")]


root = pathlib.Path(sys.argv[1])
listed = first_part((root / "tools/packages").read_text())
line = re.search(r"apt install (build-essential(?:.*\\\n)*.*)", (root / "README.md").read_text())
named = line.group(1).replace("\\\n", " ").split() if line else []
print(f"tools/packages: {listed}\nREADME.md:      {named}")
sys.exit(not named or named != listed)
