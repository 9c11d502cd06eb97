import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
import line_scale  # noqa: E402

line_scale.main(["face.png", "--angle", "3"])
line_scale.main(["blank.png", "--blank"])
pathlib.Path("bench.calibration.json").write_text("""{"format": "cutface/calibration", "version": 1, "id": "bench",
 "image_size_px": [800, 600], "pixel_pitch_um": [2.5, 2.5], "pitch_u_um": [0.0005, 0.0005], "gamma": 1.0,
 "made": "2026-03-02", "due": "2026-09-02",
 "flat_field": {"image": "blank.png", "sha256": "%s"}}""" % ("0" * 64), encoding="utf-8")
