#!/usr/bin/python3
"""Scores results of measured faces against their truth.

    score.py DIR... [--results out] [--json F] [--worst N] [--quiet]

Reads NAME.truth.json, NAME.design.json, NAME.calibration.json in each DIR and NAME.result.json (with
runs.json) in DIR/RESULTS. Prints the table per set and in all, by light and by family, then one line
`NAME family light reason` for each face that is not complete or silently wrong.

Rules. Errors are in pixels of the picture: a result's micrometres divided by the record's pitch, less
the true value in pixels; so they judge the picture's reading and not the record. Intervals are held
against the true value in micrometres (true pixels x TRUE pitch), because they must hold the record's
doubt too. Nothing is left out because it looks hard.

complete    Every lumen of the truth is told once, under its name and with its state (open, merged, cut
            off, not found; open and filled count as one here and have a row of their own); contours of
            open, filled and merged ones overlap the true one, as far as it lies in the frame, by at
            least 0.5 (intersection over union); merged lumens are one entry that names exactly its
            members; what is truly not found is not told as anything else; no lumen has a name the
            truth does not know; a whole outline overlaps by 0.5. A lumen within 3 px of the frame's
            edge may be cut off or not; one with less than 2 % of its area in the frame may also be not
            found. Names that the result calls interchangeable may be permuted together, but only by
            rotations and reflections that map the nominal face onto itself; the best one counts for
            all rules.
open or     Share of faces whose lumens that are open or filled are all told as the one that they are.
filled
diameters   Share of true equivalent_diameter values (outline and lumens) measured within 0.25 and
            0.5 px. Not measured counts as outside. What the frame cuts and sizes of merged bores may be
            left out; when they are measured all the same they count like all others (merged ones
            in the table of intervals only).
septum,     Median |error| of every least septum (all pairs the truth lists, without breaches) and
wall        wall that was measured; the share not measured stands beside it.
over-read   Share of measured septa whose lo lies above the true value; a septum measured where the
            truth is a breach has the true value 0.
voids       A told void (class void, bond gap, liner gap) is right when 0.3 of its area lies in true
            voids; a true void is found when 0.3 of its area lies in right ones. 12 px and more
            (equal-area diameter): recall by told voids, precision of those told as 12 px and more.
            6 to 12 px: the class `doubtful` also finds, and is never counted as false. Voids that
            the frame cuts are left out. A face without result finds none.
silent      Face with at least one of: (a) its verdict is `conforms` though the true face breaks a
wrong       limit of the drawing by more than 0.5 px (areas by their equal-area diameter, numbers
            without unit by 1 % of the limit; rows whose value the truth does not hold: its list
            limits_broken); (b) a lumen told as open or filled whose true state is another one, or
            whose equal-area diameter or centroid is off by 3 px or more, and nothing says so: no
            doubt on the contour, its equivalent_diameter measured and graded clean, no finding names
            it, no finding `poor image` or `wrong part`, names `proven`. The verdict plays no part
            in (b): a face rejected for another reason is still silently wrong.
coverage    Share of 95 % intervals [lo, hi] that hold the true value, by quantity, with its 95 %
            Clopper-Pearson interval; several values of one face are not independent, so the number of
            values is divided by the design effect of the faces as clusters (never below 1) first.
sharpness   Median half-width / (2 x RMS error, the scale's error included). The RMS is ruled by the worst
            few and by the widest intervals; the robust figure is 0.337 / median(|error| / half-width), 1
            when each half-width is twice the standard deviation of its own normal error.
built-up    Wires: a face's count is right when as many are told as there are and each lies within half a
parts       long axis of its own; the numbering when family and slot agree, the two families swapped as a
            whole or not, a family turned by one where a wire stands within 6 degrees of 12 o'clock (any
            turn or hand where a single lumen says nothing of the rotation). Faults: missing, pulled out,
            extra and exposed wires told at their place (a missing one within 2 degrees more of its layer's
            round: nothing shows where in its slot it would have lain); false alarms: faces with one that is not
            so. A bundle of
            fibres is found when its middle lies within 0.3 of its radius.
            Liners: |error| of thickness_mean of true walls of 4 px and more. Bonds: |error| of offset; gaps of
            5 degrees and more that the frame does not cut, found (class bond gap) and sized within 2 degrees. braid_angle: within 3
            degrees where it is above 30 and the wire 12 px and more; there also picks_per_mm and coverage (of
            round wires) within 10 % of themselves. Lengthwise: |error| of pitch against
            the least-squares pitch of the true centres, of the least covers against the wall's true long
            edges (rows_truth.py). Tilt above 10 degrees within 1.5;
            false alarms: `oblique cut` on faces without tilt. Classes: told regions on something true
            with its class or `doubtful`.
            Rings: mean distance of the told inner edge from the true one. Liner gaps of 5 degrees and
            more on faces without wires.
seconds     Wall time a face, median and 95th percentile, and CPU time, from runs.json.
"""

