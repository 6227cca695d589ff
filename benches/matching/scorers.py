"""Scores of the rapidfuzz library on questions and rows from standard input, for `cargo bench --bench matching`.

In: JSON with `rows` (texts), `names` (texts), `questions` (each `whole` and `lines`) and `truth` (row number for
each question). Out: JSON with, for each scorer, how often the true row stands first and milliseconds a question.
Texts come folded; nothing is processed here. One thread, as `process.extract` works.
Asked with `stated` (pairs of a chance and whether it came true) alone, it answers with `brier` and `calibration_error`
(ten bins of equal width) by scikit-learn.
"""

import json
import sys
import time

asked = json.load(sys.stdin)
if "stated" in asked:
    import numpy
    from sklearn.calibration import calibration_curve
    from sklearn.metrics import brier_score_loss

    chances, right = zip(*asked["stated"])
    came_true, said = calibration_curve(right, chances, n_bins=10)
    filled, _ = numpy.histogram(chances, bins=numpy.linspace(0, 1, 11))
    parts = filled[filled > 0] / len(chances)
    error = float((parts * abs(came_true - said)).sum())
    json.dump({"brier": brier_score_loss(right, chances), "calibration_error": error}, sys.stdout)
    sys.exit()

from rapidfuzz import __version__, distance, fuzz, process

SCORERS = {
    "WRatio": fuzz.WRatio,
    "token_set_ratio": fuzz.token_set_ratio,
    "token_sort_ratio": fuzz.token_sort_ratio,
    "token_ratio": fuzz.token_ratio,
    "partial_token_ratio": fuzz.partial_token_ratio,
    "ratio": fuzz.ratio,
    "partial_ratio": fuzz.partial_ratio,
    "Jaro-Winkler": distance.JaroWinkler.normalized_similarity,
    "Levenshtein": distance.Levenshtein.normalized_similarity,
}

rows, names = asked["rows"], asked["names"]
timed_only = asked.get("timed_only")
out = {"version": __version__, "scorers": {}}
for name, scorer in SCORERS.items():
    if timed_only and name not in timed_only:
        continue
    ways = {"whole": (rows, False), "lines": (names, True)}
    for way, (choices, by_line) in ways.items():
        if by_line and (timed_only or name not in ("Jaro-Winkler", "Levenshtein", "ratio", "WRatio")):
            continue
        first, began = 0, time.perf_counter()
        for question, truth in zip(asked["questions"], asked["truth"]):
            texts = question["lines"] if by_line else [question["whole"]]
            best = (-1.0, -1)
            for text in texts:
                found = process.extract(text, choices, scorer=scorer, limit=20)
                if found and found[0][1] > best[0]:
                    best = (found[0][1], found[0][2])
            first += best[1] == truth
        seconds = time.perf_counter() - began
        count = max(len(asked["questions"]), 1)
        out["scorers"][f"{name}, {way}"] = {"first": first / count, "ms": seconds * 1e3 / count}
json.dump(out, sys.stdout)
