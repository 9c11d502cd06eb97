"""A face that nobody names."""
import pathlib
import shutil

samples = pathlib.Path(__file__).resolve().parents[3] / "sample-images"
pathlib.Path("faces").mkdir()
shutil.copy(samples / "LV-7504-good.png", "faces/face.png")
