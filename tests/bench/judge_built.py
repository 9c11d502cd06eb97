"""Wires, liners, bonds, tilt and classes of one face's result against its truth (built-up parts).

Contours and places are in pixels. The rules stand in score.py's description.
"""

import math

import numpy as np
from shapely.geometry import Point

from faces import polygon
from rows_truth import is_lengthwise, rows_of

NOON_DEG = 6.0          # a wire this near 12 o'clock may be numbered from either side
MISSING_DEG = 2.0       # a missing wire's place is its slot's: truth holds a wire's jitter, which nothing shows
GAP_LEAST_DEG = 5.0
CLASS_SHARE = 0.3       # of a told region that must lie in the true one
OBLIQUE_LEAST_DEG = 10.0
UPRIGHT_MOST_DEG = 0.5
# True holes in the part besides its voids.
HOLES = {"bond gap", "liner gap", "delamination", "pulled-out wire"}
# What a true class may be told as, besides itself.
ALIKE = {"delamination": {"liner gap", "bond gap", "void"}}


def drawing_clock(truth, points, centre):
    """Degrees clockwise after 12 o'clock, as drawn, of places in the picture."""
    pose = truth["pose"]
    axis, turn = math.radians(pose["oblique_axis_deg"]), -math.radians(pose["rotation_deg"])
    along = np.array([math.cos(axis), math.sin(axis)])
    squeeze = np.eye(2) + (math.cos(math.radians(pose["oblique_deg"])) - 1) * np.outer(along, along)
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    mirror = np.diag([-1.0 if pose["mirrored"] else 1.0, 1.0])
    d = (np.asarray(points, float).reshape(-1, 2) - centre) @ (mirror @ rotation @ squeeze).T
    return np.degrees(np.arctan2(d[:, 1], d[:, 0]) + math.pi / 2) % 360


def matched(true, told):
    """Pairs (i, j) of places, nearest first, each used once, no further apart than true[i]'s reach."""
    pairs = []
    for i, t in enumerate(true):
        for j, w in enumerate(told):
            away = math.dist(t["at"], w["at"])
            if t["layer"] == w["layer"] and away <= t["reach"]:
                pairs.append((away, i, j))
    used_i, used_j, found = set(), set(), []
    for _, i, j in sorted(pairs):
        if i not in used_i and j not in used_j:
            used_i.add(i)
            used_j.add(j)
            found.append((i, j))
    return found


def reach_of(truth, wire):
    """How far from its true place a wire may be told, in px: half a long axis; a missing one by
    MISSING_DEG more of its layer's round (but never half way to its family's next slot)."""
    reach = max(0.5 * wire["axes_px"][0], 3.0)
    for layer in truth.get("wire_layers", []):
        if layer["name"] == wire["layer"] and wire["state"] == "missing" and layer.get("radius_px"):
            step = 360 / (layer["expected"] / max(1, layer["families"]))
            reach += layer["radius_px"] * math.radians(min(MISSING_DEG, step / 4))
    return reach


def true_wires(truth):
    return [{"at": w["centre_px"], "layer": w["layer"], "no": w["no"], "family": w["family"],
             "state": w["state"], "exposed": bool(w["exposed_to"]), "reach": reach_of(truth, w)}
            for w in truth.get("wires", []) if w.get("whole", True)]


def told_wires(result, pitch):
    wires = []
    for w in (result or {}).get("features", {}).get("wires", []):
        at = w.get("centroid_um")
        if at is None:
            continue
        wires.append({"at": [at[0] / pitch, at[1] / pitch], "layer": w.get("layer", ""),
                      "no": w.get("no", 0), "family": w.get("family", 0),
                      "state": w.get("state", "wire"), "exposed": bool(w.get("exposed_to"))})
    return wires


