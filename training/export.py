"""Writes a checkpoint as ONNX with f16 weights, and a reference file for the program's test.

    python export.py CHECKPOINT OUT.onnx REFERENCE.json FONTS_DIR [--bytes]

With --bytes the weights are kept as bytes (`narrow.py`). The runtime widens the f16 initialisers again when it loads them. The reference holds a few made
lines of unseen fonts (grey, row by row) with the log-probabilities that onnxruntime finds from the
written file. Made with torch 2.x, onnx 1.x, onnxruntime 1.x, numpy 2.x.
"""

import base64
import json
import sys
import warnings

import numpy as np
import onnx
import onnxruntime
import torch

import ageing
import lines
from narrow import bytewise, narrowed
import texts
from network import Exported, Reader

warnings.filterwarnings("ignore")


def levelled(grey):
    x = grey.astype(np.float32)
    return ((x - x.mean()) / (x.std(ddof=1) + 1e-3))[None, None]


def main():
    checkpoint, out, reference, fonts, *how = sys.argv[1:]
    model = Reader.of(torch.load(checkpoint, map_location="cpu", weights_only=False)["weights"]).eval()
    torch.onnx.export(Exported(model).eval(), torch.randn(1, 1, 48, 320), out, dynamo=False, opset_version=17, input_names=["line"],
                      output_names=["signs"], dynamic_axes={"line": {3: "width"}, "signs": {0: "steps"}})
    graph = narrowed(onnx.load(out))
    if how == ["--bytes"]:
        graph = bytewise(graph)
    onnx.save(graph, out)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    if how == ["--bytes"]:  # else it reckons with bytes where the program widens them
        options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_DISABLE_ALL
    session = onnxruntime.InferenceSession(out, options)
    r, torch_seed = np.random.default_rng(99), 3
    made, faces = [], lines.Fonts(fonts, "unseen")
    torch.manual_seed(torch_seed)
    for kind in ("print", "script", "made hand", "typewriter", "stencil"):
        one = None
        while one is None or not 6 < len(one[2]) < 16:
            one = lines.make(r, faces, kind, unseen=True)
        x = ageing.age(torch.from_numpy(one[0])[None], torch.tensor([one[1]]), torch.tensor([0.25]))[0, 0].numpy()
        grey = np.clip(128 + 45 * x, 0, 255).round().astype(np.uint8)
        y = session.run(None, {"line": levelled(grey)})[0]
        way = y.argmax(1)
        keep = np.concatenate([[True], way[1:] != way[:-1]]) & (way > 0)
        best = "".join(texts.SIGNS[c - 1] for c in way[keep])
        print(kind, repr(one[2]), repr(best))
        made.append({"class": kind, "true": one[2], "best": best, "width": int(grey.shape[1]), "grey": base64.b64encode(grey.tobytes()).decode(),
                     "steps": int(y.shape[0]), "top": [[int(c), round(float(y[s, c]), 4)] for s, c in enumerate(way)]})
    json.dump({"made_by": "training/export.py, onnxruntime " + onnxruntime.__version__, "height": 48, "lines": made}, open(reference, "w"), indent=0)


if __name__ == "__main__":
    main()
