"""Fits what is said of a photograph as it is taken (src/taking/rule.json) and measures what was said.

    pip install numpy==2.4.* scipy
    cargo run --release --example dump_taking -- SEED FOLDER > cases.jsonl     (photographs of make_samples)
    python training/fit_taking.py fit src/taking/rule.json cases.jsonl...
    python training/fit_taking.py report others.jsonl...

For each fault a logistic regression on one or two measures of a mark, each weight pulled to 0 by half its square over
`WIDTH` squared. `report` measures what the program said (build it with the fitted rule first): on photographs of seeds
and typefaces that nothing was fitted on.
"""

import json
import sys

import numpy as np
from scipy.optimize import minimize

WIDTH = 8.0
TALL = 7.0  # px of an x below which reading suffers: benches/trials/taking.md
BLUREST = 12.0  # px: nothing has an edge; as in src/taking/measures.rs
SOFT, SHARP = 0.2, 0.1  # blur beside the height of an x: certainly blurred, certainly not
HURT, UNHURT = 0.1, 0.02  # share of a mark that is burnt out or past the edge
SAYS = {"blurred": "steadier", "dim": "lighter", "glaring": "other_light", "far": "nearer", "cut": "whole"}


def cases(files):
    return [json.loads(line) for file in files for line in open(file, encoding="utf-8")]


def blurred(m):
    b = max(m["blur"], 0.1)
    return [np.log(b), np.log(b / (m["x_height"] or 20.0))]


def dim(m):
    return [np.log(max(m["light"], 0.004)), np.log(max(m["contrast"], 0.004) / max(m["grain"], 0.002))]


def glaring(m):
    return [np.log(m["burnt"] + 0.002)]


def cut(m):
    """Of the edge that lettering and outline come nearest to."""
    return min([margin, np.log(gap + 0.005)] for margin, gap in zip(m["margins"], m["gaps"]))


def examples(all_cases):
    """For each fault pairs of measures and whether it is there."""
    out = {k: [] for k in ("small", "blurred", "dim", "glaring", "cut", "blurred_whole", "dim_whole", "glaring_whole")}
    for c in all_cases:
        fault, hard = c["fault"], c["grade"] == "hard"
        whole = c["whole"]
        clear = fault not in ("dim", "glaring")  # grain and the rim of a reflection have edges of their own
        if whole["blur"] is not None and clear and not (hard and fault == "none"):
            out["blurred_whole"].append(([np.log(max(whole["blur"], 0.1))], fault == "blurred"))
        out["dim_whole"].append((dim(whole), fault == "dim"))
        out["glaring_whole"].append((glaring(whole), fault == "glaring"))
        for m in c["marks"]:
            x, measures, burnt, past = m["true_x"], m["measures"], m["burnt"], m["past"]
            if x is None:
                continue
            if measures["x_height"] and fault in ("none", "far"):
                out["small"].append(([np.log(measures["x_height"])], x < TALL))
            if (measures["blur"] or BLUREST) < BLUREST and clear and not (hard and fault == "none"):
                level = c["level"] / x if fault == "blurred" else 0.0
                if not SHARP < level < SOFT:
                    out["blurred"].append((blurred(measures), level >= SOFT))
            out["dim"].append((dim(measures), fault == "dim"))
            if fault in ("none", "glaring") and not UNHURT < burnt < HURT:
                out["glaring"].append((glaring(measures), burnt >= HURT))
            if fault in ("none", "cut") and not UNHURT < past < HURT:
                out["cut"].append((cut(measures), past >= HURT))
    return out


def fitted(pairs):
    x = np.array([[1.0, *p[0]] for p in pairs])
    y = np.array([p[1] for p in pairs])

    def cost(w):
        z = x @ w
        return np.logaddexp(0, np.where(y, -z, z)).sum() + (w[1:] ** 2).sum() / 2 / WIDTH**2

    w = minimize(cost, np.zeros(x.shape[1])).x
    p = 1 / (1 + np.exp(-x @ w))
    right = ((p >= 0.5) == y).mean()
    return w, f"{len(y)} of which {int(y.sum())} have it; told right {right:.3f}"


def fit(out, files):
    rule = {}
    for name, pairs in examples(cases(files)).items():
        w, told = fitted(pairs)
        rule[name] = {"bias": round(float(w[0]), 3), "weights": [round(float(v), 3) for v in w[1:]]}
        print(f"{name}: {told}")
    with open(out, "w", encoding="utf-8") as file:
        file.write("{\n" + ",\n".join(f' "{k}": {json.dumps(v)}' for k, v in rule.items()) + "\n}\n")


def name(want):
    return want if isinstance(want, str) else next(iter(want))


def said(c):
    asked = c["asked"] + [a for m in c["marks"] for a in m["asked"]]
    return {name(a["want"]) for a in asked}


def report(files):
    all_cases = cases(files)
    print("| planted | photographs | named | anything else said that isn't so |")
    print("|---|---|---|---|")
    named = total = 0
    for fault, want in SAYS.items():
        some = [c for c in all_cases if c["fault"] == fault]
        if fault in ("cut", "glaring"):
            of = {"cut": "past", "glaring": "burnt"}[fault]
            some = [c for c in some if max(c[of], default=0) >= HURT]
        hit = sum(want in said(c) for c in some)
        other = sum(bool(said(c) - {want} - allowed(c)) for c in some)
        named, total = named + hit, total + len(some)
        print(f"| {fault} | {len(some)} | {hit / max(1, len(some)):.3f} | {other} |")
    print(f"| all | {total} | {named / max(1, total):.3f} | |")
    sound = [c for c in all_cases if c["fault"] == "none" and c["grade"] != "hard"]
    large = [c for c in sound if c["smallest"] and not allowed(c)]
    print(f"sharp, letters large enough: {len(large)}, nothing asked {np.mean([not said(c) for c in large]):.3f}")
    small = [c for c in sound if c["smallest"] and c["smallest"] < 0.85 * TALL]
    right = [said(c) == {"nearer"} for c in small]
    print(f"sharp, letters too small: {len(small)}, asked to go nearer and nothing else {np.mean(right):.3f}")
    pairs = [
        (m["true_x"], m["measures"]["x_height"])
        for c in all_cases
        if c["fault"] in ("none", "far")
        for m in c["marks"]
        if m["true_x"] and m["measures"]["x_height"]
    ]
    off = np.array([abs(b / a - 1) for a, b in pairs])
    print(f"letters' height on {len(off)} marks: median off {np.median(off):.3f}, within 15% {np.mean(off <= 0.15):.3f}")
    seconds = [c["seconds"] for c in all_cases if np.prod(c["size"]) > 11e6]
    if seconds:
        print(f"seconds at 12 megapixels: median {np.median(seconds):.2f}, longest {max(seconds):.2f} ({len(seconds)})")
    chances = [(a["chance"], name(a["want"])) for c in all_cases for m in c["marks"] for a in m["asked"]]
    print(f"{len(chances)} things asked of marks, mean chance {np.mean([p for p, _ in chances]):.3f}")


def allowed(c):
    """What is so beside what was planted: letters too small, or a mark cut off, from the start."""
    small = {"nearer"} if c["smallest"] and c["smallest"] < 1.15 * TALL else set()
    return small | ({"whole"} if max(c["past"], default=0) > UNHURT else set())


if __name__ == "__main__":
    if sys.argv[1] == "fit":
        fit(sys.argv[2], sys.argv[3:])
    else:
        report(sys.argv[2:])