def _layer_numbers_right(truth, layer, true, told, pairs):
    """Numbers of one layer, families swapped as a whole or not, each family turned by at most `turn`."""
    families = max(1, layer["families"])
    size = layer["expected"] // families
    index = {t["no"]: (t["no"] - 1) % size for t in true}
    free = len(truth["lumens"]) < 2  # nothing on the face says where 12 o'clock is
    for swap in ((False, True) if families == 2 else (False,)):
        good = True
        for family in ((1, 2) if families == 2 else (0,)):
            mine = [(t, w) for t, w in pairs if t["family"] == family and t["state"] != "extra"]
            if not mine:
                continue
            want = family if not swap else 3 - family
            if any(w["family"] != want for _, w in mine):
                good = False
                break
            clock = drawing_clock(truth, [t["at"] for t, _ in mine], layer["centre_px"])
            near_noon = bool((np.minimum(clock, 360 - clock) < NOON_DEG).any())
            shifts = range(size) if free else (-1, 0, 1) if near_noon else (0,)
            hands = (1, -1) if free else (1,)
            good = any(all((hand * index[t["no"]] + s - (w["no"] - 1)) % size == 0 for t, w in mine)
                       for s in shifts for hand in hands)
            if not good:
                break
        if good:
            return True
    return False


def judge_wires(truth, result, pitch):
    """None without wires; else counts, numbering, faults told and false alarms."""
    true = true_wires(truth)
    if not true:
        return None
    told = told_wires(result, pitch)
    there = [t for t in true if t["state"] in ("wire", "extra")]
    # A wire that the frame cuts need not be told; told, it is no mistake.
    cut = [{"at": w["centre_px"], "layer": w["layer"], "reach": max(0.5 * w["axes_px"][0], 3.0)}
           for w in truth.get("wires", []) if not w.get("whole", True)]
    at_frame = {j for _, j in matched(cut, told)}
    told = [w for j, w in enumerate(told) if j not in at_frame]
    seen = [w for w in told if w["state"] in ("wire", "extra")]
    found = matched(there, seen)
    pairs = [(there[i], seen[j]) for i, j in found]
    count_right = len(there) == len(seen) == len(found)
    numbers_right = count_right and all(
        _layer_numbers_right(truth, layer, [t for t in true if t["layer"] == layer["name"]], told,
                             [p for p in pairs if p[0]["layer"] == layer["name"]])
        for layer in truth["wire_layers"])
    faults = {"true": 0, "told": 0, "false": 0}
    for kind in ("missing", "pulled out", "extra", "exposed"):
        def is_kind(w, kind=kind):
            return w["exposed"] and w["state"] != "missing" if kind == "exposed" else w["state"] == kind
        wanted, said = [t for t in true if is_kind(t)], [w for w in told if is_kind(w)]
        right = matched(wanted, said)
        faults["true"] += len(wanted)
        faults["told"] += len(right)
        faults["false"] += len(said) - len(right)
    return {"count_right": count_right, "numbers_right": numbers_right, "faults": faults,
            "true": len(there), "seen": len(seen), "found": len(found)}


def told_regions(result, pitch):
    return [(v.get("class", "void"), polygon(np.asarray(v["contour_um"], float) / pitch))
            for v in (result or {}).get("features", {}).get("voids", []) if v.get("contour_um")]


def _span(points, about):
    """Angle in degrees under which a region is seen from a place outside it."""
    d = np.asarray(points, float) - about
    middle = d.mean(axis=0)
    off = np.degrees(np.arctan2(middle[0] * d[:, 1] - middle[1] * d[:, 0], d @ middle))
    return float(np.ptp(off))


def judge_gaps(truth, result, pitch, frame=None):
    """Bond gaps of 5 degrees and more: how many, how many found, sizes off by how many degrees. Those that
    the frame (a shape) cuts are left out."""
    told = [shape for kind, shape in told_regions(result, pitch) if kind == "bond gap"]
    out = {"true": 0, "found": 0, "errors_deg": []}
    for entry in truth.get("artefacts", []):
        size = entry.get("to_deg", 0) - entry.get("from_deg", 0)
        if entry["class"] != "bond gap" or size < GAP_LEAST_DEG:
            continue
        shape = polygon(entry["contour_px"])
        if frame is not None and not frame.contains(shape):
            continue
        out["true"] += 1
        meets = [s for s in told if s.intersection(shape).area > CLASS_SHARE * min(s.area, shape.area)]
        if not meets:
            continue
        out["found"] += 1
        best = max(meets, key=lambda s: s.intersection(shape).area)
        out["errors_deg"].append(_span(best.exterior.coords, entry["about_px"]) - size)
    return out


