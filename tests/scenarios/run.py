#!/usr/bin/env python3
"""Runs one scenario: a whole call of the program with its files, and what must come out.

usage: run.py SCENARIO_FOLDER PROGRAM

A scenario is a folder with call.json:

  "words"    the program's arguments. {here} is the scenario's folder, {samples} the demo's; the call
             runs in a fresh folder, so relative names lie there
  "status"   exit status
  "stderr"   regular expression for all of standard error; "" for none. An error is one line unless
             "lines" is true (several images)
  "stdout"   regular expressions that must be found, each
  "files"    names of the files left in the fresh folder, exactly
  "result"   for NAME.result.json in the fresh folder: dotted path -> value, or [value, tolerance]
             (a number that may differ). "lumens.scope.state" walks objects; "characteristics.7.verdict"
             finds the row by its "no", "measurements.scope|wash.septum.value" the measurement by "of".
  "svg"      for NAME.svg in the fresh folder: "contours" lists features that must have a contour, "text"
             regular expressions that must be found in its text elements, each. The file must be XML.

The folder may hold make.py: run first in the fresh folder, it makes inputs that are too large or too odd to
keep. It is given the program's path.
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree

SAMPLES = pathlib.Path(__file__).resolve().parents[2] / "sample-images"
TIME_LIMIT_S = 120


def walk(value, path):
    """The value at a dotted path; lists are searched by "no" or by "of" and "quantity"."""
    parts = path.split(".")
    while parts:
        part = parts.pop(0)
        rows = value if isinstance(value, list) and value and isinstance(value[0], dict) else []
        if rows and "no" in rows[0]:
            value = [v for v in rows if v["no"] == part][0]
        elif rows and "quantity" in rows[0]:
            word = parts.pop(0)
            value = [v for v in rows if v["of"] in (part, part.split("|")) and v["quantity"] == word][0]
        elif isinstance(value, list):
            value = value[int(part)]
        else:
            value = value[part]
    return value


def differs(found, wanted):
    if isinstance(wanted, list) and len(wanted) == 2 and all(isinstance(w, (int, float)) for w in wanted):
        return not isinstance(found, (int, float)) or abs(found - wanted[0]) > wanted[1]
    return found != wanted


def check(call, run, folder, made):
    """Yields what is not as it must be."""
    if run.returncode != call["status"]:
        yield f"exit status {run.returncode}, not {call['status']}"
    if not re.fullmatch(call.get("stderr", ""), run.stderr.rstrip("\n")):
        yield f"standard error does not match {call.get('stderr', '')!r}"
    if "\n" in run.stderr.rstrip("\n") and call["status"] > 1 and not call.get("lines"):
        yield "standard error has more than one line"
    for pattern in call.get("stdout", []):
        if not re.search(pattern, run.stdout):
            yield f"standard output lacks {pattern!r}"
    names = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()} - made
    if names != set(call.get("files", [])):
        yield f"files left: {sorted(names)}, not {sorted(call.get('files', []))}"
    for name, fields in call.get("result", {}).items():
        path = folder / name
        if not path.is_file():
            continue  # told above
        result = json.loads(path.read_text(encoding="utf-8"))
        for field, wanted in fields.items():
            try:
                found = walk(result, field)
            except (KeyError, IndexError, TypeError):
                yield f"{name}: no {field}"
                continue
            if differs(found, wanted):
                yield f"{name}: {field} is {found!r}, not {wanted!r}"


def check_svg(path, wanted):
    """Yields what an SVG file lacks."""
    name = "{http://www.w3.org/2000/svg}"
    try:
        root = xml.etree.ElementTree.parse(path).getroot()
    except (OSError, xml.etree.ElementTree.ParseError) as error:
        yield f"{path.name}: {error}"
        return
    groups = [g for g in root.iter(name + "g") if g.get("class") == "contour" and g.find(name + "path") is not None]
    drawn = {g.get("data-feature") for g in groups}
    for feature in wanted.get("contours", []):
        if feature not in drawn:
            yield f"{path.name}: no contour of {feature}, only {sorted(drawn)}"
    text = "\n".join(t.text or "" for t in root.iter(name + "text"))
    for pattern in wanted.get("text", []):
        if not re.search(pattern, text):
            yield f"{path.name}: no text {pattern!r}"


def main():
    scenario, program = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
    call = json.loads((scenario / "call.json").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        if (scenario / "make.py").is_file():
            subprocess.run([sys.executable, scenario / "make.py", program], cwd=folder, check=True)
        made = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
        words = [w.replace("{here}", str(scenario)).replace("{samples}", str(SAMPLES)) for w in call["words"]]
        run = subprocess.run([program] + words, cwd=folder, capture_output=True, text=True,
                             errors="backslashreplace", timeout=TIME_LIMIT_S, check=False)
        wrong = list(check(call, run, folder, made))
        for svg, wanted in call.get("svg", {}).items():
            wrong += check_svg(folder / svg, wanted)
    if wrong:
        print(f"cutface {' '.join(words)}\n--- standard output\n{run.stdout}--- standard error\n{run.stderr}---")
        print("\n".join(wrong))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
