"""Writes the network of monograms as ONNX with its weights as bytes, and a reference for the program's test.

    python export_monograms.py MONOGRAMS.pt OUT.onnx REFERENCE.json GLYPHS.npz
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
from monogram_ageing import age
from narrow import bytewise, narrowed

warnings.filterwarnings("ignore")


def main():
    checkpoint, out, reference, glyphs = sys.argv[1:]
    model = net.Monograms().eval()
    model.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in torch.load(checkpoint, map_location="cpu")["weights"].items()})
    torch.onnx.export(model, torch.randn(1, 1, net.PX, net.PX), out, dynamo=False, opset_version=17, input_names=["sign"], output_names=["said"])
    onnx.save(bytewise(narrowed(onnx.load(out))), out)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    # else it reckons with bytes where the program widens them
    options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_DISABLE_ALL
    session = onnxruntime.InferenceSession(out, options)
    faces, m, kept = monograms.Faces(glyphs, "check"), net.matrix().numpy(), []
    for seed, letters in enumerate(("JW", "AKM", "HP", "DV", "ERS", "")):
        torch.manual_seed(seed)
        mask, _ = monograms.design(np.random.default_rng(900 + seed), faces, True, letters)
        x = age(torch.from_numpy(mask).float()[None, None] / 255, torch.tensor([0]), torch.tensor([False]))
        grey = (x[0, 0].numpy() * 255).round().astype(np.uint8)
        y = session.run(None, {"sign": net.levelled(torch.from_numpy(grey).float()[None, None] / 255).numpy()})[0][0]
        z = y[:net.PARTS] @ m.T
        p = np.exp(z - z.max())
        p /= p.sum()
        top = [["".join(monograms.CAPITALS[l] for l in net.SETS[i]) if i < net.NONE else "", round(float(p[i]), 5)] for i in np.argsort(-p)[:3]]
        print(letters, top)
        kept.append({"true": letters, "grey": base64.b64encode(grey.tobytes()).decode(), "top": top, "design": [round(float(v), 4) for v in y[-net.DESIGN:][:8]]})
    json.dump({"made_by": "training/export_monograms.py, onnxruntime " + onnxruntime.__version__, "side": net.PX, "signs": kept}, open(reference, "w"), indent=0)


if __name__ == "__main__":
    main()