def judge_rings(truth, result, pitch):
    """Mean distance of every told ring's inner edge from the true one; None where it is not told."""
    told = (result or {}).get("features", {}).get("rings", {})
    distances = []
    for name, ring in truth.get("rings", {}).items():
        edge = (told.get(name) or {}).get("inner") or {}
        if not edge.get("contour_um"):
            distances.append(None)
            continue
        true = polygon(ring["inner_px"]).exterior
        distances.append(float(np.mean([true.distance(Point(p))
                                        for p in np.asarray(edge["contour_um"], float) / pitch])))
    return distances


def judge_liner_gaps(truth, result, pitch):
    """Liner gaps of 5 degrees and more on faces without wires: how many, how many found."""
    out = {"true": 0, "found": 0}
    if truth.get("wires"):
        return out
    told = [shape for kind, shape in told_regions(result, pitch) if kind == "liner gap"]
    for entry in truth.get("artefacts", []):
        if entry["class"] != "liner gap" or entry["to_deg"] - entry["from_deg"] < GAP_LEAST_DEG:
            continue
        shape = polygon(entry["contour_px"])
        out["true"] += 1
        out["found"] += any(s.intersection(shape).area > CLASS_SHARE * min(s.area, shape.area)
                            for s in told)
    return out


def true_regions(truth):
    regions = [(a["class"], polygon(a["contour_px"])) for a in truth.get("artefacts", [])
               if a["class"] != "mandrel"]
    regions += [("pulled-out wire", polygon(w["contour_px"])) for w in truth.get("wires", [])
                if w["state"] == "pulled out"]
    return regions


def judge_classes(truth, result, pitch):
    """Told regions that lie on something true: how many, how many with its class or `doubtful`."""
    regions = true_regions(truth) + [("void", polygon(v["contour_px"])) for v in truth.get("voids", [])]
    out = {"told": 0, "right": 0}
    for kind, shape in told_regions(result, pitch):
        if shape.is_empty:
            continue
        under = max(regions, key=lambda r: r[1].intersection(shape).area, default=None)
        if under is None or under[1].intersection(shape).area < CLASS_SHARE * shape.area:
            continue
        out["told"] += 1
        out["right"] += kind in {under[0], "doubtful"} | ALIKE.get(under[0], set())
    return out


def judge_tilt(truth, result):
    """Tilt above 10 degrees: the error. None of it: whether an oblique cut is called."""
    true = truth.get("pose", {}).get("oblique_deg", 0.0)
    told = (result or {}).get("placement", {}).get("oblique_deg")
    alarm = any(f.get("kind") == "oblique cut" for f in (result or {}).get("findings", []))
    asked = truth.get("family") != "lengthwise"  # across the axis only: a length is not drawn
    return {"tilted": asked and true > OBLIQUE_LEAST_DEG, "upright": true < UPRIGHT_MOST_DEG,
            "error_deg": None if told is None else told - true, "alarm": alarm}


def add_built_values(truth, values):
    """True values of the words that built-up parts have beyond the truth file's list."""
    bond = truth.get("bond")
    if bond:
        values[("offset", frozenset(["bond"]))] = (bond["offset_px"], False)
        values[("bonded_arc", frozenset(["bond"]))] = (bond["bonded_arc_deg"], False)
        values[("longest_gap", frozenset(["bond"]))] = (bond["longest_gap_deg"], False)
    for layer in truth.get("wire_layers", []):
        of = frozenset([layer["name"]])
        if is_lengthwise(truth):
            rows = rows_of(truth, layer)
            for word in ("pitch", "pitch_min", "pitch_max", "outer_cover", "inner_cover", "layer_diameter"):
                if word in rows:
                    values[(word, of)] = (rows[word], False)
        if layer.get("braid_angle_deg", 0) > 30 and layer["wire_px"] >= 12:
            values[("braid_angle", of)] = (layer["braid_angle_deg"], False)


