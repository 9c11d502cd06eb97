"""One face's result against its truth. The rules stand in score.py's description."""

import math
import re

import numpy as np
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from faces import (
    Nominal,
    ResultFace,
    equal_area_diameter,
    mean_pitch,
    measured,
    overlap,
    polygon,
    unit_power,
    word_unit,
)
from judge_built import HOLES, add_built_values, judge_built, true_regions

LEAST_OVERLAP = 0.5       # of a lumen's contour with the truth's, to be that lumen
VOID_SHARE = 0.3          # of a void's area that must agree
SMALL_VOID_PX = 6.0
LARGE_VOID_PX = 12.0
WRONG_LUMEN_PX = 3.0      # diameter or centre off by this much is a wrong lumen
BROKEN_LIMIT_PX = 0.5     # a limit broken by more than this must not be called conforming
FRAME_DOUBT_PX = 3.0      # nearer to the frame than this, "cut off" is a fair reading
VOID_CLASSES = {"void", "bond gap", "liner gap"}
PICTURE_FINDINGS = {"poor image", "wrong part"}


def atoms(of):
    """The names a quantity is of, merged keys taken apart: ["a+b", "c"] gives {a, b, c}."""
    return frozenset(name for key in of for name in key.split("+"))


class TruthFace:
    """A truth file's contours as polygons, its values by feature and word."""

    def __init__(self, truth, frame_px):
        self.data = truth
        self.pitch = mean_pitch(truth["pitch_um"])
        self.record_pitch = mean_pitch(truth["record_pitch_um"])
        self.states = {n: lumen["state"] for n, lumen in truth["lumens"].items()}
        self.shapes = {n: polygon(lu.get("contour_px")) for n, lu in truth["lumens"].items()}
        self.groups = {
            n: frozenset([n, *lumen.get("merged_with", [])]) for n, lumen in truth["lumens"].items()
        }
        size = frame_px or [1e9, 1e9]
        self.frame = box(-0.5, -0.5, size[0] - 0.5, size[1] - 0.5)
        self.inner_frame = self.frame.buffer(-FRAME_DOUBT_PX, join_style=2)
        self.cut = {n for n, shape in self.shapes.items()
                    if not shape.is_empty and not self.frame.contains(shape)}
        if not truth["outline"].get("whole", True):
            self.cut.add("outline")
        self.voids = [(polygon(v["contour_px"]), v["diameter_px"]) for v in truth.get("voids", [])]
        self.values = {}
        for q in truth["quantities"]:
            value = q.get("value_px", q.get("value"))
            self.values[(q["quantity"], atoms(q["of"]))] = (value, bool(q.get("breach")))
        add_built_values(truth, self.values)
        self.rings = set(truth.get("rings", {}))
        self.layers = {layer["name"] for layer in truth.get("wire_layers", [])}
        longest = [greatest_width(shape) for shape, _ in self.voids]
        self.values.setdefault(("longest", frozenset(["voids"])), (max(longest, default=0.0), False))

    def kind(self, word, of):
        """outline, lumen, pair, voids; `merged` when merged lumens take part."""
        if any(len(self.groups.get(n, ())) > 1 for n in of):
            return "merged"
        if of <= self.rings | {"bond"}:
            return "bond" if of == {"bond"} else "ring"
        if any("/" in n for n in of):
            return "liner"
        if of <= self.layers:
            return "wires"
        return min(of) if of <= {"outline", "voids"} else "pair" if len(of) == 2 else "lumen"

    def optional(self, word, of):
        """Whether a face may leave a value out: the frame cuts it, or lumens are merged."""
        features = of | {"outline"} if word == "wall" else of
        if self.cut and self.kind(word, of) in ("ring", "bond", "wires"):
            return True
        features = {n.split("/")[0] for n in features}
        return bool(features & self.cut) or self.kind(word, of) in ("merged", "voids")

    def states_told(self, name):
        """States that count as right for a lumen: open and filled are not told apart here."""
        state, shape = self.states[name], self.shapes[name]
        told = {"open", "filled"} if state in ("open", "filled") else {state}
        if shape.is_empty or self.inner_frame.contains(shape):
            return told
        if state != "merged" and self.frame.intersection(shape).area > 0.98 * shape.area:
            told |= {"open", "filled"}  # the frame cuts a sliver that nobody can see is missing
        if self.frame.intersection(shape).area < 0.02 * shape.area:
            told.add("not found")
        return told | {"cut off"}


