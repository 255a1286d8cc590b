#!/usr/bin/python3
"""Converts the subject detector from a TensorFlow.js graph model to an ONNX file for OpenCV 4.6's dnn module.

    convert.py MODEL.json OUT.onnx

The graph keeps its arithmetic; only its layout changes. TensorFlow wants colour last for convolutions and this graph,
itself translated from a colour-first one, wraps each of them in transpositions. Here every value stays colour first and
remembers in which order its axes are meant, so the transpositions cost nothing. What depends on constants alone is
computed here. An operation or an attribute that is not known ends the program: nothing is passed over."""
import sys

import numpy as np

import graph_model
import onnx_file

# The graph's outputs by what they are: per stride (the cell size in input pixels) one row per cell, of 80 class
# scores (0..1) and of 4 x 11 distance bins (left, top, right, bottom; before the softmax).
OUTPUTS = {
    "Identity": "scores8", "Identity_1": "scores16", "Identity_2": "scores32",
    "Identity_3": "distances8", "Identity_4": "distances16", "Identity_5": "distances32",
}
COLOUR_LAST = (0, 2, 3, 1)  # `order` of a value that TensorFlow sees colour last and we store colour first


class Value:
    """A value that is known only when the graph runs. TensorFlow's axis i is axis order[i] of what is stored."""

    def __init__(self, name, stored, order, margins=None, margin_value=0.0):
        self.name = name
        self.stored = tuple(int(d) for d in stored)
        self.order = tuple(order)
        self.margins = margins  # per stored axis (before, after): a Pad that the next node takes over
        self.margin_value = margin_value

    @property
    def shape(self):
        return tuple(self.stored[axis] for axis in self.order)