import argparse
import json
import math
import os
import sys

import numpy as np
from scipy.stats import beta, norm

from faces import find_faces, read_json
from judge_face import judge

# What must be reached: (key, title, targets by set, how to print, whether more is better).
# Sources: the project's own requirements for the two random sets.
ROWS = [
    ("complete", "faces complete", {"plain": 0.99, "hard": 0.97, "built-hard": 0.97}, "%", True),
    ("fill_right", "faces with open and filled told apart", {}, "%", True),
    ("diameter_025", "diameters within 0.25 px", {"plain": 0.98}, "%", True),
    ("diameter_05", "diameters within 0.5 px", {"hard": 0.85}, "%", True),
    ("septum_median", "septum, median error (px)", {"plain": 0.1, "hard": 0.3}, "px", False),
    ("wall_median", "wall, median error (px)", {"plain": 0.1}, "px", False),
    ("over_read", "septum over-read beyond its interval", {"hard": 0.025}, "%", False),
    ("large_recall", "voids of 12 px and more found", {"hard": 0.95}, "%", True),
    ("large_precision", "voids of 12 px and more that are true", {"hard": 0.95}, "%", True),
    ("small_recall", "voids of 6 to 12 px found", {"hard": 0.90}, "%", True),
    ("small_precision", "voids of 6 to 12 px that are true", {"hard": 0.90}, "%", True),
    ("silent", "faces silently wrong", {"hard": 0.005, "built-hard": 0.005}, "%", False),
    ("wire_count", "faces with every wire counted", {"built-hard": 0.97}, "%", True),
    ("wire_numbers", "faces with every wire numbered right", {"built-hard": 0.97}, "%", True),
    ("wire_faults", "missing, pulled out, extra, exposed told", {"built-hard": 0.98}, "%", True),
    ("wire_alarms", "faces with a false one of these", {"built-hard": 0.02}, "%", False),
    ("wires_miscounted", "wire layers said to be counted that are not", {"built-hard": 0.005}, "%", False),
    ("wires_not_counted", "wire layers not counted", {}, "%", False),
    ("fibres_found", "bundles of fibres found", {}, "%", True),
    ("fibres_miscounted", "bundles said to be counted that are not", {}, "%", False),
    ("liner_median", "liner of 4 px and more, median error (px)", {"built-hard": 0.3}, "px", False),
    ("bond_offset_median", "bond offset, median error (px)", {"built-hard": 0.3}, "px", False),
    ("ring_median", "ring edges, median distance (px)", {}, "px", False),
    ("rings_missing", "ring edges not told", {}, "%", False),
    ("liner_gap_recall", "liner gaps without wires found", {}, "%", True),
    ("gap_recall", "bond gaps of 5 deg and more found", {"built-hard": 0.98}, "%", True),
    ("gap_sized", "of these sized within 2 deg", {"built-hard": 0.98}, "%", True),
    ("braid_angle_right", "braid angles within 3 deg", {}, "%", True),
    ("picks_right", "picks per mm within 10 %", {}, "%", True),
    ("coverage_right", "coverage of braids within 10 % of it", {}, "%", True),
    ("pitch_median", "pitch of turns lengthwise, median error (px)", {}, "px", False),
    ("cover_median", "least covers lengthwise, median error (px)", {}, "px", False),
    ("tilt_right", "tilts above 10 deg within 1.5 deg", {}, "%", True),
    ("tilt_alarms", "upright faces called oblique", {"built-hard": 0.05}, "%", False),
    ("class_right", "regions with the right class", {"built-hard": 0.90}, "%", True),
    ("not_measured", "diameters, septa, walls not measured", {}, "%", False),
    ("seconds", "seconds a face, median", {}, "s", False),
    ("cpu_seconds", "CPU seconds a face, median", {}, "s", False),
    ("seconds_95", "seconds a face, 95th percentile", {}, "s", False),
]
BRAID_WITHIN = 0.1  # 3 degrees at 45 change the picks by as much
MAIN_WORDS = ("equivalent_diameter", "septum", "wall")
COVERAGE_BAND = (0.93, 0.97)
SHARPNESS_LIMIT = 1.3


