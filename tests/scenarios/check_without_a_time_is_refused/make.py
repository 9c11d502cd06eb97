import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
import line_scale  # noqa: E402
line_scale.main(["x.png", "--angle", "3"])
pathlib.Path("bench.calibration.json").write_text("""{"format": "cutface/calibration", "version": 1, "id": "bench", "objective": "5x",
 "image_size_px": [800, 600], "pixel_pitch_um": [2.5, 2.5], "pitch_u_um": [0.0002, 0.0002],
 "made": "2026-03-02", "due": "2026-09-02", "by": "calibration desk",
 "artefact": {"kind": "stage micrometer", "serial": "S-1", "certificate": "C-9", "u_um": 0.15}}
""", encoding="utf-8")