class Converter:
    def __init__(self, nodes, weights):
        self.nodes, self.weights = nodes, weights
        self.graph = onnx_file.Graph()
        self.done = {}  # results by node name: a list of Value or numpy array
        self.readers = {}  # how many nodes read an output
        for node in nodes.values():
            for name in node.inputs:
                self.readers[name] = self.readers.get(name, 0) + 1
        self.open_convolutions = {}  # value name -> inputs of its node, where a bias can still join
        self.count = 0

    # --- walking ---
    def result(self, reference):
        name, _, port = reference.partition(":")
        self.convert(name)
        return self.done[name][int(port or 0)]

    def convert(self, wanted):
        """Depth first without recursion: the graph is deeper than Python's stack."""
        waiting = [wanted]
        while waiting:
            name = waiting[-1]
            if name in self.done:
                waiting.pop()
                continue
            node = self.nodes[name]
            missing = [i.partition(":")[0] for i in node.inputs if i.partition(":")[0] not in self.done]
            if missing:
                waiting += missing
                continue
            results = self.run(node)
            self.done[name] = results if isinstance(results, list) else [results]

    def run(self, node):
        if node.op == "Const":
            return self.weights[node.name]
        inputs = [self.result(i) for i in node.inputs]
        method = getattr(self, "op_" + node.op, None)
        if method is None:
            raise SystemExit(f"convert: {node.name}: the operation {node.op} is not known")
        return method(node, *inputs)

    # --- helpers ---
    @staticmethod
    def need(condition, node, what):
        if not condition:
            raise SystemExit(f"convert: {node.name} ({node.op}): {what}")

    def fresh(self):
        self.count += 1
        return f"v{self.count}"

    def emit(self, op, inputs, stored, order, **attributes):
        out = Value(self.fresh(), stored, order)
        self.graph.add(op, inputs, [out.name], **attributes)
        return out

    def constant(self, values):
        return self.graph.constant(self.fresh(), values)

    def plain(self, node, value):
        self.need(isinstance(value, Value), node, "works on a constant")
        self.need(value.margins is None, node, "follows a Pad that only convolution and pooling take over")
        return value

    def window(self, node, value, margin_is_neutral):
        """(value stored colour first, [top, left, bottom, right]) for what slides a window over the picture."""
        self.need(value.order == COLOUR_LAST and node["data_format"] == "NHWC", node, "wants another layout")
        self.need(node["padding"] == "VALID", node, "wants padding of its own")
        if value.margins is None:
            return value, [0, 0, 0, 0]
        self.need(margin_is_neutral(value.margin_value) and value.margins[:2] == [(0, 0), (0, 0)], node,
                  "follows a Pad that it can't take over")
        (top, bottom), (left, right) = value.margins[2:]
        return value, [top, left, bottom, right]

    # --- operations ---
    def op_Placeholder(self, node):
        sizes = (1, 3, 416, 416)
        self.graph.inputs.append(("image", sizes))
        return Value("image", sizes, (0, 1, 2, 3))

    def op_Identity(self, node, value):
        return value

    def op_Transpose(self, node, value, axes):
        if isinstance(value, np.ndarray):
            return np.transpose(value, axes)
        return Value(value.name, value.stored, [value.order[a] for a in axes], value.margins, value.margin_value)

    def op_Pad(self, node, value, margins, fill=0.0):
        value = self.plain(node, value)
        by_axis = [None] * 4
        for axis, (before, after) in enumerate(margins):
            by_axis[value.order[axis]] = (int(before), int(after))
        if not any(a or b for a, b in by_axis):
            return value
        return Value(value.name, value.stored, value.order, by_axis, float(fill))

    op_PadV2 = op_Pad

    def op_Conv2D(self, node, value, kernel):
        self.need(isinstance(kernel, np.ndarray), node, "has a kernel that is no constant")
        self.need(node["dilations"] == [1, 1, 1, 1], node, "is dilated")
        value, pads = self.window(node, value, lambda fill: fill == 0)
        strides = node["strides"][1:3]
        kernel = np.transpose(kernel, (3, 2, 0, 1))  # out, in per group, height, width
        channels, size = value.stored[1], kernel.shape[2:]
        self.need(channels % kernel.shape[1] == 0, node, "has a kernel of another depth")
        sides = [(value.stored[2 + i] + pads[i] + pads[i + 2] - size[i]) // strides[i] + 1 for i in (0, 1)]
        out = Value(self.fresh(), (1, kernel.shape[0], *sides), COLOUR_LAST)
        self.open_convolutions[out.name] = self.graph.add(
            "Conv", [value.name, self.constant(kernel)], [out.name], kernel_shape=size, strides=strides, pads=pads,
            dilations=[1, 1], group=channels // kernel.shape[1])
        return out

    def op_MaxPool(self, node, value):
        value, pads = self.window(node, value, lambda fill: fill <= np.finfo(np.float32).min)
        size, strides = node["ksize"][1:3], node["strides"][1:3]
        sides = [(value.stored[2 + i] + pads[i] + pads[i + 2] - size[i]) // strides[i] + 1 for i in (0, 1)]
        return self.emit("MaxPool", [value.name], (*value.stored[:2], *sides), COLOUR_LAST, kernel_shape=size,
                         strides=strides, pads=pads)

    def op_Add(self, node, a, b):
        if isinstance(a, np.ndarray) and isinstance(b, np.ndarray):
            return a + b
        if isinstance(a, np.ndarray):
            a, b = b, a
        a = self.plain(node, a)
        if isinstance(b, np.ndarray):
            return self.bias(node, a, b)
        b = self.plain(node, b)
        self.need(a.order == b.order and a.stored == b.stored, node, "adds values of different layouts")
        return self.emit("Add", [a.name, b.name], a.stored, a.order)

    op_AddV2 = op_Add

    def bias(self, node, value, constant):
        self.need(value.name in self.open_convolutions and self.readers[node.inputs[0]] == 1 and
                  value.order == COLOUR_LAST and constant.shape == (value.stored[1],), node,
                  "adds a constant to something else than a convolution")
        self.open_convolutions.pop(value.name).append(self.constant(constant))
        return value

    def op_LeakyRelu(self, node, value):
        value = self.plain(node, value)
        return self.emit("LeakyRelu", [value.name], value.stored, value.order, alpha=node["alpha"])

    def op_Sigmoid(self, node, value):
        value = self.plain(node, value)
        return self.emit("Sigmoid", [value.name], value.stored, value.order)

    def op_ResizeBilinear(self, node, value, size):
        value = self.plain(node, value)
        self.need(value.order == COLOUR_LAST, node, "wants another layout")
        self.need(node["half_pixel_centers"] and not node["align_corners"], node, "samples in another way")
        stored = (*value.stored[:2], int(size[0]), int(size[1]))
        scales = np.array([new / old for new, old in zip(stored, value.stored)], np.float32)
        return self.emit("Resize", [value.name, self.constant(np.zeros(0, np.float32)), self.constant(scales)], stored,
                         value.order, mode="linear", coordinate_transformation_mode="half_pixel")

    def op_ConcatV2(self, node, *inputs):
        values, axis = [self.plain(node, v) for v in inputs[:-1]], int(inputs[-1])
        order = values[0].order
        self.need(all(v.order == order for v in values), node, "joins values of different layouts")
        axis = order[axis % len(order)]
        stored = list(values[0].stored)
        stored[axis] = sum(v.stored[axis] for v in values)
        return self.emit("Concat", [v.name for v in values], stored, order, axis=axis)

    def op_SplitV(self, node, value, sizes, axis):
        sizes = [int(s) for s in sizes]
        if isinstance(value, np.ndarray):  # kernels of grouped convolutions
            return np.split(value, np.cumsum(sizes)[:-1], int(axis))
        value = self.plain(node, value)
        axis = value.order[int(axis) % len(value.order)]
        outs = []
        for size in sizes:
            stored = list(value.stored)
            stored[axis] = size
            outs.append(Value(self.fresh(), stored, value.order))
        self.graph.add("Split", [value.name], [o.name for o in outs], axis=axis, split=sizes)
        return outs

    def op_Reshape(self, node, value, shape):
        value = self.plain(node, value)
        self.need(value.order == tuple(range(len(value.order))), node, "reshapes a transposed value")
        sizes = [int(s) for s in shape]
        if -1 in sizes:
            sizes[sizes.index(-1)] = int(np.prod(value.stored)) // -int(np.prod(sizes))
        self.need(np.prod(sizes) == np.prod(value.stored), node, "changes the number of values")
        return self.emit("Reshape", [value.name, self.constant(np.array(sizes, np.int64))], sizes, range(len(sizes)))

    def op_SparseToDense(self, node, places, shape, values, rest):
        self.need(all(isinstance(i, np.ndarray) for i in (places, shape, values, rest)), node, "is no constant")
        out = np.full(shape, rest, rest.dtype)
        if places.size:
            out[tuple(places.reshape(-1, out.ndim).T)] = values
        return out

    # --- the end ---
    def output(self, node_name, name):
        value = self.plain(self.nodes[node_name], self.result(node_name))
        if value.order == tuple(range(len(value.order))):
            self.graph.add("Identity", [value.name], [name])
        else:
            self.graph.add("Transpose", [value.name], [name], perm=value.order)
        self.graph.outputs.append((name, value.shape))


def main():
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    try:
        nodes, weights = graph_model.read(sys.argv[1])
    except (OSError, ValueError, KeyError) as error:
        raise SystemExit(f"convert: {sys.argv[1]}: {error}")
    converter = Converter(nodes, weights)
    for node_name, name in OUTPUTS.items():
        if node_name not in nodes:
            raise SystemExit(f"convert: the model has no output {node_name}")
        converter.output(node_name, name)
    converter.graph.save(sys.argv[2], "burstsieve convert-detector 1")


if __name__ == "__main__":
    main()