def greatest_width(shape):
    corners = np.asarray(shape.convex_hull.exterior.coords)
    return float(np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1)).max())


# ---- completeness -------------------------------------------------------------------------------


def _entry_problem(truth, name, names, entries):
    """Why the entries of a result (names already the truth's) do not tell lumen `name`, or ""."""
    state = truth.states[name]
    right = truth.states_told(name)
    carrying = [e for e in entries if name in e[0]]
    if len(carrying) > 1:
        return f"{name}: named {len(carrying)} times"
    if state == "not found":
        found = [e for e in carrying if e[1] != "not found"]
        return f"{name}: invented as {found[0][1]}" if found else ""
    if not carrying:
        return "" if "not found" in right else f"{name}: missing in the result"
    got_names, got_state, shape = carrying[0][:3]
    if got_state == "not found":
        return "" if got_state in right else f"{name}: not found, is {state}"
    if got_state not in right or (state == "merged" and frozenset(got_names) != names
                                  and got_state == "merged"):
        told = "+".join(sorted(got_names)) if got_state == "merged" else got_state
        key = "+".join(sorted(names))
        return f"{key}: merged, told as {told}" if state == "merged" else (
            f"{name}: told as {got_state}" + (f" {told}" if got_state == "merged" else "")
            + f", is {state}")
    whole = unary_union([truth.shapes[n] for n in names])
    if got_state == "cut off":
        apart = not shape.is_empty and not shape.intersects(whole)
        return f"{name}: cut off, contour elsewhere" if apart else ""
    common = overlap(shape, whole.intersection(truth.frame))
    if common >= LEAST_OVERLAP:
        return ""
    for other, other_shape in truth.shapes.items():
        if other not in names and overlap(shape, other_shape) >= LEAST_OVERLAP:
            return f"{name}: wrong name, that is {other}"
    return f"{name}: contour elsewhere (overlap {common:.2f})"


def completeness(truth, result, swap):
    """Everything that is wrong with the lumens under one naming: list of reasons."""
    entries = [([swap.get(n, n) for n in e[0]], *e[1:]) for e in result.lumens]
    problems = []
    for name in truth.states:
        problem = _entry_problem(truth, name, truth.groups[name], entries)
        if problem and problem not in problems:
            problems.append(problem)
    for names, state, _, _ in entries:
        unknown = [n for n in names if n not in truth.states]
        if unknown and state != "not found":
            problems.append(f"{'+'.join(unknown)}: invented as {state}")
    return problems


def best_naming(truth, result, nominal):
    """The declared symmetry under which the result agrees best, with its problems."""
    scored = []
    for swap in nominal.symmetries(result.groups):
        common = 0.0
        for names, _, shape, _ in result.lumens:
            for name in names:
                common += overlap(shape, truth.shapes.get(swap.get(name, name), Polygon()))
        problems = completeness(truth, result, swap)
        scored.append((len(problems), -common, len(scored), swap, problems))
    best = min(scored, key=lambda s: s[:3])
    return best[3], best[4]


# ---- values -------------------------------------------------------------------------------------


def _difference(value, reference, word):
    if word == "clock":
        return (value - reference + 180.0) % 360.0 - 180.0
    return value - reference


def _find(truth, result, back, word, of):
    """The measurement of a result for a true value, or None."""
    m = result.measurements.get((word, frozenset(back.get(n, n) for n in of)))
    if m is None and word in ("septum", "wall") and truth.kind(word, of) == "merged":
        # A result may name the one member of a merged bore that is nearest.
        parts = [{back.get(n, n) for n in truth.groups[name]} for name in of]
        sides = {frozenset(p) for p in parts}
        near = [x for (w, names), x in result.measurements.items()
                if w == word and measured(x) and len(names) == len(sides)
                and all(names & side for side in sides)]
        m = min(near, key=lambda x: x["value"], default=None)
    return m