def ratio(part, whole):
    return part / whole if whole else None


def clopper_pearson(hits, count, level=0.95):
    """Exact binomial interval (Clopper and Pearson, Biometrika 26, 1934); count may be fractional."""
    tail = (1 - level) / 2
    low = beta.ppf(tail, hits, count - hits + 1) if hits > 0 else 0.0
    high = beta.ppf(1 - tail, hits + 1, count - hits) if hits < count else 1.0
    return float(low), float(high)


def design_effect(by_face):
    """Variance of a share over clusters / binomial variance, at least 1. by_face: [(hits, count)]."""
    hits, counts = np.array(by_face, float).T
    total, faces = counts.sum(), len(counts)
    share = hits.sum() / total
    if faces < 2 or share in (0.0, 1.0):
        return 1.0
    clustered = faces / (faces - 1) * np.sum((hits - share * counts) ** 2) / total**2
    return max(1.0, clustered / (share * (1 - share) / total))


def quantity_statistics(faces):
    """For each word and kind of feature: coverage, sharpness, share not measured, errors."""
    collected = {}
    for face in faces:
        for line in face["values"]:
            if not line["breach"]:
                key = f"{line['word']} ({line['kind']})"
                collected.setdefault(key, {}).setdefault((face.get("folder"), face["name"]), []).append(line)
    table = {}
    for key, by_face in sorted(collected.items()):
        lines = [line for group in by_face.values() for line in group]
        got = [line for line in lines if line["measured"]]
        row = {"true": len(lines), "measured": len(got), "faces": len(by_face),
               "not_measured": 1 - len(got) / len(lines)}
        if got:
            error = np.array([line["error"] for line in got])
            hits = [(sum(li["covered"] for li in group if li["measured"]),
                     sum(li["measured"] for li in group)) for group in by_face.values()]
            hits = [h for h in hits if h[1]]
            effect = design_effect(hits)
            covered, count = sum(h[0] for h in hits), sum(h[1] for h in hits)
            half = float(np.median([line["half"] for line in got]))
            relative = np.array([line["error_true"] for line in got])
            rms = float(np.sqrt(np.mean(relative**2)))
            robust = 1.4826 * float(np.median(np.abs(relative)))
            share = float(np.median([abs(li["error_true"]) / max(li["half"], 1e-12) for li in got]))
            row.update(
                coverage=covered / count, design_effect=effect,
                coverage_interval=clopper_pearson(covered / effect, count / effect),
                half_median=half, rms=rms, robust_rms=robust,
                median=float(np.median(np.abs(error))), bias=float(np.median(error)),
                sharpness=half / (2 * rms) if rms > 0 else None,
                sharpness_robust=norm.ppf(0.75) / 2 / share if share > 0 else None)
        table[key] = row
    return table


