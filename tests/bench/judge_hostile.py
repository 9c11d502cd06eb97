#!/usr/bin/python3
"""Hostile faces (make_faces --set hostile): is what does not belong there said?

    judge_hostile.py DIR... [--out out] [--list]      faces with results of run_faces.py

A table, one line a trap:

  refused    no result, with one line why: the program did not take the picture for that drawing
  told       a result that says it: the verdict is not `conforms`, or a finding names it
  right      a result that conforms, with every lumen and the outline where they are: the trap was seen
             through (decoys, a second part, resin of the body's tone, a mirrored picture)
  silent     wrong and said nowhere: what score.py calls silent; or a verdict `conforms` on a picture of another
             drawing, at another scale, with a lumen missing or two changed
"""
import argparse
import os

from faces import Nominal, ResultFace, find_faces, read_json
from judge_face import TruthFace, best_naming, error_code, silent_wrongs

NEVER_CONFORMS = {"missing lumen", "swapped lumens", "wrong plane", "wrong revision", "wrong scale"}


def judge(folder, name, truth_data, out):
    """(trap, outcome, text) of one face."""
    trap = truth_data.get("trap", "none")
    path = os.path.join(folder, out, name + ".result.json")
    runs = read_json(os.path.join(folder, out, "runs.json"))
    if not os.path.exists(path):
        run = runs.get(name)
        code = error_code(run)
        died = run is None or run.get("timed_out") or run.get("status") not in (2, 3)
        return trap, "died" if died else "refused", code
    data = read_json(path)
    design = read_json(os.path.join(folder, name + ".design.json"))
    record = read_json(os.path.join(folder, name + ".calibration.json"))
    truth = TruthFace(truth_data, record.get("image_size_px"))
    nominal = Nominal(design, truth_data.get("section", "face"))
    result = ResultFace(data, truth_data["record_pitch_um"])
    swap, problems = best_naming(truth, result, nominal)
    silent = silent_wrongs(truth, result, nominal, swap)
    if silent and "swapped" in truth_data:  # named by place or by size: both are fair readings
        a, b = truth_data["swapped"]
        other = {a: b, b: a}
        by_place = {n: other.get(m, m) for n, m in swap.items()}
        for n in truth.states:
            by_place.setdefault(n, other.get(n, n))
        silent = min(silent, silent_wrongs(truth, result, nominal, by_place), key=len)
    conforms = result.verdict == "conforms"
    if conforms and trap in NEVER_CONFORMS:
        silent.append("conforms")
    kinds = sorted({f["kind"] for f in result.findings})
    if silent:
        return trap, "silent", "; ".join(silent)
    if not conforms:
        return trap, "told", f"{result.verdict}; {', '.join(kinds) or 'no finding'}"
    return trap, "right" if not problems else "told", "; ".join(problems + kinds)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folders", nargs="+", metavar="DIR")
    parser.add_argument("--out", default="out")
    parser.add_argument("--list", action="store_true", help="every face on a line")
    options = parser.parse_args()
    table = {}
    lines = []
    for folder, name, truth in find_faces(options.folders):
        trap, outcome, text = judge(folder, name, truth, options.out)
        table.setdefault(trap, []).append(outcome)
        if options.list or outcome in ("silent", "died"):
            lines.append(f"{name} [{trap}] {outcome}: {text}")
    print("\n".join(lines))
    outcomes = ("refused", "told", "right", "silent", "died")
    print(f"\n| trap | faces | {' | '.join(outcomes)} |\n| --- | --: |{' --: |' * len(outcomes)}")
    whole = []
    for trap in sorted(table):
        got = table[trap]
        whole += got
        print(f"| {trap} | {len(got)} | {' | '.join(str(got.count(o)) for o in outcomes)} |")
    print(f"| all | {len(whole)} | {' | '.join(str(whole.count(o)) for o in outcomes)} |")
    print(f"\nsilently wrong: {100 * whole.count('silent') / len(whole):.2f} % of {len(whole)}")


if __name__ == "__main__":
    main()
