#!/usr/bin/python3
"""The runner keeps what each run did: exit status, stderr, times; and removes older outputs first."""

import json
import os
import subprocess
import sys
import tempfile
import unittest

HERE = os.path.dirname(os.path.abspath(__file__))
# Stands in for the program: writes a result, fails, hangs, or prints its arguments, by the face's name.
STAND_IN = """#!/bin/sh
case "$2" in
  *good.png) echo '{}' > "${10}"/good.result.json; echo "$@" >&2 ;;
  *bad.png) echo "cutface: [image-blurred] out of focus" >&2; exit 3 ;;
  *slow.png) exec sleep 20 ;;
esac
"""


class RunFacesTest(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        self.program = os.path.join(self.folder.name, "stand-in")
        with open(self.program, "w", encoding="utf-8") as file:
            file.write(STAND_IN)
        os.chmod(self.program, 0o755)
        self.faces = os.path.join(self.folder.name, "faces")
        self.out = os.path.join(self.faces, "out")
        os.makedirs(self.out)
        for name in ("good", "bad", "slow"):
            path = os.path.join(self.faces, name + ".truth.json")
            with open(path, "w", encoding="utf-8") as file:
                json.dump({"format": "cutface/truth", "image": name + ".png"}, file)

    def run_faces(self, *more):
        done = subprocess.run(
            [sys.executable, os.path.join(HERE, "run_faces.py"), self.faces, "--cutface",
             self.program, "--timeout", "0.5", *more], capture_output=True, text=True, check=True)
        with open(os.path.join(self.out, "runs.json"), encoding="utf-8") as file:
            return json.load(file), done.stdout

    def test_status_error_and_time_of_each_run_are_kept(self):
        runs, said = self.run_faces("--jobs", "2")
        self.assertEqual({n: r["status"] for n, r in runs.items() if n != "slow"},
                         {"good": 0, "bad": 3})
        self.assertIn("[image-blurred]", runs["bad"]["stderr"])
        self.assertTrue(runs["slow"]["timed_out"])
        self.assertLess(runs["slow"]["seconds"], 10)
        self.assertIn("1 timed out", said)

    def test_program_is_called_as_documented(self):
        runs, _ = self.run_faces("--only", "good")
        stem = os.path.join(self.faces, "good")
        self.assertEqual(runs["good"]["stderr"].split(), [
            "measure", stem + ".png", "--design", stem + ".design.json", "--section", "face",
            "--calibration", stem + ".calibration.json", "--out", self.out, "--u-floor", "0"])

    def test_older_outputs_are_removed_before_a_run(self):
        old = os.path.join(self.out, "bad.result.json")
        with open(old, "w", encoding="utf-8") as file:
            file.write("{}")
        self.run_faces()
        self.assertFalse(os.path.exists(old))
        self.assertTrue(os.path.exists(os.path.join(self.out, "good.result.json")))

    def test_run_over_one_face_keeps_what_is_known_of_the_others(self):
        self.run_faces()
        runs, _ = self.run_faces("--only", "good")
        self.assertEqual(set(runs), {"good", "bad", "slow"})


if __name__ == "__main__":
    unittest.main()
