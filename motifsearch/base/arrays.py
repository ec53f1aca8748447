"""Names of the array types: the dtype is in the name, shapes stand in the docstrings.

A batch of N designs is held population-last: the index of the design is the last axis.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

U8: TypeAlias = npt.NDArray[np.uint8]
I8: TypeAlias = npt.NDArray[np.int8]
I16: TypeAlias = npt.NDArray[np.int16]
I64: TypeAlias = npt.NDArray[np.int64]
F32: TypeAlias = npt.NDArray[np.float32]
F64: TypeAlias = npt.NDArray[np.float64]
Bool: TypeAlias = npt.NDArray[np.bool_]
