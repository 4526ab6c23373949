"""The one type of numbers in the mathematics."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
