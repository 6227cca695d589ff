# The peers of benches/filters.rs: the same filters by OpenCV and the same pages' skew by jdeskew and
# deskew, in the same run. Called by the bench:
#   python peers.py speed PICTURE.png          ->  JSON {"filter": seconds, ...}
#   python peers.py skew FILE...               ->  JSON {"jdeskew": [...], "deskew": [...]} degrees
# Packages that can't be imported are left out, and named on standard error.
import json
import sys
import time


def best(work, rounds=5):
    """Least seconds of several rounds."""
    took = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return min(took)


def speed(path):
    import cv2
    import numpy as np

    grey = cv2.imread(path, cv2.IMREAD_GRAYSCALE)
    colour = cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR)
    h, w = grey.shape
    small = grey[: h // 2, : w // 2].copy()
    mask = cv2.threshold(grey, 100, 255, cv2.THRESH_BINARY_INV)[1]
    frame = np.float32([[0, 0], [w, 0], [w, h], [0, h]])
    corners = np.float32([[40, 30], [w - 60, 10], [w - 20, h - 50], [10, h - 20]])
    plane = cv2.getPerspectiveTransform(corners, frame)
    turn = cv2.getRotationMatrix2D((w / 2, h / 2), 3.0, 1.0)
    clahe = cv2.createCLAHE(3.0, (8, 8))
    return {
        "Otsu's threshold": best(lambda: cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)),
        "local contrast, 8 x 8 tiles": best(lambda: clahe.apply(grey)),
        "bilateral, 3 x 3": best(lambda: cv2.bilateralFilter(grey, 3, 20, 1.0)),
        "pieces of ink": best(lambda: cv2.connectedComponentsWithStats(mask, connectivity=8)),
        "twice as large, Lanczos": best(lambda: cv2.resize(small, None, fx=2, fy=2, interpolation=cv2.INTER_LANCZOS4)),
        "turned by 3 degrees": best(lambda: cv2.warpAffine(grey, turn, (w, h), flags=cv2.INTER_LINEAR)),
        "flattened by four corners": best(
            lambda: cv2.warpPerspective(colour, plane, (w, h), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        ),
    }


def skew(files):
    import cv2

    grey = [cv2.imread(f, cv2.IMREAD_GRAYSCALE) for f in files]
    out = {}
    try:
        from jdeskew.estimator import get_angle

        out["jdeskew"] = [float(get_angle(g, angle_max=45)) for g in grey]
    except ImportError as e:
        print(f"peers: {e}", file=sys.stderr)
    try:
        from deskew import determine_skew

        found = [determine_skew(g, min_angle=-45, max_angle=45) for g in grey]
        out["deskew"] = [None if a is None else float(a) for a in found]
    except ImportError as e:
        print(f"peers: {e}", file=sys.stderr)
    return out


what, *rest = sys.argv[1:]
print(json.dumps(speed(rest[0]) if what == "speed" else skew(rest)))
