#!/usr/bin/env python3
"""Rejects an include or a CMake NEEDS that goes up a floor, and private headers of another room.

usage: floors.py [ROOT]     one line per offence on standard output; exit status 1 when there is one
"""
import pathlib
import re
import sys

# Lowest floor first. Rooms in one line are neighbours and do not know each other; "measure -> judge
# -> analyse" and "segment -> identify" of the design share a floor but not a line.
FLOORS = [
    ["base"],
    ["geometry", "stats", "quantity"],
    ["micrograph", "design", "scale", "section", "elastic"],
    ["edge", "phantom"],
    ["segment"],
    ["identify"],
    ["measure"],
    ["judge"],
    ["analyse"],
    ["inspect", "roster"],
    ["picture", "study", "qualify", "record", "calibration", "planes", "archive"],
    ["job", "compare"],
    ["batch", "report"],
    ["cli", "gui"],
]
# A big room's second public header, and its room.
SECOND_HEADERS = {"calibration_keeping": "calibration", "opening": "planes", "profile": "measure",
                  "correction": "section", "anova": "stats", "stats_run": "stats",
                  "plot": "picture"}
FLOOR = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}
SECOND_HEADERS.update(texts="base", in_parallel="base")
NO_ROOM = {"cmake", "data"}  # folders of src without code of a room
ROOMS_BESIDE_SRC = ["calibration", "gui"]
SECOND_HEADERS.update(asked="measure", keeping="job", targets="job", folder_faces="batch", png_rows="micrograph")
SOURCES = {".h", ".cpp"}

INCLUDE = re.compile(r'^\s*#\s*include\s*["<]([^">]+)[">]')
ROOM_CALL = re.compile(r"cutface_room\(\s*(\w+)([^)]*)\)", re.S)
COMMENT = re.compile(r"#[^\n]*")


def may_see(room, other):
    return room == other or FLOOR[other] < FLOOR[room]


def included_room(target):
    """The room an include speaks of and whether the header is private; None when it is no room's."""
    parts = pathlib.PurePosixPath(target).parts
    if len(parts) == 2 and parts[0] == "cutface":
        stem = pathlib.PurePosixPath(parts[1]).stem
        room = SECOND_HEADERS.get(stem, stem)
        return (room, False) if room in FLOOR else None
    if len(parts) >= 2 and parts[0] in FLOOR:
        return parts[0], True
    return None


def check_includes(path, room, name):
    text = path.read_text(encoding="utf-8")
    for number, line in enumerate(text.splitlines(), 1):
        found = INCLUDE.match(line)
        if not found:
            continue
        target = found.group(1)
        where = f"{name}:{number}"
        if ".." in pathlib.PurePosixPath(target).parts:
            yield f"{where}: {target} climbs out of its folder; include by room and name"
            continue
        if target.startswith("imgui") and room != "gui":
            yield f"{where}: {target} belongs to the window, not to the room {room}"
        if target.startswith("imgui") and "/state/" in name:
            yield f"{where}: {target} in gui/state; state has no ImGui include"
        if target == "opencv2/opencv.hpp":
            yield f"{where}: {target} pulls in every module; include opencv2/core.hpp or imgproc.hpp"
        spoken = included_room(target)
        if spoken is None:
            if target.startswith("cutface/"):
                yield f"{where}: {target} is no room of tests/house/floors.py"
            continue
        other, private = spoken
        if private and other != room:
            yield f"{where}: {target} is private to {other}; use cutface/{other}.h"
        elif not may_see(room, other):
            yield f"{where}: {room} may not see {other} ({target}): same floor or higher"


def check_needs(path, name):
    text = COMMENT.sub("", path.read_text(encoding="utf-8"))
    for call in ROOM_CALL.finditer(text):
        room, words = call.group(1), call.group(2).split()
        if room not in FLOOR:
            yield f"{name}: cutface_room({room}) is no room of tests/house/floors.py"
            continue
        section = ""
        for word in words:
            if word in ("NEEDS", "LIBS"):
                section = word
                continue
            other = word.removeprefix("cutface_")
            is_room = section == "NEEDS" or word.startswith("cutface_")
            if not is_room or other == "warnings":
                continue
            if other not in FLOOR:
                yield f"{name}: {room} NEEDS {word}, which is no room"
            elif not may_see(room, other):
                yield f"{name}: {room} may not need {other}: same floor or higher"


def offences(root):
    root = pathlib.Path(root)
    folders = [p for p in sorted((root / "src").glob("*")) if p.is_dir() and p.name not in NO_ROOM]
    folders += [root / beside for beside in ROOMS_BESIDE_SRC if (root / beside).is_dir()]
    for folder in folders:
        room = folder.name
        if room not in FLOOR:
            yield f"{folder.relative_to(root)}: no room of tests/house/floors.py"
            continue
        for path in sorted(folder.rglob("*")):
            name = str(path.relative_to(root))
            if path.suffix in SOURCES:
                yield from check_includes(path, room, name)
            elif path.name == "CMakeLists.txt":
                yield from check_needs(path, name)
    for path in sorted((root / "include" / "cutface").glob("*.h")):
        name = str(path.relative_to(root))
        room = SECOND_HEADERS.get(path.stem, path.stem)
        if room not in FLOOR:
            yield f"{name}: no room of tests/house/floors.py"
            continue
        yield from check_includes(path, room, name)


def main():
    root = sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).resolve().parents[2]
    found = list(offences(root))
    for line in found:
        print(line)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