def judge_fibres(truth, result, pitch):
    """Bundles: how many, told at their place, counted without a doubt, and of these miscounted."""
    told = [f for f in (result or {}).get("features", {}).get("fibres", [])]
    out = {"true": 0, "found": 0, "counted": 0, "wrong": 0}
    for bundle in truth.get("fibres", []):
        out["true"] += 1
        middle = np.mean(bundle["at_px"], axis=0)
        reach = 0.3 * max(math.dist(at, middle) for at in bundle["at_px"])
        # Like bundles around a lone lumen may be named in any order.
        here = [f for f in told if math.dist(np.asarray(f["centre_um"], float) / pitch, middle) < reach
                and f.get("radius_um", 0) > 0]
        out["found"] += bool(here)
        for f in here[:1]:
            if not f.get("doubt"):
                out["counted"] += 1
                out["wrong"] += f["filaments"] != bundle["filaments"]
    return out


def counts_said(truth, result):
    """Layers whose count is measured, and of these the miscounted."""
    out = {"said": 0, "wrong": 0}
    for layer in truth.get("wire_layers", []):
        there = sum(w["layer"] == layer["name"] and w["state"] in ("wire", "extra")
                    for w in truth.get("wires", []))
        for m in (result or {}).get("measurements", []):
            if m["quantity"] == "count" and m["of"] in (layer["name"], [layer["name"]]) \
                    and m.get("value") is not None:
                out["said"] += 1
                out["wrong"] += m["value"] != there
    return out


def judge_braid(truth, result, design):
    """Relative errors of picks_per_mm and coverage, None where not measured, of braids above 30 degrees
    with wires of 12 px and more. Truth: tan a = 2 pi D P / C and K = 2 F - F^2, F = E P d / sin a
    (braid formula of cable sheets), with D the true layer's diameter."""
    out = {"picks_per_mm": [], "coverage": []}
    drawn = (design or {}).get("sections", {}).get(truth.get("section", "face"), {}).get("wires", {})
    mm_per_px = np.mean(truth["pitch_um"]) / 1000
    for layer in truth.get("wire_layers", []):
        wires = drawn.get(layer["name"], {})
        if is_lengthwise(truth) or layer.get("braid_angle_deg", 0) <= 30 or layer["wire_px"] < 12 \
                or "carriers" not in wires or "round" not in wires:
            continue
        angle = math.radians(layer["braid_angle_deg"])
        picks = wires["carriers"] * math.tan(angle) / (2 * math.pi * 2 * layer["radius_px"] * mm_per_px)
        fill = wires.get("ends", 1) * picks * layer["wire_px"] * mm_per_px / math.sin(angle)
        for word, true in (("picks_per_mm", picks), ("coverage", 100 * (2 * fill - fill**2))):
            told = [m.get("value") for m in (result or {}).get("measurements", [])
                    if m["quantity"] == word and m["of"] in (layer["name"], [layer["name"]])]
            out[word].append(None if not told or told[0] is None else told[0] / true - 1)
    return out


def judge_built(truth, result, pitch, design=None, frame=None):
    return {"wires": judge_wires(truth, result, pitch), "said": counts_said(truth, result), "layers": len(truth.get("wire_layers", [])),
            "fibres": judge_fibres(truth, result, pitch), "gaps": judge_gaps(truth, result, pitch, frame),
            "rings": judge_rings(truth, result, pitch), "braid": judge_braid(truth, result, design),
            "liner_gaps": judge_liner_gaps(truth, result, pitch),
            "classes": judge_classes(truth, result, pitch), "tilt": judge_tilt(truth, result)}
