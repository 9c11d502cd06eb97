#!/usr/bin/python3
"""Hostile faces (make_faces --set hostile, hostile-built): is what does not belong there said?

    judge_hostile.py DIR... [--out out] [--list]      faces with results of run_faces.py

A table for each set, one line a trap. What came of a face:

  refused    no result, with one line why: the program did not take the picture for that drawing
  told       a result that says it: the verdict is not `conforms`, or a finding names it
  right      a result that conforms, with every lumen and the outline where they are: the trap was seen
             through (decoys, a second part, resin of the body's tone, a mirrored picture)
  silent     wrong and said nowhere: what score.py calls silent; or a verdict `conforms` on a picture of another
             drawing, at another scale, with a lumen missing or two changed, without a drawn liner or layer
             of wires, or with another number of wires; or a number of wires that is stated and not there

`named` counts, across these, the faces on which the trap itself was dealt with in words that fit it: see NAMING.
A face may be told for another fault that it has; then it is not named.
"""
import argparse
import os

from faces import Nominal, ResultFace, find_faces, measured, read_json
from judge_face import TruthFace, best_naming, error_code, silent_wrongs

NEVER_CONFORMS = {"missing lumen", "swapped lumens", "wrong plane", "wrong revision", "wrong scale",
                  "liner left out", "wire layer left out", "other number of wires"}
# A message that sends the reader to drawing and calibration.
FITTING_REFUSALS = ("check design, calibration", "check that drawing and calibration")


class Face:
    """One face with a result: truth, result, and what its findings and rows say."""

    def __init__(self, folder, name, truth_data, data):
        design = read_json(os.path.join(folder, name + ".design.json"))
        record = read_json(os.path.join(folder, name + ".calibration.json"))
        self.truth_data = truth_data
        self.truth = TruthFace(truth_data, record.get("image_size_px"))
        self.nominal = Nominal(design, truth_data.get("section", "face"))
        self.result = ResultFace(data, truth_data["record_pitch_um"])
        self.swap, self.problems = best_naming(self.truth, self.result, self.nominal)
        self.findings = self.result.findings

    def group(self, name):
        """The names that may stand for one lumen of the truth: itself and what symmetry changes it with."""
        return {name}.union(*(g for g in self.result.groups if name in g))

    def says(self, kinds, names=None, evidence=None):
        """Whether a finding of one of these kinds is there: about one of the names, with one of the numbers."""
        for f in self.findings:
            about = names is None or set(f.get("where", [])) & set(names)
            backed = evidence is None or set(f.get("evidence", {})) & set(evidence)
            if f["kind"] in kinds and about and backed:
                return True
        return False

    def row_breaks(self, names):
        """Whether a row on one of these features does not conform."""
        for row in self.result.rows.values():
            of = row.get("of", [])
            of = {of} if isinstance(of, str) else set(of)
            if of & set(names) and row.get("verdict") == "does not conform":
                return True
        return False


def fits_resin(face):
    filled = {n for n, s in face.truth.states.items() if s == "filled"}
    names = set().union(*(face.group(n) for n in filled)) if filled else set()
    return face.says({"wrong part", "filled lumen"}, names) or not face.problems


def fits_missing(face):
    gone = [n for n, s in face.truth.states.items() if s == "not found"]
    names = set().union(*(face.group(n) for n in gone)) if gone else set()
    return face.says({"wrong part", "cut off by the frame"}, names)


def fits_swapped(face):
    names = face.truth_data.get("swapped")
    if names is None:  # no two lumens to change: the size of one was revised
        return fits_revision(face)
    unproven = any(f["kind"] == "wrong part" and not f.get("where") for f in face.findings)
    return unproven or face.says({"wrong part"}, names)


def fits_revision(face):
    revised = face.truth_data.get("revised")
    if revised is None:
        return False
    names = face.group(revised["lumen"])
    return face.row_breaks(names) or face.says({"wrong part", "collapsed lumen"}, names)


def fits_mirror(face):
    return face.says({"mirrored"}) if face.truth_data.get("mirror_shows") else not face.problems


def fits_scale(face):
    return face.says({"wrong part", "wrong scale"}, evidence={"larger_percent", "nominal_um"})


def fits_liner(face):
    return face.says({"missing liner", "wrong part"}, face.group(face.truth_data["lacks"]["liner"]))


def fits_layer(face):
    return face.says({"missing wire", "wrong part"}, [face.truth_data["lacks"]["layer"]])


def fits_count(face):
    return face.says({"missing wire", "extra wire"}, [face.truth_data["recounted"]["layer"]])


