"""Keeps the large weights of an ONNX network as f16; a runtime widens them again when it loads them.

    python narrow.py NETWORK.onnx [OUT.onnx]
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


if __name__ == "__main__":
    onnx.save(narrowed(onnx.load(sys.argv[1])), sys.argv[-1])
