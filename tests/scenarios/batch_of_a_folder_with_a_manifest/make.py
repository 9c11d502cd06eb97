"""Two parts, a picture that was cut off, and a manifest."""
import pathlib
import shutil

samples = pathlib.Path(__file__).resolve().parents[3] / "sample-images"
for folder, name in (("1", "good.png"), ("2", "good.png"), ("2", "cut.png")):
    (pathlib.Path("faces") / folder).mkdir(parents=True, exist_ok=True)
    shutil.copy(samples / "LV-7504-good.png", pathlib.Path("faces") / folder / name)
cut = pathlib.Path("faces/2/cut.png")
cut.write_bytes(cut.read_bytes()[:200_000])
pathlib.Path("faces.csv").write_text(
    "image;serial;lot;plane;face;taken;objective;factor:oven\n"
    "1/good.png;001;L-1;extrusion;distal;2026-04-01;5x;=1+1\n"
    "2/good.png;002;L-1;extrusion;distal;2026-04-01;5x;hot\n"
    "2\\cut.png;002;L-1;extrusion;proximal;2026-04-01;5x;hot\n", encoding="utf-8")