def built_statistics(faces, values):
    """Figures of built-up parts; None where a group has nothing of the kind."""
    def errors(word, kind, least=0.0):
        lines = [li for li in values if li["word"] == word and li["kind"] == kind
                 and abs(li["true"]) >= least]
        return [abs(li["error"]) if li["measured"] else math.inf for li in lines]

    def median_told(found):
        told = [e for e in found if math.isfinite(e)]
        return float(np.median(told)) if told else None

    built = [f["built"] for f in faces]

    def braid_right(word):  # not measured counts as wrong
        told = [e for b in built for e in b["braid"][word]]
        return ratio(sum(e is not None and abs(e) <= BRAID_WITHIN for e in told), len(told))

    wires = [b["wires"] for b in built if b["wires"]]
    faults = {k: sum(w["faults"][k] for w in wires) for k in ("true", "told")}
    said = {k: sum(b["said"][k] for b in built) for k in ("said", "wrong")}
    layers = sum(b["layers"] for b in built)
    fibres = {k: sum(b["fibres"][k] for b in built) for k in ("true", "found", "counted", "wrong")}
    gaps = [b["gaps"] for b in built]
    rings = [d for b in built for d in b["rings"]]
    told_rings = [d for d in rings if d is not None]
    liner_gaps = [b["liner_gaps"] for b in built]
    sizes = [e for g in gaps for e in g["errors_deg"]]
    tilted = [b["tilt"]["error_deg"] for b in built if b["tilt"]["tilted"]]
    upright = [b["tilt"]["alarm"] for b in built if b["tilt"]["upright"]]
    angles = errors("braid_angle", "wires")
    return {
        "wire_count": ratio(sum(w["count_right"] for w in wires), len(wires)),
        "wire_numbers": ratio(sum(w["numbers_right"] for w in wires), len(wires)),
        "wire_faults": ratio(faults["told"], faults["true"]),
        "wire_alarms": ratio(sum(w["faults"]["false"] > 0 for w in wires), len(wires)),
        "wires_miscounted": ratio(said["wrong"], said["said"]),
        "wires_not_counted": ratio(layers - said["said"], layers),
        "fibres_found": ratio(fibres["found"], fibres["true"]),
        "fibres_miscounted": ratio(fibres["wrong"], fibres["counted"]),
        "liner_median": median_told(errors("thickness_mean", "liner", 4.0)),
        "bond_offset_median": median_told(errors("offset", "bond")),
        "ring_median": float(np.median(told_rings)) if told_rings else None,
        "rings_missing": ratio(len(rings) - len(told_rings), len(rings)),
        "liner_gap_recall": ratio(sum(g["found"] for g in liner_gaps),
                                  sum(g["true"] for g in liner_gaps)),
        "gap_recall": ratio(sum(g["found"] for g in gaps), sum(g["true"] for g in gaps)),
        "gap_sized": ratio(sum(abs(e) <= 2 for e in sizes), len(sizes)),
        "braid_angle_right": ratio(sum(e <= 3 for e in angles), len(angles)),
        "picks_right": braid_right("picks_per_mm"),
        "coverage_right": braid_right("coverage"),
        "pitch_median": median_told(errors("pitch", "wires")),
        "cover_median": median_told(errors("outer_cover", "wires") + errors("inner_cover", "wires")),
        "tilt_right": ratio(sum(e is not None and abs(e) <= 1.5 for e in tilted), len(tilted)),
        "tilt_alarms": ratio(sum(upright), len(upright)),
        "class_right": ratio(sum(b["classes"]["right"] for b in built),
                             sum(b["classes"]["told"] for b in built)),
    }


def statistics(faces):
    """All figures of a group of faces."""
    values = [line for face in faces for line in face["values"]]
    diameters = [line for line in values
                 if line["word"] == "equivalent_diameter" and line["kind"] in ("outline", "lumen")]
    close = [abs(li["error"]) if li["measured"] else math.inf for li in diameters]
    septa = [li for li in values if li["word"] == "septum"]
    told = [li for li in septa if li["measured"]]
    figures = {
        "faces": len(faces),
        "complete": ratio(sum(f["complete"] for f in faces), len(faces)),
        "fill_right": ratio(sum(f["fill_right"] for f in faces), len(faces)),
        "diameter_025": ratio(sum(e <= 0.25 for e in close), len(close)),
        "diameter_05": ratio(sum(e <= 0.5 for e in close), len(close)),
        "over_read": ratio(sum(li["over"] for li in told), len(told)),
        "silent": ratio(sum(bool(f["silent"]) for f in faces), len(faces)),
    }
    main = [li for li in values if li["word"] in MAIN_WORDS and not li["breach"]]
    figures["not_measured"] = ratio(sum(not li["measured"] for li in main), len(main))
    seeds = [f["seed"] for f in faces if f.get("seed") is not None]
    figures["seeds"] = [min(seeds), max(seeds)] if seeds else None
    for word in ("septum", "wall"):
        errors = [abs(li["error"]) for li in values
                  if li["word"] == word and li["measured"] and not li["breach"]]
        figures[word + "_median"] = float(np.median(errors)) if errors else None
    for size in ("large", "small"):
        total = {w: sum(f["voids"][f"{size}_{w}"] for f in faces)
                 for w in ("true", "found", "told", "right")}
        figures[size + "_recall"] = ratio(total["found"], total["true"])
        figures[size + "_precision"] = ratio(total["right"], total["told"])
        figures[size + "_counts"] = total
    figures.update(built_statistics(faces, values))
    seconds = [f["seconds"] for f in faces if f["seconds"] is not None]
    figures["seconds"] = float(np.median(seconds)) if seconds else None
    figures["seconds_95"] = float(np.percentile(seconds, 95)) if seconds else None
    cpu = [f["cpu_seconds"] for f in faces if f["cpu_seconds"] is not None]
    figures["cpu_seconds"] = float(np.median(cpu)) if cpu else None
    figures["codes"] = {}
    for face in faces:
        if face["code"]:
            figures["codes"][face["code"]] = figures["codes"].get(face["code"], 0) + 1
    figures["quantities"] = quantity_statistics(faces)
    return figures


