#!/usr/bin/env python3
"""Rejects two types of one name in the program's namespace.

usage: names.py [ROOT]     one line per offence on standard output; exit status 1 when there is one

Two rooms may each define a struct of the same name without the compiler noticing; the linker keeps one destructor
for both. Types within an unnamed namespace, or in a namespace of the room's own, do not meet.
"""
import collections
import pathlib
import re
import sys

FOLDERS = ["src", "include", "gui", "calibration"]
OPENS = re.compile(r"\s*namespace\s*([\w:]*)\s*\{")
CLOSES = re.compile(r"\}\s*// namespace")
TYPE = re.compile(r"(?:struct|class|union|enum class|enum)\s+(\w+)\s*(?:final\s*)?(?::[^:;][^;]*)?\{")


def types_in(path):
    """Names of the types that a file defines where others can see them, with their namespace."""
    spaces = []
    for line in path.read_text(encoding="utf-8").splitlines():
        opened = OPENS.match(line)
        if opened:
            spaces.append(opened.group(1))
        elif CLOSES.match(line) and spaces:
            spaces.pop()
        elif "" not in spaces and (found := TYPE.match(line)):
            yield "::".join([*spaces, found.group(1)])


def offences(root):
    places = collections.defaultdict(set)
    for folder in FOLDERS:
        for path in sorted((root / folder).rglob("*")):
            if path.suffix in (".h", ".cpp"):
                for name in types_in(path):
                    places[name].add(str(path.relative_to(root)))
    for name, files in sorted(places.items()):
        if len(files) > 1:
            yield f"{name}: defined in {' and '.join(sorted(files))}; rename one"


def main():
    root = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).parents[2])
    found = list(offences(root))
    print("\n".join(found), end="\n" if found else "")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
