"""How likely it is that a note began at a moment, and how far from it: a small fitted network.

Two layers of leaky rectifiers over what ``band_levels`` sees of a moment.  Its weights are fitted
on made takes only, by ``python -m tests.benchmarks.fit_onsets``, which writes
``onset_weights.py``: each column of a layer as whole numbers up to 127 times a scale.
"""

import base64
from functools import cache
from typing import TYPE_CHECKING

from groove.take.band_levels import HOP_FRAMES
from groove.take.onset_weights import LAYERS

if TYPE_CHECKING:
    from groove.arrays import Floats

    Layer = tuple[Floats, Floats]

_LEAK = 0.01
_FARTHEST_HOPS = 3.0  # it was fitted on moments no farther from an onset


def onset_chances(rows: "Floats") -> "tuple[Floats, Floats]":
    """Return for each row the chance that an onset is near, 0 to 1, and its distance in samples.

    ``rows`` are what a ``Scene`` gives; the distance is positive where the onset comes later.
    """
    import numpy

    values: Floats = rows
    layers = _layers()
    for number, (weights, bias) in enumerate(layers):
        values = values @ weights + bias
        if number < len(layers) - 1:
            values = numpy.maximum(values, numpy.float32(_LEAK) * values)
    chances: Floats = (1 / (1 + numpy.exp(-values[:, 0]))).astype(numpy.float32)
    hops: Floats = values[:, 1].clip(-_FARTHEST_HOPS, _FARTHEST_HOPS)
    return chances, hops * numpy.float32(HOP_FRAMES)


@cache
def _layers() -> "list[Layer]":
    """Return weights and bias of each layer, unpacked."""
    import numpy

    layers = []
    for inputs, outputs, steps, scales in LAYERS:
        whole = numpy.frombuffer(base64.b85decode(steps), numpy.int8)
        scale = numpy.frombuffer(base64.b85decode(scales), "<f4").reshape(2, outputs)
        weights = whole.reshape(inputs, outputs).astype(numpy.float32) * scale[0]
        layers.append((weights, scale[1].astype(numpy.float32)))
    return layers
