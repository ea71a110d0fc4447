"""Types of what :mod:`evenwave` offers; the words stand with the functions."""

from os import PathLike
from typing import Any, Optional, Union

import numpy as np
from numpy.typing import ArrayLike, NDArray

def measure(
    sound: Union[str, PathLike[str], ArrayLike],
    rate: Optional[float] = None,
    *,
    a4: Optional[float] = None,
    temperament: Optional[str] = None,
    instrument: Optional[str] = None,
    channel: Optional[int] = None,
    names: Optional[str] = None,
) -> list[dict[str, Any]]: ...
def frames(
    sound: Union[str, PathLike[str], ArrayLike],
    rate: Optional[float] = None,
    *,
    a4: Optional[float] = None,
    temperament: Optional[str] = None,
    instrument: Optional[str] = None,
    channel: Optional[int] = None,
    names: Optional[str] = None,
) -> dict[str, NDArray[np.float64]]: ...
def write_melody(path: Union[str, PathLike[str]], frames: dict[str, NDArray[np.float64]]) -> None: ...
