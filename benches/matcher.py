"""Places photographs on a ground by OpenCV's SIFT (or ORB) and RANSAC, for `benches/plan.rs`.

A line of JSON in (files, the ground first), a line out: for each other photograph its map on to the
ground (px, row by row) or null; seconds of wall clock and of processor for all, without decoding.

On pictures reduced to the same longer side as Dorso's, with no limit to SIFT's features. RANSAC's 5 px
and the least of 10 likenesses that agree are those of OpenCV's tutorial "Feature Matching + Homography to
find Objects", the ratio of 0.75 that of its tutorial "Feature Matching", which finds more.
"""

import json
import sys
import time

import cv2
import numpy as np

LONGEST = 2000
LEAST = 10


def reduced(picture):
    h, w = picture.shape[:2]
    by = min(1.0, LONGEST / max(h, w))
    if by < 1.0:
        picture = cv2.resize(picture, None, fx=by, fy=by, interpolation=cv2.INTER_AREA)
    return cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), picture.shape[1] / w


def described(finder, picture):
    grey, by = reduced(picture)
    spots, numbers = finder.detectAndCompute(grey, None)
    places = np.float64([s.pt for s in spots]).reshape(-1, 2) / by
    return places, numbers, by


def placed(matcher, ratio, one, ground):
    (p, a, _), (q, b, by) = one, ground
    if a is None or b is None or len(a) < 2 or len(b) < 2:
        return None
    pairs = [m for m in matcher.knnMatch(a, b, k=2) if len(m) == 2]
    good = [m for m, n in pairs if m.distance < ratio * n.distance]
    if len(good) < LEAST:
        return None
    src = p[[m.queryIdx for m in good]]
    dst = q[[m.trainIdx for m in good]]
    h, held = cv2.findHomography(src, dst, cv2.RANSAC, 5.0 / by)
    if h is None or int(held.sum()) < LEAST:
        return None
    return (h / h[2, 2]).ravel().tolist()


def main():
    if sys.argv[1] == "orb":
        finder = cv2.ORB_create(5000)
        matcher = cv2.BFMatcher(cv2.NORM_HAMMING)
    else:
        finder = cv2.SIFT_create()
        matcher = cv2.FlannBasedMatcher({"algorithm": 1, "trees": 5}, {"checks": 50})
    cv2.setRNGSeed(1)
    print(json.dumps(cv2.__version__), flush=True)
    for line in sys.stdin:
        pictures = [cv2.imread(f) for f in json.loads(line)]
        start, spent = time.perf_counter(), time.process_time()
        seen = [described(finder, p) for p in pictures]
        maps = [placed(matcher, 0.75, s, seen[0]) for s in seen[1:]]
        took = time.perf_counter() - start, time.process_time() - spent
        print(json.dumps({"maps": maps, "wall": took[0], "processor": took[1]}), flush=True)


main()
