"""A face measured with a record that a later check finds 0.4 % wrong: its result must be named."""
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
import line_scale  # noqa: E402

ROOT = pathlib.Path(__file__).resolve().parents[3]
line_scale.main(["x.png", "--angle", "3"])
RECORD = """{"format": "cutface/calibration", "version": 1, "id": "bench", "objective": "5x",
 "image_size_px": [%s], "pixel_pitch_um": [%s], "pitch_u_um": [0.0002, 0.0002],
 "made": "2026-03-02", "due": "2026-09-02", "by": "calibration desk",
 "artefact": {"kind": "stage micrometer", "serial": "S-1", "certificate": "C-9", "u_um": 0.15}}
"""
# The demo's picture has another size than the line scale's: measured with a record of that size and
# the same id, kept elsewhere.
pathlib.Path("other").mkdir()
pathlib.Path("other/bench.calibration.json").write_text(RECORD % ("1600, 1200", "2.0, 2.0"), encoding="utf-8")
pathlib.Path("bench.calibration.json").write_text(RECORD % ("800, 600", "2.51, 2.51"), encoding="utf-8")
subprocess.run([sys.argv[1], "survey", str(ROOT / "sample-images" / "LV-7504-good.png"), "--calibration",
                "other/bench.calibration.json", "--taken", "2026-04-01T07:00", "--out", "results"],
               check=False, stdout=subprocess.DEVNULL)
