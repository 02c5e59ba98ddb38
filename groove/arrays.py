"""The arrays of numbers that rooms share, each by one name.

For annotations alone: a module imports them under ``TYPE_CHECKING``, so that no command loads
numpy for their sake.
"""

from numpy import bool_, float32, float64, intp
from numpy.typing import NDArray

Samples = NDArray[float32]
"""Sound, full scale 1.0: a number a frame, or a row a frame with a column a channel."""

Floats = NDArray[float32]
"""What is made of sound in bulk (levels, spectra, likenesses): half the memory of `Doubles`."""

Doubles = NDArray[float64]
"""What is counted exactly: seconds, costs, offsets."""

Places = NDArray[intp]
"""Where something stands in another array."""

Flags = NDArray[bool_]
"""What holds, an answer a place."""
