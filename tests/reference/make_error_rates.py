"""Reference values for character and word error rates and for calibration figures.

Made with jiwer 4.0.0, rapidfuzz 3.14.6 and scikit-learn 1.9.1 (PyPI):
    pip install jiwer rapidfuzz scikit-learn
    python tests/reference/make_error_rates.py > tests/reference/error_rates.json
"""
import json
import random

import jiwer
from rapidfuzz.distance import Levenshtein
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss

random.seed(1911)
PAIRS = [
    ("CARVER & GILDER", "CARYER & GILDFR"),
    ("T. RAVENSBY & SON", "T. RAVENS8Y & S0N"),
    ("31 PEVERELL STREET, ROTHCASTER", "31 PEVERELL STRET ROTHCASTER."),
    ("Mrs Farrowby, Front Parlour", "Mrs Farrowhy Frout Parlour"),
    ("looking-glass and picture-frame maker", "1ooking glass aud pictureframe maker"),
    ("£4 10s", "84 IOs"),
    ("No. 214", "No. 214"),
    ("Élise Thévenot, élève", "Elise Thevenot, eleve"),
]
LETTERS = "ABCDEFG abcdefg.,&'"
for _ in range(24):
    truth = "".join(random.choice(LETTERS) for _ in range(random.randint(3, 40)))
    truth = " ".join(truth.split()) or "A"
    read = list(truth)
    for _ in range(random.randint(0, 8)):
        at = random.randrange(len(read) + 1)
        what = random.random()
        if what < 0.4 and at < len(read):
            read[at] = random.choice(LETTERS)
        elif what < 0.7:
            read.insert(at, random.choice(LETTERS))
        elif at < len(read):
            del read[at]
    PAIRS.append((truth, " ".join("".join(read).split())))

rows = []
for truth, read in PAIRS:
    rows.append(
        {
            "truth": truth,
            "read": read,
            "distance": Levenshtein.distance(truth, read),
            "cer": jiwer.cer(truth, read),
            "wer": jiwer.wer(truth, read),
        }
    )
pooled = {
    "cer": jiwer.cer([t for t, _ in PAIRS], [r for _, r in PAIRS]),
    "wer": jiwer.wer([t for t, _ in PAIRS], [r for _, r in PAIRS]),
}

# Seven places: no chance falls on the edge of a bin, where conventions differ.
chances = [round(random.random(), 7) for _ in range(200)]
right = [random.random() < c * 0.8 + 0.05 for c in chances]
share, stated = calibration_curve(right, chances, n_bins=10, strategy="uniform")
counts = [0] * 10
for c in chances:
    counts[min(int(c * 10), 9)] += 1
filled = [n for n in counts if n]
ece = sum(n / len(chances) * abs(a - b) for n, a, b in zip(filled, share, stated))
print(
    json.dumps(
        {
            "pairs": rows,
            "pooled": pooled,
            "chances": chances,
            "right": right,
            "brier": brier_score_loss(right, chances),
            "ece": ece,
        },
        ensure_ascii=False,
        indent=1,
    )
)