def compare_values(truth, result, swap):
    """One line for each true value: what was measured and how far it is off.

    Values that a face may leave out (TruthFace.optional) give a line only when they were measured.
    """
    back = {b: a for a, b in swap.items()}
    lines = []
    for (word, of), (value, breach) in truth.values.items():
        if breach:
            value = 0.0
        if value is None:
            continue
        m = None if result is None else _find(truth, result, back, word, of)
        if not measured(m) and (truth.optional(word, of) and not breach):
            continue
        line = {"word": word, "of": sorted(of), "kind": truth.kind(word, of), "true": value,
                "breach": breach, "measured": measured(m)}
        if line["measured"]:
            power = unit_power(m.get("unit", word_unit(word)))
            true_value = value * truth.pitch**power
            record = result.pitch**power
            lo, hi = m.get("lo"), m.get("hi")
            lo = -math.inf if lo is None else lo
            hi = math.inf if hi is None else hi
            line["error"] = _difference(m["value"] / record, value, word)
            line["error_um"] = _difference(m["value"], true_value, word)
            line["error_true"] = line["error_um"] / record  # in pixels, the scale's error included
            line["half"] = (hi - lo) / 2 / record
            line["over"] = bool(true_value < lo)
            near = m["value"] - line["error_um"]  # the truth on the value's turn of the clock
            line["covered"] = bool(lo <= near <= hi)
            line["grade"] = m.get("grade", "clean")
        lines.append(line)
    return lines


# ---- voids --------------------------------------------------------------------------------------


def compare_voids(truth, result):
    """Counts of found and false voids, for large (12 px and more) and small (6 to 12 px) ones."""
    count = {f"{size}_{what}": 0 for size in ("large", "small")
             for what in ("true", "found", "told", "right")}
    told = [] if result is None else [v for v in result.voids if not v[1].is_empty]
    # A gap or a pull-out that is told as a void is no invention; its class is judged apart.
    true_all = unary_union([shape for shape, _ in truth.voids]
                           + [shape for kind, shape in true_regions(truth.data) if kind in HOLES])
    right = {"large": [], "small": []}  # contours that may vouch for a truth of that size
    for kind, shape in told:
        agrees = shape.intersection(true_all).area >= VOID_SHARE * shape.area
        if kind in VOID_CLASSES:
            diameter = equal_area_diameter(shape)
            size = "large" if diameter >= LARGE_VOID_PX else "small"
            if diameter >= SMALL_VOID_PX:
                count[size + "_told"] += 1
                count[size + "_right"] += agrees
            if agrees:
                right["large"].append(shape)
        if agrees and kind in VOID_CLASSES | {"doubtful"}:
            right["small"].append(shape)
    covered = {size: unary_union(shapes) for size, shapes in right.items()}
    for shape, diameter in truth.voids:
        if diameter < SMALL_VOID_PX or not truth.frame.contains(shape):
            continue
        size = "large" if diameter >= LARGE_VOID_PX else "small"
        count[size + "_true"] += 1
        count[size + "_found"] += bool(
            shape.intersection(covered[size]).area >= VOID_SHARE * shape.area)
    return count


# ---- silent wrong -------------------------------------------------------------------------------


def _limits(row):
    lower, upper = row.get("min"), row.get("max")
    if row.get("nominal") is not None:
        if lower is None and row.get("minus") is not None:
            lower = row["nominal"] - row["minus"]
        if upper is None and row.get("plus") is not None:
            upper = row["nominal"] + row["plus"]
    return lower, upper


def broken_rows(truth, nominal, swap):
    """Rows of the drawing that the true face breaks by more than 0.5 px: [(no, text)].

    Rows whose value the truth does not carry are taken from its own list `limits_broken`.
    """
    broken = []
    listed = {re.sub(r"^no\.?\s+", "", str(n)) for n in truth.data.get("limits_broken", [])}
    for row in nominal.rows:
        no, word = str(row.get("no")), row.get("quantity")
        of = row.get("of", [])
        of = frozenset(swap.get(n, n) for n in atoms([of] if isinstance(of, str) else of))
        value, breach = truth.values.get((word, of), (None, False))
        if breach:
            value = 0.0
        if value is None:
            if no in listed:
                broken.append((no, f"no {no} is listed as broken"))
            continue
        power = unit_power(word_unit(word))
        lower, upper = (None if v is None else v * (nominal.um_per_unit / truth.pitch) ** power
                        for v in _limits(row))
        if power == 2:  # judged by the equal-area diameter
            value, lower, upper = (None if v is None else 2 * math.sqrt(max(v, 0) / math.pi)
                                   for v in (value, lower, upper))
        for limit, beyond in ((lower, (lower or 0) - value), (upper, value - (upper or 0))):
            slack = BROKEN_LIMIT_PX if power else 0.01 * abs(limit or 0)
            if limit is not None and beyond > slack:
                broken.append((no, f"no {no} {word} is broken by {beyond:.2f}"))
    return broken