# ---- reading ------------------------------------------------------------------------------------


def judge_all(folders, results):
    """Judges every face of the folders."""
    judged, runs = [], {}
    for folder, name, truth in find_faces(folders):
        out = os.path.join(folder, results)
        if folder not in runs:
            log = os.path.join(out, "runs.json")
            runs[folder] = read_json(log) if os.path.exists(log) else {}
        stem = os.path.join(folder, name)
        path = os.path.join(out, name + ".result.json")
        result, broken = None, None
        if os.path.exists(path):
            try:
                result = read_json(path)
            except ValueError as error:
                broken = {"status": "?", "stderr": f"[unreadable-result] {error}"}
        face = judge(name, truth, read_json(stem + ".design.json"),
                     read_json(stem + ".calibration.json"), result,
                     broken or runs[folder].get(name))
        face["folder"] = folder
        judged.append(face)
    return judged


def groups_of(judged):
    """Groups to print, in order: {title: faces}."""
    groups = {"sets": {}, "light": {}, "family": {}}
    for face in judged:
        groups["sets"].setdefault(face["set"] or "unnamed", []).append(face)
        for key in ("light", "family"):
            groups[key].setdefault(face[key] or "unnamed", []).append(face)
    order = {"plain": 0, "hard": 1}
    groups["sets"] = dict(sorted(groups["sets"].items(), key=lambda g: (order.get(g[0], 2), g[0])))
    if len(groups["sets"]) > 1:
        groups["sets"]["all"] = judged
    for key in ("light", "family"):
        groups[key] = dict(sorted(groups[key].items()))
    return groups


def score(folders, results="out"):
    """Everything score.py finds out, as one value (the form of its JSON file)."""
    judged = judge_all(folders, results)
    groups = groups_of(judged)
    return {
        "format": "cutface/score", "version": 1, "results": results,
        "sets": {g: statistics(f) for g, f in groups["sets"].items()},
        "light": {g: statistics(f) for g, f in groups["light"].items()},
        "family": {g: statistics(f) for g, f in groups["family"].items()},
        "faces": judged,
    }


# ---- printing -----------------------------------------------------------------------------------


def shown(value, how):
    if value is None:
        return "-"
    if how == "%":
        return f"{100 * value:.1f} %"
    return f"{value:.3f}"


def reached(value, target, more):
    if target is None or value is None:
        return None
    return value >= target if more else value <= target


def print_sets(sets):
    print(f"{'':40}" + "".join(f"{g:>26}" for g in sets))
    print(f"{'faces':40}" + "".join(f"{s['faces']:>26}" for s in sets.values()))
    for key, title, targets, how, more in ROWS:
        line = f"{title:40}"
        for group, figures in sets.items():
            text, target = shown(figures[key], how), targets.get(group)
            good = reached(figures[key], target, more)
            if good is not None:
                text += f" ({'ok' if good else 'MISSED'} {shown(target, how)})"
            line += f"{text:>26}"
        print(line)


