"""What the bench programs share: truth, design and result files as numpy and shapely values.

Everything here is in pixels of the picture (x right, y down, pixel centres on whole numbers) unless
a name ends in _um. Nothing here comes from the measuring program: shapes of the design are flattened
by this file's own code, so that a mistake there cannot hide here.
"""

import glob
import json
import math
import os
import re

import numpy as np
from shapely.errors import ShapelyError
from shapely.geometry import MultiPolygon, Polygon

UM_PER_UNIT = {"um": 1.0, "mm": 1000.0, "in": 25400.0, "inch": 25400.0}
ARC_STEP_RAD = math.radians(2.0)  # 180 corners a turn: 0.005 % of the radius inside the arc


def find_faces(folders):
    """The faces of the folders, sorted by name: [(folder, name, truth)]."""
    faces = []
    for folder in folders:
        for path in sorted(glob.glob(os.path.join(folder, "*.truth.json"))):
            name = os.path.basename(path)[: -len(".truth.json")]
            with open(path, encoding="utf-8") as file:
                truth = json.load(file)
            if truth.get("format") != "cutface/truth":
                raise SystemExit(f'{path}: "format" is not "cutface/truth"; is it a truth file?')
            faces.append((folder, name, truth))
    if not faces:
        raise SystemExit(f"no *.truth.json in {', '.join(folders)}: run make_faces first")
    return faces


def read_json(path):
    with open(path, encoding="utf-8") as file:
        return json.load(file)


def pitch_pair(value):
    """[x, y] of a pitch that may be written as one number."""
    pair = np.atleast_1d(np.asarray(value, dtype=float))
    return np.array([pair[0], pair[-1]])


def mean_pitch(value):
    return float(math.sqrt(np.prod(pitch_pair(value))))


def polygon(points):
    """A valid polygon, or an empty one when the points enclose nothing."""
    if points is None or len(points) < 3:
        return Polygon()
    shape = Polygon(np.asarray(points, dtype=float))
    if not shape.is_valid:
        shape = shape.buffer(0)
        if isinstance(shape, MultiPolygon):  # a figure of eight: keep the largest part
            shape = max(shape.geoms, key=lambda part: part.area)
    return shape if isinstance(shape, Polygon) else Polygon()


def overlap(a, b):
    """Intersection over union, 0 for empty shapes."""
    if a.is_empty or b.is_empty:
        return 0.0
    try:
        common = a.intersection(b).area
    except ShapelyError:  # edges that differ by rounding only, as of shapes turned by a symmetry
        common = polygon(np.round(a.exterior.coords, 6)).buffer(1e-5).intersection(b).area
    return common / (a.area + b.area - common)


def equal_area_diameter(shape):
    return 2.0 * math.sqrt(shape.area / math.pi)


# ---- the design's nominal shapes ---------------------------------------------------------------


def _arc(start, rx, ry, turn_deg, large, sweep, end):
    """Corners of an SVG elliptical arc without its start (W3C SVG 1.1, appendix F.6.5)."""
    start, end = np.asarray(start, float), np.asarray(end, float)
    if np.allclose(start, end):
        return []
    rx, ry = abs(rx), abs(ry)
    if rx == 0 or ry == 0:
        return [tuple(end)]
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    turn = np.array([[c, s], [-s, c]])
    x, y = turn @ ((start - end) / 2)
    grow = math.sqrt(max(1.0, (x / rx) ** 2 + (y / ry) ** 2))  # radii too small are scaled up
    rx, ry = rx * grow, ry * grow
    root = max(0.0, (rx * ry) ** 2 - (rx * y) ** 2 - (ry * x) ** 2)
    root = math.sqrt(root / ((rx * y) ** 2 + (ry * x) ** 2)) * (-1 if large == sweep else 1)
    cx, cy = root * rx * y / ry, -root * ry * x / rx
    first = math.atan2((y - cy) / ry, (x - cx) / rx)
    last = math.atan2((-y - cy) / ry, (-x - cx) / rx)
    span = last - first
    if sweep and span < 0:
        span += 2 * math.pi
    if not sweep and span > 0:
        span -= 2 * math.pi
    steps = max(2, int(math.ceil(abs(span) / ARC_STEP_RAD)))
    angles = first + span * np.arange(1, steps + 1) / steps
    local = np.stack([cx + rx * np.cos(angles), cy + ry * np.sin(angles)])
    points = (turn.T @ local).T + (start + end) / 2
    points[-1] = end
    return [tuple(p) for p in points]