def silent_wrongs(truth, result, nominal, swap):
    """What is wrong and said nowhere: list of reasons."""
    wrong = []
    if result.verdict == "conforms":
        wrong += [f"conforms though {text}" for _, text in broken_rows(truth, nominal, swap)]
    spoken = {f.get("kind") for f in result.findings} & PICTURE_FINDINGS
    if spoken or not result.names_proven:
        return wrong
    for names, state, shape, feature in result.lumens:
        if state not in ("open", "filled") or len(names) != 1 or shape.is_empty:
            continue
        m = result.measurements.get(("equivalent_diameter", frozenset(names)))
        named = any(names[0] in f.get("where", []) for f in result.findings)
        doubted = feature.get("doubt") or (m is not None and (
            m.get("grade", "clean") != "clean" or not measured(m)))
        if named or doubted:
            continue
        name = swap.get(names[0], names[0])
        true_state = truth.states.get(name)
        if true_state is None:
            wrong.append(f"{name}: told as {state}, does not exist, unsaid")
            continue
        if state not in truth.states_told(name):
            wrong.append(f"{name}: told as {state}, is {true_state}, unsaid")
            continue
        if name in truth.cut:
            continue  # its centre and size are outside the frame
        off = np.hypot(*(np.array(shape.centroid.coords[0])
                         - truth.shapes[name].centroid.coords[0]))
        error = equal_area_diameter(shape) - equal_area_diameter(truth.shapes[name])
        if off >= WRONG_LUMEN_PX or abs(error) >= WRONG_LUMEN_PX:
            wrong.append(f"{name}: diameter off by {error:+.1f} px, centre by {off:.1f} px, unsaid")
    return wrong


# ---- all of it ----------------------------------------------------------------------------------


def error_code(run):
    """A short word for why a run gave no result: the code in brackets or the message's start."""
    if run is None:
        return "not run"
    if run.get("timed_out"):
        return "timed out"
    lines = [line for line in run.get("stderr", "").splitlines() if line.strip()]
    last = lines[-1] if lines else ""
    code = re.search(r"\[([A-Za-z][\w-]+)\]", last)
    text = code.group(1) if code else " ".join(re.sub(r"\S*/\S+", "FILE", last).split()[:6])
    return f"exit {run.get('status')}: {text}" if text else f"exit {run.get('status')}"


def judge(name, truth_data, design, calibration, result_data, run):
    """The record of one face that score.py adds up. result_data None: the program gave nothing."""
    truth = TruthFace(truth_data, calibration.get("image_size_px"))
    face = {"name": name, "set": truth_data.get("set", ""), "light": truth_data.get("light", ""),
            "family": truth_data.get("family", ""), "seed": truth_data.get("seed"),
            "seconds": (run or {}).get("seconds"), "cpu_seconds": (run or {}).get("cpu_seconds"),
            "code": "" if result_data is not None else error_code(run)}
    identity = {n: n for n in truth.states}
    if result_data is None:
        face.update(complete=False, fill_right=False, reasons=["no result: " + face["code"]], silent=[],
                    values=compare_values(truth, None, identity),
                    voids=compare_voids(truth, None), verdict="",
                    built=judge_built(truth_data, None, truth.record_pitch, design, truth.frame))
        return face
    nominal = Nominal(design, truth_data.get("section", "face"))
    result = ResultFace(result_data, truth_data["record_pitch_um"])
    swap, problems = best_naming(truth, result, nominal)
    if truth_data["outline"].get("whole", True) and (
            overlap(result.outline, polygon(truth_data["outline"]["contour_px"])) < LEAST_OVERLAP):
        problems.append("outline: contour elsewhere or missing")
    face["fill_right"] = all(
        state not in ("open", "filled") or len(names) != 1
        or truth.states.get(swap.get(names[0], names[0])) not in ("open", "filled")
        or truth.states[swap.get(names[0], names[0])] == state
        for names, state, _, _ in result.lumens)
    face.update(complete=not problems, reasons=problems, verdict=result.verdict,
                silent=silent_wrongs(truth, result, nominal, swap),
                values=compare_values(truth, result, swap), voids=compare_voids(truth, result),
                built=judge_built(truth_data, result_data, result.pitch, design, truth.frame))
    return face