def print_breakdown(title, groups):
    keys = [("complete", "%"), ("diameter_025", "%"), ("diameter_05", "%"), ("septum_median", "px"),
            ("wall_median", "px"), ("over_read", "%"), ("large_recall", "%"),
            ("large_precision", "%"), ("small_recall", "%"), ("small_precision", "%"),
            ("silent", "%"), ("not_measured", "%")]
    heads = ["complete", "d<0.25", "d<0.5", "septum", "wall", "over", "R>=12", "P>=12", "R6-12",
             "P6-12", "silent", "unmeas."]
    print(f"\n{'by ' + title:22}{'faces':>6}" + "".join(f"{h:>9}" for h in heads))
    for group, figures in groups.items():
        print(f"{group:22}{figures['faces']:>6}"
              + "".join(f"{shown(figures[k], how):>9}" for k, how in keys))


def print_quantities(group, table):
    print(f"\n{'intervals, ' + group:38}{'values':>8}{'unmeas.':>9}{'coverage':>10}"
          f"{'95 % interval':>17}{'half px':>9}{'rms px':>8}{'robust':>8}{'bias':>8}"
          f"{'sharp':>7}{'robust':>7}")
    for key, row in table.items():
        line = f"{key:38}{row['true']:>8}{shown(row['not_measured'], '%'):>9}"
        if row["measured"]:
            low, high = row["coverage_interval"]
            fits = high >= COVERAGE_BAND[0] and low <= COVERAGE_BAND[1]
            line += f"{shown(row['coverage'], '%'):>10}{100 * low:>8.1f} -{100 * high:5.1f}"
            line += " " if fits else "!"
            for k in ("half_median", "rms", "robust_rms", "bias"):
                line += f"{row[k]:>8.3f}" if abs(row[k]) < 1000 else f"{row[k]:>8.2g}"
            for k in ("sharpness", "sharpness_robust"):
                line += f"{row[k]:>7.2f}" if row[k] is not None else f"{'-':>7}"
            line += "!" if row["sharpness"] is not None and row["sharpness"] > SHARPNESS_LIMIT else ""
        print(line)


def print_failures(judged, worst):
    failed = [f for f in judged if not f["complete"]]
    silent = [f for f in judged if f["silent"]]
    print(f"\nnot complete: {len(failed)}")
    for f in failed:
        print(f"{f['name']} {f['family']} {f['light']} {'; '.join(f['reasons'])}")
    print(f"\nsilently wrong: {len(silent)}")
    for f in silent:
        print(f"{f['name']} {f['family']} {f['light']} {'; '.join(f['silent'])}")
    if worst:
        lines = [(f, li) for f in judged for li in f["values"]
                 if li["measured"] and not li["breach"]
                 and li["word"] in ("equivalent_diameter", "septum", "wall", "diameter")]
        lines.sort(key=lambda x: -abs(x[1]["error"]))
        print("\nworst errors (px), lengths only")
        for f, li in lines[:worst]:
            print(f"{f['name']} {f['family']} {f['light']} {li['word']} {'+'.join(li['of'])} "
                  f"{li['error']:+.2f} half-width {li['half']:.2f} {li['grade']}")


def main():
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="+", metavar="DIR")
    parser.add_argument("--results", default="out", help="folder of results inside DIR")
    parser.add_argument("--json", metavar="F", help="write everything to this file")
    parser.add_argument("--worst", type=int, default=0, metavar="N", help="list the N worst errors")
    parser.add_argument("--quiet", action="store_true", help="no list of failed faces")
    options = parser.parse_args()
    found = score(options.folders, options.results)
    print_sets(found["sets"])
    print_breakdown("light", found["light"])
    print_breakdown("family", found["family"])
    for group, figures in found["sets"].items():
        if group != "all" or len(found["sets"]) == 1:
            print_quantities(group, figures["quantities"])
    codes = {}
    for face in found["faces"]:
        if face["code"]:
            codes[face["code"]] = codes.get(face["code"], 0) + 1
    if codes:
        print("\nfaces without result")
        for code, count in sorted(codes.items(), key=lambda c: -c[1]):
            print(f"{count:5} {code}")
    if not options.quiet:
        print_failures(found["faces"], options.worst)
    if options.json:
        with open(options.json, "w", encoding="utf-8") as file:
            json.dump(found, file, indent=1, default=float)
    return 0


if __name__ == "__main__":
    sys.exit(main())
