"""Results of two planes of the demo's hub, for the command planes."""
import pathlib
import subprocess
import sys

samples = pathlib.Path(__file__).resolve().parents[3] / "sample-images"
for plane in ("hub-1", "hub-2"):
    run = subprocess.run(
        [sys.argv[1], "measure", samples / "built" / f"LV-7504-B-{plane}.png", "--design", samples / "LV-7504.design.json",
         "--section", plane, "--calibration", samples / "../calibration/hub-bench-1x.calibration.json",
         "--taken", "2026-04-01", "--out", "."], capture_output=True, text=True)
    if run.returncode > 1:
        sys.exit(run.stderr)
