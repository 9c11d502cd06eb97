#!/usr/bin/python3
"""Checks truth files against GEOS (through shapely), scipy and the JSON schemas.

    check_truth.py FOLDER SCHEMA_FOLDER

FOLDER holds faces written by make_faces. Every size is taken again from the contours by code that is
not the phantom room's.
"""

import glob
import json
import math
import os
import sys

import jsonschema
import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.distance import pdist
from shapely.geometry import LinearRing, Polygon
from shapely.ops import polylabel

failures = []


def expect(good, text):
    if not good:
        failures.append(text)


def near(value, true, allowed, text):
    expect(abs(value - true) <= allowed, f"{text}: {value} is not {true} (+- {allowed})")


def widths(points):
    hull = np.asarray(Polygon(points).convex_hull.exterior.coords)
    edges = np.diff(hull, axis=0)
    normals = np.column_stack([-edges[:, 1], edges[:, 0]])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    spans = np.ptp(hull @ normals.T, axis=0)
    return spans.min(), pdist(hull).max()


def circle_diameter(points):
    ring = LinearRing(points)
    n = 4000
    p = np.asarray([ring.interpolate(i * ring.length / n).coords[0] for i in range(n)])
    start = [*p.mean(axis=0), np.ptp(p[:, 0]) / 2]
    fit = least_squares(lambda c: np.hypot(p[:, 0] - c[0], p[:, 1] - c[1]) - c[2], start,
                        xtol=1e-14, ftol=1e-14, gtol=1e-14)
    return 2 * fit.x[2]


def inscribed_diameter(shape):
    centre = polylabel(shape, tolerance=1e-3)
    return 2 * shape.exterior.distance(centre)


def boundaries(truth):
    """(inner, outer) polygons of every ring and liner, by the name that quantities are of."""
    pairs, outer = {}, Polygon(truth["outline"]["contour_px"])
    for ring, entry in truth.get("rings", {}).items():
        inner = Polygon(entry["inner_px"])
        pairs[ring] = (inner, outer)
        outer = inner
    for lumen, entry in truth.get("liners", {}).items():
        bore = Polygon(truth["lumens"][lumen]["contour_px"])
        pairs[lumen + "/liner"] = (bore, Polygon(entry["outer_px"]))
    return pairs


def check_thickness(value, word, pair, where):
    inner, outer = pair
    if word == "thickness_min":
        near(value, inner.exterior.distance(outer.exterior), 2e-5, where)
        return
    n = 4000
    at = [inner.exterior.interpolate(i * inner.exterior.length / n) for i in range(n)]
    distances = np.array([outer.exterior.distance(p) for p in at])
    if word == "thickness_mean":
        near(value, distances.mean(), 5e-3, where)
    else:
        near(value, distances.max(), 2e-2, where)  # vertices against points between them


def check_wires(truth, shapes, outline, name):
    """Axes, centres and what a wire sticks out of, from the contours."""
    count = 0
    for wire in truth.get("wires", []):
        where = f"{name} wire {wire['layer']}/{wire['no']}"
        shape = Polygon(wire["contour_px"])
        expect(shape.is_valid, f"{where} crosses itself")
        near(math.hypot(shape.centroid.x - wire["centre_px"][0],
                        shape.centroid.y - wire["centre_px"][1]), 0, 2e-3, f"{where} centre")
        if wire["shape"] == "round":
            axis = math.radians(wire["axis_deg"])
            points = np.asarray(shape.exterior.coords)
            for length, (x, y) in zip(wire["axes_px"], ((math.cos(axis), math.sin(axis)),
                                                        (-math.sin(axis), math.cos(axis)))):
                near(length, np.ptp(points @ np.array([x, y])), 0.02, f"{where} axis")
        if wire["state"] != "missing":
            met = ["outside"] if not outline.contains(shape) else []
            met += [n for keys, lumen in shapes.items() if lumen.intersects(shape) for n in keys]
            expect(wire["exposed_to"] in met if met else wire["exposed_to"] == "",
                   f"{where}: exposed to {wire['exposed_to']!r}, by GEOS {met}")
        count += 1
    return count


def unstretched(truth, points):
    """Places of the picture in the drawing's frame, px."""
    pose = truth["pose"]
    axis, turn = math.radians(pose["oblique_axis_deg"]), -math.radians(pose["rotation_deg"])
    along = np.array([math.cos(axis), math.sin(axis)])
    squeeze = np.eye(2) + (math.cos(math.radians(pose["oblique_deg"])) - 1) * np.outer(along, along)
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    mirror = np.diag([-1.0 if pose["mirrored"] else 1.0, 1.0])
    return (np.asarray(points) - pose["centre_px"]) @ (mirror @ rotation @ squeeze).T