# What words fit a trap. Decoys and second parts are not the part's: they are dealt with when every lumen is found
# where it is. The same holds for a mirrored part that is its own mirror image.
NAMING = {
    "decoy holes": lambda face: not face.problems,
    "second part": lambda face: not face.problems,
    "body-toned resin": fits_resin,    # the lumen is called filled or not to be seen; or is found all the same
    "missing lumen": fits_missing,     # this lumen is called missing (or cut off by the frame)
    "swapped lumens": fits_swapped,    # these two are called exchanged, or the names unproven
    "wrong plane": lambda face: face.says({"wrong part", "missing wire", "extra wire", "missing liner"}),
    "wrong revision": fits_revision,   # a row on this lumen is broken, or a finding names it
    "mirrored": fits_mirror,
    "wrong scale": fits_scale,         # another size, or larger as a whole, by so much
    "liner left out": fits_liner,
    "wire layer left out": fits_layer,
    "other number of wires": fits_count,
}


def true_count(face, layer):
    return sum(1 for w in face.truth_data.get("wires", [])
               if w["layer"] == layer and w["state"] in ("wire", "extra"))


def wrong_counts(face):
    """Layers whose number of wires is stated without a doubt and is not the true one."""
    wrong = []
    for (word, of), m in face.result.measurements.items():
        if word != "count" or not measured(m) or m.get("grade", "clean") != "clean" or face.truth.cut:
            continue
        layer = min(of)
        named = face.says({"missing wire", "extra wire", "displaced wire"}, [layer])
        if not named and round(m["value"]) != true_count(face, layer):
            wrong.append(f"{layer}: {m['value']:.0f} wires told, are {true_count(face, layer)}, unsaid")
    return wrong


def silent_of(face, trap):
    silent = silent_wrongs(face.truth, face.result, face.nominal, face.swap)
    if silent and "swapped" in face.truth_data:  # named by place or by size: both are fair readings
        a, b = face.truth_data["swapped"]
        other = {a: b, b: a}
        by_place = {n: other.get(m, m) for n, m in face.swap.items()}
        for n in face.truth.states:
            by_place.setdefault(n, other.get(n, n))
        silent = min(silent, silent_wrongs(face.truth, face.result, face.nominal, by_place), key=len)
    if silent and trap == "wrong plane":
        # A bore that is one of the picture's was measured where it is, whatever that drawing calls it.
        by_place = {}
        for names, _, shape, _ in face.result.lumens:
            for n, true in face.truth.shapes.items():
                if not shape.is_empty and shape.intersection(true).area > 0.5 * max(shape.area, true.area):
                    by_place[names[0]] = n
        silent = min(silent, silent_wrongs(face.truth, face.result, face.nominal, by_place), key=len)
    silent += wrong_counts(face)
    if face.result.verdict == "conforms" and trap in NEVER_CONFORMS:
        silent.append("conforms")
    return silent


def judge(folder, name, truth_data, out):
    """(trap, outcome, named, text) of one face."""
    trap = truth_data.get("trap", "none")
    path = os.path.join(folder, out, name + ".result.json")
    if not os.path.exists(path):
        run = read_json(os.path.join(folder, out, "runs.json")).get(name)
        code = error_code(run)
        if run is None or run.get("timed_out") or run.get("status") not in (2, 3):
            return trap, "died", False, code
        return trap, "refused", any(t in run.get("stderr", "") for t in FITTING_REFUSALS), code
    face = Face(folder, name, truth_data, read_json(path))
    silent = silent_of(face, trap)
    kinds = sorted({f["kind"] for f in face.findings})
    named = bool(NAMING[trap](face)) if trap in NAMING else False
    if silent:
        return trap, "silent", False, "; ".join(silent)
    if face.result.verdict != "conforms":
        return trap, "told", named, f"{face.result.verdict}; {', '.join(kinds) or 'no finding'}"
    return trap, "right" if not face.problems else "told", named, "; ".join(face.problems + kinds)


def print_table(table):
    outcomes = ("refused", "told", "right", "silent", "died")
    print(f"\n| trap | faces | {' | '.join(outcomes)} | named |\n| --- | --: |{' --: |' * (len(outcomes) + 1)}")
    whole = []
    for trap in [*sorted(table), "all"]:
        got = whole if trap == "all" else table[trap]
        counts = " | ".join(str(sum(o == outcome for o, _ in got)) for outcome in outcomes)
        print(f"| {trap} | {len(got)} | {counts} | {sum(n for _, n in got)} |")
        if trap != "all":
            whole += got
    silent = sum(o == "silent" for o, _ in whole)
    print(f"\nsilently wrong: {100 * silent / len(whole):.2f} % of {len(whole)}; "
          f"named: {100 * sum(n for _, n in whole) / len(whole):.1f} %")


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folders", nargs="+", metavar="DIR")
    parser.add_argument("--out", default="out")
    parser.add_argument("--list", action="store_true", help="every face on a line")
    options = parser.parse_args()
    tables = {}
    for folder, name, truth in find_faces(options.folders):
        trap, outcome, named, text = judge(folder, name, truth, options.out)
        tables.setdefault(truth.get("set", ""), {}).setdefault(trap, []).append((outcome, named))
        if options.list or outcome in ("silent", "died"):
            print(f"{name} [{trap}] {outcome}{', named' if named else ''}: {text}")
    for kind in sorted(tables):
        print(f"\n{kind}")
        print_table(tables[kind])


if __name__ == "__main__":
    main()
