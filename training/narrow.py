"""Keeps the large weights of an ONNX network as f16, or as bytes; a runtime widens them again when it loads them.

    python narrow.py [--bytes] NETWORK.onnx [OUT.onnx]

As bytes each row of a weight (each output of a layer) has a scale of its own.
"""

import sys

import numpy as np
import onnx
from onnx import numpy_helper


def narrowed(graph):
    for i, t in enumerate(graph.graph.initializer):
        if t.data_type == onnx.TensorProto.FLOAT and np.prod(t.dims) > 2000:
            narrow = numpy_helper.from_array(numpy_helper.to_array(t).astype(np.float16), t.name + "_f16")
            cast = onnx.helper.make_node("Cast", [t.name + "_f16"], [t.name], to=onnx.TensorProto.FLOAT, name=t.name + "_wide")
            graph.graph.node.insert(0, cast)
            graph.graph.initializer[i].CopyFrom(narrow)
    onnx.checker.check_model(graph)
    return graph


def bytewise(graph):
    """A network that `narrowed` wrote, its f16 weights as bytes, scales beside them."""
    kept = [t for t in graph.graph.initializer if t.data_type != onnx.TensorProto.FLOAT16]
    nodes = [n for n in graph.graph.node if not (n.op_type == "Cast" and n.input[0].endswith("_f16"))]
    widened = []
    for t in graph.graph.initializer:
        if t.data_type != onnx.TensorProto.FLOAT16:
            continue
        name, whole = t.name.removesuffix("_f16"), numpy_helper.to_array(t).astype(np.float32)
        flat = whole.reshape(-1, whole.shape[-1]) if whole.ndim == 3 else whole  # ways and outputs of an LSTM layer side by side
        axis = 1 if whole.ndim == 2 and whole.shape[0] > 2 else 0
        others = tuple(i for i in range(flat.ndim) if i != axis)
        scale = np.maximum(np.abs(flat).max(others) / 127, 1e-9).astype(np.float32)
        shaped = scale.reshape([-1 if i == axis else 1 for i in range(flat.ndim)])
        kept += [numpy_helper.from_array(np.round(flat / shaped).astype(np.int8), name + "_i8"), numpy_helper.from_array(scale, name + "_scale")]
        wide = name if flat is whole else name + "_flat"
        widened.append(onnx.helper.make_node("DequantizeLinear", [name + "_i8", name + "_scale"], [wide], axis=axis, name=name + "_wide"))
        if flat is not whole:
            kept.append(numpy_helper.from_array(np.array(whole.shape, np.int64), name + "_shape"))
            widened.append(onnx.helper.make_node("Reshape", [wide, name + "_shape"], [name], name=name + "_shaped"))
    del graph.graph.initializer[:], graph.graph.node[:]
    graph.graph.initializer.extend(kept)
    graph.graph.node.extend(widened + nodes)
    onnx.checker.check_model(graph)
    return graph


if __name__ == "__main__":
    change = bytewise if sys.argv[1] == "--bytes" else narrowed
    onnx.save(change(onnx.load(sys.argv[-2] if len(sys.argv) > 2 + (change is bytewise) else sys.argv[-1])), sys.argv[-1])
