#!/usr/bin/python3
"""The judge of hostile faces on results made by hand: what is silent, what is told, what is named."""

import copy
import json
import os
import tempfile
import unittest

from fixture import RECORD_PITCH, UNLIKE, make_design, make_truth, perfect_result
from judge_hostile import judge


class Judge(unittest.TestCase):
    def outcome(self, trap, truth, result, stderr="", design=None, **facts):
        truth = {**copy.deepcopy(truth), "trap": trap, "set": "hostile", **facts}
        with tempfile.TemporaryDirectory() as folder:
            os.mkdir(os.path.join(folder, "out"))

            def write(name, data):
                with open(os.path.join(folder, name), "w", encoding="utf-8") as out:
                    json.dump(data, out)

            write("f.design.json", design or make_design(UNLIKE))
            write("f.calibration.json", {"image_size_px": [1200, 900], "pixel_pitch_um": [RECORD_PITCH] * 2})
            write("out/runs.json", {"f": {"status": 0 if result else 3, "stderr": stderr}})
            if result:
                write("out/f.result.json", result)
            return judge(folder, "f", truth, "out")[1:3]

    def setUp(self):
        self.truth = make_truth(UNLIKE)
        self.good = perfect_result(self.truth, "conforms")

    def told(self, kind, where, verdict="does not conform", **evidence):
        result = copy.deepcopy(self.good)
        result["verdict"] = verdict
        result["findings"] = [{"kind": kind, "where": where, "evidence": evidence}]
        return result

    def test_a_decoy_is_dealt_with_when_every_lumen_is_found(self):
        self.assertEqual(self.outcome("decoy holes", self.truth, self.good), ("right", True))
        lost = self.told("void", ["voids"])
        lost["features"]["lumens"]["scope"] = {"of": ["scope"], "state": "not found", "contour_um": []}
        self.assertEqual(self.outcome("decoy holes", self.truth, lost), ("told", False))

    def test_conforming_to_another_drawing_is_silent(self):
        for trap, facts in (("wrong revision", {"revised": {"lumen": "wash"}}),
                            ("wrong scale", {"scale_factor": 1.07}),
                            ("swapped lumens", {"swapped": ["scope", "wash"]}),
                            ("liner left out", {"lacks": {"liner": "scope", "layer": ""}}),
                            ("wire layer left out", {"lacks": {"liner": "", "layer": "braid"}}),
                            ("other number of wires", {"recounted": {"layer": "braid"}})):
            self.assertEqual(self.outcome(trap, self.truth, self.good, **facts), ("silent", False), trap)

    def test_another_fault_is_told_but_does_not_name_the_trap(self):
        for trap, facts, kind, where, evidence in (
                ("wrong revision", {"revised": {"lumen": "wash"}}, "collapsed lumen", ["wash"], {}),
                ("wrong scale", {"scale_factor": 1.07}, "wrong scale", [], {"larger_percent": 7}),
                ("swapped lumens", {"swapped": ["scope", "wash"]}, "wrong part", ["scope", "wash"], {}),
                ("liner left out", {"lacks": {"liner": "scope"}}, "missing liner", ["scope"], {}),
                ("wire layer left out", {"lacks": {"layer": "braid"}}, "missing wire", ["braid"], {}),
                ("mirrored", {"mirror_shows": True}, "mirrored", [], {})):
            named = self.told(kind, where, **evidence)
            self.assertEqual(self.outcome(trap, self.truth, named, **facts), ("told", True), trap)
            other = self.told("thin wall", ["cuff"])
            self.assertEqual(self.outcome(trap, self.truth, other, **facts), ("told", False), trap)

    def test_a_broken_row_names_a_revised_lumen(self):
        result = self.told("void", ["voids"])
        result["characteristics"] = [{"no": "1", "of": ["wash"], "verdict": "does not conform"}]
        self.assertEqual(self.outcome("wrong revision", self.truth, result, revised={"lumen": "wash"}), ("told", True))
        self.assertEqual(self.outcome("wrong revision", self.truth, result, revised={"lumen": "cuff"}), ("told", False))

    def test_a_missing_lumen_that_is_told_as_open_is_silent(self):
        truth = make_truth(UNLIKE, missing=("cuff",))
        found = perfect_result(make_truth(UNLIKE), "does not conform")
        self.assertEqual(self.outcome("missing lumen", truth, found), ("silent", False))
        gone = perfect_result(truth, "not measured")
        gone["findings"] = [{"kind": "wrong part", "where": ["cuff"]}]
        self.assertEqual(self.outcome("missing lumen", truth, gone), ("told", True))

    def test_a_number_of_wires_that_is_not_there_is_silent(self):
        wires = [{"layer": "braid", "state": "wire"} for _ in range(8)]
        result = self.told("void", ["voids"])
        result["measurements"].append({"of": ["braid"], "quantity": "count", "value": 16, "lo": 16, "hi": 16, "unit": "1"})
        facts = {"wires": wires, "recounted": {"layer": "braid"}}
        self.assertEqual(self.outcome("other number of wires", self.truth, result, **facts), ("silent", False))
        result["measurements"][-1]["value"] = 8
        self.assertEqual(self.outcome("other number of wires", self.truth, result, **facts), ("told", False))

    def test_a_refusal_names_the_trap_when_it_speaks_of_the_drawing(self):
        text = "cutface: f.png: no cut face found; check design, calibration and focus"
        self.assertEqual(self.outcome("wrong plane", self.truth, None, text), ("refused", True))
        self.assertEqual(self.outcome("wrong plane", self.truth, None, "cutface: f.png: too soft"), ("refused", False))


if __name__ == "__main__":
    unittest.main()
