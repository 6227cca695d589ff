"""Writes the network of monograms as ONNX with its weights as bytes, what it is believed by, and a reference for the program's test.

    python export_monograms.py MONOGRAMS.pt FITTED.json GLYPHS.npz OUT_DIR REFERENCE.json [DESIGNS]

FITTED.json is what `monogram_table.py` fitted; OUT_DIR gets network.onnx and believed.json. DESIGNS: so many of the unseen faces and manners are read with
the weights as bytes and as they were trained, to tell what bytes cost.
"""

import base64
import json
import sys
import warnings

import numpy as np
import onnx
import onnxruntime
import torch

import monogram_network as net
import monograms
from monogram_ageing import age, turned_back, upright
from monogram_table import Reader, held_out, likeliest_turns
from narrow import bytewise, narrowed

warnings.filterwarnings("ignore")
M = net.matrix().numpy()


def session_of(out):
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    # else it reckons with bytes where the program widens them
    options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_DISABLE_ALL
    session = onnxruntime.InferenceSession(out, options)
    return lambda grey: torch.from_numpy(session.run(None, {"sign": net.levelled(grey).numpy()})[0])


def told(numbers, temperature):
    z = numbers[0, :net.PARTS].numpy() @ M.T / temperature
    p = np.exp(z - z.max())
    p /= p.sum()
    name = lambda i: "".join(monograms.CAPITALS[l] for l in net.SETS[i]) if i < net.NONE else ""
    return [[name(i), round(float(p[i]), 5)] for i in np.argsort(-p)[:3]]


def signs(run, glyphs, fit):
    """Pictures with what the network says: upright ones, and one that lies on its side."""
    faces = monograms.Faces(glyphs, "check")
    for seed, (letters, lies) in enumerate((("JW", 0), ("AKM", 0), ("HP", 0), ("DV", 0), ("ERS", 0), ("", 0), ("KB", 1.7))):
        torch.manual_seed(seed)
        mask, _, _ = monograms.design(np.random.default_rng(900 + seed), faces, True, letters)
        x, _ = age(torch.from_numpy(mask).float()[None, None] / 255, torch.tensor([0]), torch.tensor([float(lies)]))
        grey = (x[0, 0].numpy() * 255).round().astype(np.uint8)
        x = torch.from_numpy(grey).float()[None, None] / 255
        y = run(x)
        turns, weights = likeliest_turns(y, fit["turn"])
        turned = told(run(turned_back(x, turns[:, 0])), fit["temperature"])
        print(letters, told(y, fit["temperature"]), turns, weights, turned)
        yield {"true": letters, "grey": base64.b64encode(grey.tobytes()).decode(), "top": told(y, fit["temperature"]), "turns": (turns[0] * 12 / np.pi).round().int().tolist(),
               "weights": [round(float(w), 4) for w in weights[0]], "turned": turned, "design": [round(float(v), 4) for v in y[0, -net.DESIGN:][:8]]}


def cost(run, reader, glyphs, count):
    masks, labels, _, texts = held_out((glyphs, "check", count, 700))
    n, sets = np.array([len(t) for t in texts]), torch.from_numpy(labels[:, :1]).long()
    for severity in (0, 1):
        torch.manual_seed(severity)
        grey, _ = age(torch.from_numpy(masks).float()[:, None] / 255, torch.full((count,), severity), upright(count, torch.device("cpu")))
        for name, numbers in (("bytes", torch.cat([run(g) for g in grey.split(1)])), ("as trained", reader.numbers(grey))):
            z = net.scores(numbers, reader.m)
            rank = (z > z.gather(1, sets)).sum(1).numpy()
            print("severity", severity, name, " ".join(f"{k} letters {np.mean(rank[n == k] == 0):.3f} / {np.mean(rank[n == k] < 3):.3f}" for k in (2, 3)), flush=True)


def main():
    checkpoint, fitted, glyphs, out, reference, *count = sys.argv[1:]
    fit, reader = json.load(open(fitted)), Reader(checkpoint, torch.device("cpu"))
    file = f"{out}/network.onnx"
    torch.onnx.export(reader.model, torch.randn(1, 1, net.PX, net.PX), file, dynamo=False, opset_version=17, input_names=["sign"], output_names=["said"])
    onnx.save(bytewise(narrowed(onnx.load(file))), file)
    believed = {k: fit[k] for k in ("temperature", "turn")}
    drawn = {"drawn_by": monograms.DRAWN_BY.round(6).tolist(), "lengths": monograms.LENGTHS[1:4]}
    json.dump({**believed, **drawn}, open(f"{out}/believed.json", "w"), indent=1)
    run = session_of(file)
    json.dump({"made_by": "training/export_monograms.py, onnxruntime " + onnxruntime.__version__, "side": net.PX, "signs": list(signs(run, glyphs, fit))}, open(reference, "w"), indent=0)
    if count:
        cost(run, reader, glyphs, int(count[0]))


if __name__ == "__main__":
    main()
