#!/usr/bin/python3
"""Fills the accuracy table of README.md from score files.

    write_table.py --cutface F [--skimage F] [--readme README.md] [--short] [--table NAME]

F are files that `score.py --json F` wrote, one for each program, over the same faces. What stands between
the markers `<!-- NAME:begin -->` and `<!-- NAME:end -->` is replaced; no number is typed by hand.
--short leaves the table of intervals out and says where it stands.
"""

import argparse
import os
import sys

from faces import read_json
from score import COVERAGE_BAND, ROWS, SHARPNESS_LIMIT, reached, shown

def markers(name):
    return f"<!-- {name}:begin -->", f"<!-- {name}:end -->"


# Rows of the interval table; the score file has all quantities.
INTERVAL_WORDS = ("equivalent_diameter (lumen)", "equivalent_diameter (outline)", "septum (pair)",
                  "wall (lumen)", "inscribed_diameter (lumen)", "area (lumen)", "diameter (outline)",
                  "width_min (outline)", "width_max (outline)", "perimeter (lumen)",
                  "offset (lumen)", "position (lumen)")


def main_table(ours, theirs):
    sets = [s for s in ours["sets"] if s != "all"]
    wanted = {group for _, _, targets, _, _ in ROWS for group in targets}
    heads, rule = [""], ["---"]
    for group in sets:
        heads += [f"{group}: cutface"] + ([f"{group}: scikit-image"] if theirs else [])
        heads += ["needed"] if group in wanted else []
        rule += ["--:"] * (len(heads) - len(rule))
    lines = [heads, rule]
    for key, title, targets, how, more in ROWS:
        if all(ours["sets"][group][key] is None for group in sets):
            continue  # of parts that these sets do not hold
        cells = [title]
        for group in sets:
            value, target = ours["sets"][group][key], targets.get(group)
            good = reached(value, target, more)
            cells.append(f"**{shown(value, how)}**" if good is False else shown(value, how))
            if theirs:
                cells.append(shown(theirs["sets"].get(group, {}).get(key), how))
            sign = ">=" if more else "<="
            if group in wanted:
                cells.append("" if target is None else f"{sign} {shown(target, how)}")
        lines.append(cells)
    if theirs:
        for key, clock in (("seconds", "wall time"), ("cpu_seconds", "CPU time")):
            cells = [f"times as fast as scikit-image, {clock}"]
            for group in sets:
                one, other = ours["sets"][group][key], theirs["sets"].get(group, {}).get(key)
                cells += [f"{other / one:.1f}" if one and other else "-", "1"]
                cells += [">= 20"] if group in wanted else []
            lines.append(cells)
    return ["| " + " | ".join(line) + " |" for line in lines]


def interval_table(scores):
    lines = [["quantity", "set", "values", "not measured", "coverage", "its 95 % interval",
              "half-width (px)", "RMS error (px)", "sharpness", "robust"],
             ["---", "---"] + ["--:"] * 8]
    for word in INTERVAL_WORDS:
        for group, figures in scores["sets"].items():
            row = figures["quantities"].get(word)
            if group == "all" or not row or not row["measured"]:
                continue
            low, high = row["coverage_interval"]
            fits = high >= COVERAGE_BAND[0] and low <= COVERAGE_BAND[1]
            coverage, sharp = shown(row["coverage"], "%"), row["sharpness"]
            dull = sharp is not None and sharp > SHARPNESS_LIMIT
            robust = row["sharpness_robust"]
            lines.append([
                word, group, str(row["true"]), shown(row["not_measured"], "%"),
                coverage if fits else f"**{coverage}**",
                f"{100 * low:.1f} to {100 * high:.1f} %",
                f"{row['half_median']:.2f}", f"{row['rms']:.2f}",
                "-" if sharp is None else f"**{sharp:.2f}**" if dull else f"{sharp:.2f}",
                "-" if robust is None else f"{robust:.2f}"])
    return ["| " + " | ".join(line) + " |" for line in lines]


def same_faces(ours, theirs):
    names = [sorted((f["set"], f["name"]) for f in s["faces"]) for s in (ours, theirs)]
    return names[0] == names[1]


def render(ours, theirs=None, short=False):
    """The text between the markers."""
    if theirs and not same_faces(ours, theirs):
        raise SystemExit("the two score files are not over the same faces: score both again")
    lines = []
    for group, figures in ours["sets"].items():
        if group == "all":
            continue
        seeds = figures.get("seeds")
        lines.append(f"- {group}: {figures['faces']} faces"
                     + (f", seeds {seeds[0]} to {seeds[1]}" if seeds else ""))
    lines += ["", "A figure in bold misses what is needed.", ""]
    lines += main_table(ours, theirs)
    if short:
        lines += ["", "Coverage of the intervals by quantity: `tests/bench/README.md`."]
        return "\n".join(lines)
    lines += ["", "Intervals of cutface (stated 95 %; needed: coverage 93 to 97 %, or its interval overlaps "
              f"that; sharpness at most {SHARPNESS_LIMIT}):", ""]
    lines += interval_table(ours)
    codes = {}
    for face in ours["faces"]:
        if face["code"]:
            codes[face["code"]] = codes.get(face["code"], 0) + 1
    if codes:
        lines += ["", "Faces without a result: "
                  + ", ".join(f"{n} x {c}" for c, n in sorted(codes.items())) + "."]
    return "\n".join(lines)


def fill(readme, text, table="accuracy"):
    """Replaces what stands between the table's markers of the file."""
    begin, end = markers(table)
    with open(readme, encoding="utf-8") as file:
        page = file.read()
    if page.count(begin) != 1 or page.count(end) != 1 or page.index(end) < page.index(begin):
        raise SystemExit(f"{readme}: needs the markers {begin} and {end} once each, in this order")
    head, tail = page.split(begin)[0], page.split(end)[1]
    with open(readme, "w", encoding="utf-8") as file:
        file.write(f"{head}{begin}\n{text}\n{end}{tail}")


def main():
    here = os.path.dirname(os.path.abspath(__file__))
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cutface", required=True, metavar="F", help="score file of cutface")
    parser.add_argument("--skimage", metavar="F", help="score file of the scikit-image pipeline")
    parser.add_argument("--readme", default=os.path.join(here, "README.md"))
    parser.add_argument("--short", action="store_true", help="without the table of intervals")
    parser.add_argument("--table", default="accuracy", metavar="NAME",
                        help="its markers' name: accuracy, or accuracy-built for built-up parts")
    options = parser.parse_args()
    theirs = read_json(options.skimage) if options.skimage else None
    fill(options.readme, render(read_json(options.cutface), theirs, options.short), options.table)
    return 0


if __name__ == "__main__":
    sys.exit(main())