def _bezier(control, steps=48):
    t = np.linspace(0, 1, steps + 1)[1:, None]
    control = [np.asarray(p, float) for p in control]
    if len(control) == 3:
        a, b, c = control
        points = (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t**2 * c
    else:
        a, b, c, d = control
        points = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
    return [tuple(p) for p in points]


ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Q": 4, "A": 7, "Z": 0}


def flatten_path(data):
    """Corners of closed SVG path data (M L H V A C Q Z, either case)."""
    tokens = re.findall(r"[MLHVACQZmlhvacqz]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", data)
    points, at, command, i = [], np.zeros(2), None, 0
    while i < len(tokens):
        if tokens[i].isalpha():
            command, i = tokens[i], i + 1
        kind, relative = command.upper(), command.islower()
        count = ARGUMENTS[kind]
        values, i = [float(v) for v in tokens[i : i + count]], i + count
        base = at if relative else np.zeros(2)
        if kind in "ML":
            new = [tuple(base + values)]
            command = {"M": "L", "m": "l"}.get(command, command)
        elif kind == "H":
            new = [(base[0] + values[0], at[1])]
        elif kind == "V":
            new = [(at[0], base[1] + values[0])]
        elif kind == "A":
            new = _arc(at, *values[:3], bool(values[3]), bool(values[4]), base + values[5:])
        elif kind in "CQ":
            pairs = [base + values[k : k + 2] for k in range(0, count, 2)]
            new = _bezier([at] + pairs)
        else:
            new = []
        points += new
        if new:
            at = np.asarray(new[-1], float)
    return np.asarray(points)


def flatten_shape(shape, um_per_unit):
    """Corners in micrometres of a design file's circle, ellipse, rectangle or path."""
    angles = np.arange(0, 2 * math.pi, ARC_STEP_RAD)
    if "path" in shape:
        return flatten_path(shape["path"]) * um_per_unit
    kind = next(k for k in ("circle", "ellipse", "rectangle") if k in shape)
    spec = shape[kind]
    centre = np.asarray(spec.get("center", spec.get("centre", [0, 0])), float)
    if kind == "circle":
        half = np.array([spec["diameter"]] * 2) / 2
    else:
        half = np.asarray(spec.get("size", spec.get("axes", spec.get("diameters"))), float) / 2
    if kind == "rectangle":
        r = min(spec.get("corner_radius", 0), half.min())
        corner = np.sign(np.stack([np.cos(angles + 1e-9), np.sin(angles + 1e-9)], 1))
        local = corner * (half - r) + r * np.stack([np.cos(angles), np.sin(angles)], 1)
    else:
        local = half * np.stack([np.cos(angles), np.sin(angles)], 1)
    turn = math.radians(spec.get("angle_deg", spec.get("angle", 0)))
    c, s = math.cos(turn), math.sin(turn)
    return (centre + local @ np.array([[c, s], [-s, c]])) * um_per_unit


class Nominal:
    """One section of a design file: outline and lumens as polygons in um, rows, unit."""

    def __init__(self, design, section="face"):
        sections = design["sections"]
        plane = dict(sections[section])
        while "like" in plane:
            base = dict(sections[plane.pop("like")])
            base.update(plane)
            plane = base
        self.um_per_unit = UM_PER_UNIT[design.get("units", "mm")]
        self.outline = polygon(flatten_shape(plane["outline"], self.um_per_unit))
        self.lumens = {
            name: polygon(flatten_shape(spec, self.um_per_unit))
            for name, spec in plane.get("lumens", {}).items()
        }
        self.rows = plane.get("characteristics", [])

    @staticmethod
    def _moved(shape, middle, motion):
        return polygon((np.asarray(shape.exterior.coords) - middle) @ motion + middle)

    def symmetries(self, groups):
        """Permutations of the lumens' names by which the nominal face maps onto itself.

        `groups` is what the result declares interchangeable. Only rotations and reflections about
        the outline's centre count, and only those that move names inside a declared group and leave all other
        lumens where they are; so a result cannot excuse a wrong name by calling it interchangeable.
        Each permutation is {name in the result: name in the truth}; the identity comes first.
        """
        identity = {name: name for name in self.lumens}
        found = [identity]
        group_of = {n: i for i, names in enumerate(groups or []) for n in names if n in identity}
        if not group_of:
            return found
        names = list(self.lumens)
        middle = np.array(self.outline.centroid.coords[0])
        centres = np.array([self.lumens[n].centroid.coords[0] for n in names]) - middle
        first = max(group_of, key=lambda n: np.hypot(*centres[names.index(n)]))
        x, y = centres[names.index(first)]
        for target, group in group_of.items():
            if group != group_of[first]:
                continue
            u, v = centres[names.index(target)]
            for flip in (1, -1):
                turn = math.atan2(v, u) - math.atan2(y * flip, x)
                c, s = math.cos(turn), math.sin(turn)
                motion = np.array([[c, s], [-s, c]]) * [[1], [flip]]  # flip y, then turn
                gap = centres @ motion
                gap = np.hypot(*(gap[:, None] - centres[None]).transpose(2, 0, 1))
                swap = {names[i]: names[j] for i, j in enumerate(gap.argmin(1))}
                within = all(a == b or group_of.get(a, -1) == group_of.get(b, -2)
                             for a, b in swap.items())
                if swap in found or not within or len(set(swap.values())) != len(names):
                    continue
                pairs = [(self.outline, self.outline)]
                pairs += [(self.lumens[a], self.lumens[b]) for a, b in swap.items()]
                if all(overlap(self._moved(a, middle, motion), b) > 0.95 for a, b in pairs):
                    found.append(swap)
        return found


# ---- results -----------------------------------------------------------------------------------


class ResultFace:
    """A result file in pixels of the picture, by the calibration record's pitch."""

    def __init__(self, data, record_pitch):
        self.data = data
        pitch = pitch_pair(record_pitch)
        self.pitch = mean_pitch(record_pitch)
        features = data.get("features", {})

        def shape(feature):
            points = (feature or {}).get("contour_um") or []
            return polygon(np.asarray(points, float) / pitch) if len(points) >= 3 else Polygon()

        self.outline = shape(features.get("outline"))
        self.outline_whole = bool((features.get("outline") or {}).get("whole", True))
        self.lumens = []  # (names, state, polygon, raw feature)
        for key, feature in features.get("lumens", {}).items():
            names = list(feature.get("of") or key.split("+"))
            self.lumens.append((names, feature.get("state", "open"), shape(feature), feature))
        self.voids = [(v.get("class", "void"), shape(v)) for v in features.get("voids", [])]
        placement = data.get("placement") or {}
        groups = placement.get("interchangeable") or []
        if groups and isinstance(groups[0], str):
            groups = [groups]
        self.groups = groups
        self.names_proven = placement.get("names", "proven") == "proven"
        self.verdict = data.get("verdict", "not judged")
        self.rows = {str(r.get("no")): r for r in data.get("characteristics", [])}
        self.findings = data.get("findings", [])
        self.measurements = {}
        for m in data.get("measurements", []):
            of = m["of"] if isinstance(m["of"], list) else [m["of"]]
            of = frozenset(name for key in of for name in key.split("+"))
            self.measurements[(m["quantity"], of)] = m


def measured(measurement):
    """Whether a measurement of a result carries a value."""
    if measurement is None or measurement.get("state", "measured") != "measured":
        return False
    value = measurement.get("value")
    return isinstance(value, (int, float)) and math.isfinite(value)


def unit_power(unit):
    """How often the pitch enters a unit: um 1, um2 2, deg, 1 and % 0."""
    return {"um": 1, "um2": 2, "1/mm": -1}.get(unit, 0)


# The units of the words that plain faces have (design.md, "Quantities"), for results that leave the
# unit out and for truth values.
AREA_WORDS = {"area"}
PLAIN_WORDS = {"clock", "area_ratio", "inscribed_ratio", "flow_ratio", "void_count", "area_fraction",
               "bonded_arc", "longest_gap", "braid_angle"}


def word_unit(word):
    if word in AREA_WORDS:
        return "um2"
    return "1" if word in PLAIN_WORDS else "um"
