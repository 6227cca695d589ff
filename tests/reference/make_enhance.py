# Reference values for tests/enhance.rs. Made with Python 3.11, scikit-image 0.26.0,
# opencv-python-headless 5.0.0.93, numpy 2.4.6, pillow 13.0.0, deskew 1.6.1, jdeskew 0.4.2.
#
# Run from tests/reference:  python make_enhance.py SOURCES
# SOURCES is a folder with the unpacked source packages jdeskew-0.4.2 and ocrmypdf-17.13.0 (from
# PyPI); the other pictures come with scikit-image. Writes enhance.json, skew.json and the
# pictures that the tests open.
import json
import os
import sys

import cv2
import numpy as np
import skimage
from deskew import determine_skew
from jdeskew.estimator import get_angle
from PIL import Image
from skimage import filters

sources = sys.argv[1]
carried = os.path.join(os.path.dirname(skimage.__file__), "data")
out = "pictures"
os.makedirs(out, exist_ok=True)

# Thresholds and local contrast on scikit-image's scanned page and its dark photographed writing.
reference = {}
for name in ["page", "text"]:
    picture = Image.open(os.path.join(carried, name + ".png")).convert("L")
    picture.save(os.path.join(out, name + ".png"), optimize=True)
    grey = np.asarray(picture)
    # Sides that the tiles divide: past the edge OpenCV pads a whole tile count on both sides as
    # soon as one of them doesn't, which is a choice of its own.
    even = grey[: grey.shape[0] // 8 * 8, : grey.shape[1] // 8 * 8].copy()

    def rows(mask):
        # Ink counted by rows: a fingerprint short enough to commit.
        return [int(n) for n in mask.sum(axis=1)]

    entry = {"otsu": int(filters.threshold_otsu(grey))}
    for window in [15, 25, 51]:
        niblack = filters.threshold_niblack(grey, window_size=window, k=0.2)
        sauvola = filters.threshold_sauvola(grey, window_size=window, k=0.2, r=128)
        entry[f"niblack_{window}"] = rows(grey < niblack)
        entry[f"sauvola_{window}"] = rows(grey < sauvola)
    for tiles, clip in [(4, 2.0)] if name == "page" else [(8, 3.0)]:
        made = cv2.createCLAHE(clipLimit=clip, tileGridSize=(tiles, tiles)).apply(even)
        Image.fromarray(made).save(
            os.path.join(out, f"{name}-clahe-{tiles}.png"), optimize=True
        )
    reference[name] = entry
json.dump(reference, open("enhance.json", "w"), indent=0)

# A scan has a lean of its own: what is known is the angle between a picture turned by 0 and the
# others. Only "lorem", set by a program, is level by itself.
# Skew: real and printed pages turned by known angles, and what two packages find on them.
pages = {
    "page": os.path.join(carried, "page.png"),
    "lorem": os.path.join(sources, "jdeskew-0.4.2/tests/test.png"),
    "typewriter": os.path.join(sources, "ocrmypdf-17.13.0/tests/resources/typewriter.png"),
    "linn": os.path.join(sources, "ocrmypdf-17.13.0/tests/resources/linn.png"),
}
angles = [0, 0.3, -0.7, 1.45, -2.6, 4.2, -6.35, 9.1, -12.75, 15, -19.3, 24.6, -31.2, 37.4, -43.5]
rows = []
for name, path in pages.items():
    picture = Image.open(path)
    if picture.mode in ("RGBA", "LA", "P"):
        flat = Image.new("RGBA", picture.size, "white")
        flat.alpha_composite(picture.convert("RGBA"))
        picture = flat
    picture = picture.convert("L")
    if max(picture.size) > 640:
        picture.thumbnail((640, 640), Image.LANCZOS)
    ground = int(np.median(np.asarray(picture)))
    for angle in angles if name == "page" else angles[:2] + angles[3::2]:
        # Pillow turns anticlockwise for positive angles; ours are positive clockwise.
        turned = picture.rotate(-angle, Image.BICUBIC, expand=True, fillcolor=ground)
        file = f"skew-{name}-{angle}.jpg"
        turned.save(os.path.join(out, file), quality=35)
        seen = np.asarray(Image.open(os.path.join(out, file)))
        theirs = determine_skew(seen, max_angle=45, min_angle=-45)
        rows.append({
            "file": file,
            "page": name,
            "degrees": angle,
            "deskew": None if theirs is None else round(float(theirs), 4),
            "jdeskew": round(float(get_angle(seen, angle_max=45)), 4),
        })
json.dump({"rows": rows}, open("skew.json", "w"), indent=0)
for package in ["deskew", "jdeskew"]:
    off = [abs(r["degrees"] - r[package]) for r in rows if r[package] is not None]
    print(package, "median", round(float(np.median(off)), 3), "90%", round(float(np.quantile(off, 0.9)), 3))
