"""Writes ONNX files: just the part of the format (ONNX IR 6, Protocol Buffers encoding) that a static graph needs.

Written by hand so that the bytes, and with them the checksum, do not depend on the release of a library."""
import struct

import numpy as np

FLOAT, INT64 = 1, 7  # TensorProto.DataType


def _varint(value):
    value &= (1 << 64) - 1
    out = b""
    while value > 127:
        out += bytes([value & 127 | 128])
        value >>= 7
    return out + bytes([value])


def _number(field, value):
    return _varint(field << 3) + _varint(value)


def _bytes(field, value):
    if isinstance(value, str):
        value = value.encode()
    return _varint(field << 3 | 2) + _varint(len(value)) + value


def _attribute(name, value):
    out = _bytes(1, name)
    if isinstance(value, float):
        return out + _varint(2 << 3 | 5) + struct.pack("<f", value) + _number(20, 1)
    if isinstance(value, int):
        return out + _number(3, value) + _number(20, 2)
    if isinstance(value, str):
        return out + _bytes(4, value) + _number(20, 3)
    return out + b"".join(_number(8, int(v)) for v in value) + _number(20, 7)


def _tensor(name, values):
    kind = {"f": FLOAT, "i": INT64}[values.dtype.kind]
    raw = np.ascontiguousarray(values, "<f4" if kind == FLOAT else "<i8").tobytes()
    return b"".join(_number(1, d) for d in values.shape) + _number(2, kind) + _bytes(8, name) + _bytes(9, raw)


def _value_info(name, shape):
    dims = b"".join(_bytes(1, _number(1, int(d))) for d in shape)
    return _bytes(1, name) + _bytes(2, _bytes(1, _number(1, FLOAT) + _bytes(2, dims)))


class Graph:
    """Nodes in the order in which they are to be run. Names of values are the caller's."""

    def __init__(self):
        self.nodes, self.constants, self.inputs, self.outputs = [], [], [], []

    def add(self, op, inputs, outputs, **attributes):
        """The node's list of inputs, which may still be extended until save()."""
        node = (op, list(inputs), list(outputs), attributes)
        self.nodes.append(node)
        return node[1]

    def constant(self, name, values):
        self.constants.append(_tensor(name, values))
        return name

    def save(self, path, producer):
        graph = b""
        for op, inputs, outputs, attributes in self.nodes:
            node = b"".join(_bytes(1, i) for i in inputs) + b"".join(_bytes(2, o) for o in outputs)
            node += _bytes(3, outputs[0]) + _bytes(4, op)
            node += b"".join(_bytes(5, _attribute(k, v)) for k, v in sorted(attributes.items()))
            graph += _bytes(1, node)
        graph += _bytes(2, "detector")
        graph += b"".join(_bytes(5, c) for c in self.constants)
        graph += b"".join(_bytes(11, _value_info(*i)) for i in self.inputs)
        graph += b"".join(_bytes(12, _value_info(*o)) for o in self.outputs)
        opset = _bytes(1, "") + _number(2, 11)
        with open(path, "wb") as file:
            file.write(_number(1, 6) + _bytes(2, producer) + _bytes(7, graph) + _bytes(8, opset))