def check_combs(truth, design, name):
    """Wires of a family stand 720 / carriers degrees apart and are numbered clockwise."""
    layers = design["sections"]["face"].get("wires", {})
    for layer in truth.get("wire_layers", []):
        spec = layers[layer["name"]]
        wires = [w for w in truth["wires"] if w["layer"] == layer["name"] and w["state"] != "extra"]
        expect(len(wires) == layer["expected"], f"{name} {layer['name']}: number of wires")
        if "carriers" not in spec:
            continue
        expect(len(wires) == spec["carriers"] * spec.get("ends", 1), f"{name}: carriers times ends")
        if spec.get("ends", 1) != 1:
            continue
        centre = unstretched(truth, [layer["centre_px"]])[0]
        step = 720 / spec["carriers"]
        for family in (1, 2):
            mine = sorted((w for w in wires if w["family"] == family), key=lambda w: w["no"])
            expect(len(mine) == spec["carriers"] // 2, f"{name}: wires of family {family}")
            d = unstretched(truth, [w["centre_px"] for w in mine]) - centre
            clock = np.degrees(np.arctan2(d[:, 1], d[:, 0]))
            slots = np.arange(len(mine)) * step
            off = (clock - slots - clock[0] + 180) % 360 - 180
            keep = [not (w["displaced"] or w["touching"] or w["exposed_to"]) for w in mine]
            if sum(keep) < 3:
                continue
            off -= np.median(off[keep])
            expect(np.abs(off[keep]).max() < 5, f"{name} {layer['name']}: family {family} is no comb")


def check_built(truth, design, shapes, outline, name):
    pairs = boundaries(truth)
    for key, (inner, outer) in pairs.items():
        expect(inner.is_valid and outer.contains(inner), f"{name}: {key} is not nested")
    for entry in truth.get("artefacts", []):
        if "from_deg" not in entry:
            continue
        expect(Polygon(entry["contour_px"]).is_valid, f"{name}: {entry['class']} crosses itself")
        d = np.asarray(entry["contour_px"]) - entry["about_px"]
        angle = np.degrees(np.arctan2(d[:, 1], d[:, 0]))
        off = (angle - (entry["from_deg"] + entry["to_deg"]) / 2 + 180) % 360 - 180
        near(np.ptp(off), entry["to_deg"] - entry["from_deg"], 0.01, f"{name} {entry['class']} span")
    if "bond" in truth:
        shaft = np.asarray(pairs[truth["bond"]["adhesive"]][0].exterior.coords)
        rim = np.asarray(pairs[truth["bond"]["sleeve"]][0].exterior.coords)
        centres = [LinearRing(p).centroid for p in (shaft, rim)]
        near(truth["bond"]["offset_px"], centres[0].distance(centres[1]), 0.1, f"{name} bond offset")
        gaps = [a["to_deg"] - a["from_deg"] for a in truth["artefacts"] if a["class"] == "bond gap"]
        near(truth["bond"]["bonded_arc_deg"], 360 - sum(gaps), 0.01, f"{name} bonded arc")
        near(truth["bond"]["longest_gap_deg"], max(gaps, default=0), 0.01, f"{name} longest gap")
    check_combs(truth, design, name)
    return check_wires(truth, shapes, outline, name)


def check_quantity(q, shapes, outline, name, pairs):
    value, word, of = q["value_px"], q["quantity"], q["of"]
    where = f"{name} {word} of {'+'.join(of)}"
    if word.startswith("thickness_"):
        check_thickness(value, word, pairs[of[0]], where)
        return
    if word == "septum":
        if q["breach"]:
            near(value, 0, 0, where)
            return
        a, b = (shapes[frozenset(key.split("+"))] for key in of)
        near(value, a.distance(b), 2e-5, where)
        return
    shape = outline if of == ["outline"] else shapes[frozenset(of)]
    points = np.asarray(shape.exterior.coords)[:-1]
    if word == "area":
        near(value, shape.area, 1e-4, where)
    elif word == "equivalent_diameter":
        near(value, 2 * math.sqrt(shape.area / math.pi), 2e-5, where)
    elif word == "wall":
        near(value, shape.exterior.distance(outline.exterior), 2e-5, where)
    elif word == "width_min":
        near(value, widths(points)[0], 2e-5, where)
    elif word == "width_max":
        near(value, widths(points)[1], 2e-5, where)
    elif word == "ovality":
        near(value, widths(points)[1] - widths(points)[0], 3e-5, where)
    elif word == "diameter":
        near(value, circle_diameter(points), 5e-4, where)  # 4000 points against Simpson's rule
    elif word == "inscribed_diameter":
        near(value, inscribed_diameter(shape), 3e-3, where)  # polylabel's tolerance
    else:
        expect(False, f"{where}: no check for this word")


def check_limits(truth, design, name):
    true = {(q["quantity"], frozenset(q["of"])): q["value_px"] for q in truth["quantities"]}
    broken = []
    for row in design["sections"]["face"]["characteristics"]:
        of = frozenset([row["of"]] if isinstance(row["of"], str) else row["of"])
        if row["quantity"] == "longest":
            value = max((widths(v["contour_px"])[1] for v in truth["voids"]), default=0.0)
        elif (row["quantity"], of) in true:
            value = true[(row["quantity"], of)]
        else:
            continue
        mm = value * truth["pitch_um"] / 1000
        low = row.get("min", row.get("nominal", 0) - row.get("minus", math.inf))
        high = row.get("max", row.get("nominal", math.inf) + row.get("plus", 0))
        if mm < low or mm > high:
            broken.append(row["no"])
    expect(broken == truth["limits_broken"],
           f"{name}: limits_broken {truth['limits_broken']}, by GEOS {broken}")


def check_pose(truth, design, name):
    """Round nominal lumens, taken through the stated pose, land on the true ones."""
    pose = truth["pose"]
    turn = math.radians(pose["rotation_deg"])
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    mirror = np.diag([-1.0 if pose["mirrored"] else 1.0, 1.0])
    axis = math.radians(pose["oblique_axis_deg"])
    along = np.array([math.cos(axis), math.sin(axis)])
    stretch = np.eye(2) + (1 / math.cos(math.radians(pose["oblique_deg"])) - 1) * np.outer(along, along)
    size = math.sqrt(Polygon(truth["outline"]["contour_px"]).area)
    for lumen, shape in design["sections"]["face"]["lumens"].items():
        if "circle" not in shape or truth["lumens"][lumen]["state"] in ("not found", "merged"):
            continue
        centre = np.array(shape["circle"]["center"]) * 1000 / truth["pitch_um"]
        centre = np.array(pose["centre_px"]) + stretch @ rotation @ mirror @ centre
        got = Polygon(truth["lumens"][lumen]["contour_px"]).centroid
        expect(math.hypot(got.x - centre[0], got.y - centre[1]) < 0.2 * size,
               f"{name}: {lumen} lies far from its nominal place")


def check_face(path, schemas):
    name = os.path.basename(path)[: -len(".truth.json")]
    stem = path[: -len(".truth.json")]
    truth, design, record = (json.load(open(stem + end, encoding="utf-8")) for end in
                             (".truth.json", ".design.json", ".calibration.json"))
    jsonschema.validate(design, schemas["design"])
    jsonschema.validate(record, schemas["calibration"])
    outline = Polygon(truth["outline"]["contour_px"])
    expect(outline.is_valid, f"{name}: outline crosses itself")
    shapes = {}
    for lumen, entry in truth["lumens"].items():
        if entry["state"] == "not found":
            continue
        shape = Polygon(entry["contour_px"])
        expect(shape.is_valid, f"{name}: {lumen} crosses itself")
        expect(outline.contains(shape), f"{name}: {lumen} is not inside the outline")
        expect(700 <= len(entry["contour_px"]) <= 1500, f"{name}: {lumen} has too few or many corners")
        shapes[frozenset([lumen, *entry["merged_with"]])] = shape
    keys = list(shapes)
    for i, a in enumerate(keys):
        for b in keys[:i]:
            expect(not shapes[a].intersects(shapes[b]), f"{name}: lumens {a} and {b} overlap")
    for entry in truth["voids"]:
        shape = Polygon(entry["contour_px"])
        expect(shape.is_valid, f"{name}: a void crosses itself")
        expect(outline.contains(shape), f"{name}: a void is outside")
        expect(not any(shape.intersects(s) for s in shapes.values()), f"{name}: a void in a lumen")
        near(entry["diameter_px"], 2 * math.sqrt(shape.area / math.pi), 1e-4, f"{name} void")
    for q in truth["quantities"]:
        check_quantity(q, shapes, outline, name, boundaries(truth))
    built = check_built(truth, design, shapes, outline, name)
    check_limits(truth, design, name)
    check_pose(truth, design, name)
    expect(abs(truth["pitch_um"] - truth["record_pitch_um"]) < 5 * record["pitch_u_um"][0],
           f"{name}: true pitch too far from the record's")
    return len(truth["quantities"]) + built


def main():
    folder, schema_folder = sys.argv[1:3]
    schemas = {word: json.load(open(os.path.join(schema_folder, word + ".schema.json"),
                                    encoding="utf-8")) for word in ("design", "calibration")}
    paths = sorted(glob.glob(os.path.join(folder, "*.truth.json")))
    checked = sum(check_face(path, schemas) for path in paths)
    for text in failures[:40]:
        print(text)
    print(f"{len(paths)} faces, {checked} sizes checked, {len(failures)} failures")
    # A run that compared nothing has proved nothing.
    return 1 if failures or len(paths) < 4 or checked < 100 else 0


if __name__ == "__main__":
    sys.exit(main())
