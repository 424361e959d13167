"""Tables that slow libraries compute once and every later start reads back.

Importing the property, units and sampling libraries takes seconds; their tables are small.  The
first start computes them and keeps them in the environment that the service runs in; a table is
found again only under the same fingerprint (library version, parameters, format).
"""

from __future__ import annotations

import logging
import os
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

logger = logging.getLogger(__name__)

Arrays = dict[str, NDArray[Any]]

ENVIRONMENT_VARIABLE = "SERVICE_PREPARED_DIRECTORY"


def prepared_directory() -> Path:
    """Where prepared tables are kept: named by the environment, else beside the interpreter."""
    given = os.environ.get(ENVIRONMENT_VARIABLE)
    return Path(given) if given else _beside_interpreter()


def _beside_interpreter() -> Path:
    return Path(sys.prefix) / "var" / "split-system-readings"


def prepared_arrays(name: str, fingerprint: str, build: Callable[[], Mapping[str, NDArray[Any]]]) -> Arrays:
    """Read a table back, or build and keep it.

    A table that the named directory lacks is looked for beside the interpreter too, where an image
    carries them all (and nothing that could build one).

    Parameters
    ----------
    name : str
        Name of the table, a plain word.
    fingerprint : str
        Changes whenever the content would; becomes part of the file's name.
    build : callable
        Computes the arrays, keyed by name.  It is not called where a readable table exists.

    Returns
    -------
    dict of arrays
        What ``build`` returned, now or earlier.  Where the directory cannot be written the table
        is simply built again at the next start; a file that cannot be read is built again.

    Raises
    ------
    Exception
        Only what ``build`` raises.
    """
    file_name = f"{name}-{fingerprint}.npz"
    places = dict.fromkeys((prepared_directory(), _beside_interpreter()))
    kept = (_kept(place / file_name) for place in places)
    arrays = next((found for found in kept if found is not None), None)
    if arrays is None:
        arrays = {key: np.asarray(value) for key, value in build().items()}
        _keep(prepared_directory() / file_name, arrays)
    return arrays


def _kept(path: Path) -> Arrays | None:
    if not path.is_file():
        return None
    try:
        # Nothing is unpickled: a table that someone else wrote cannot run code here.  The file is
        # opened here, as the library leaves it open where it cannot read it.
        with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
            return {key: stored[key] for key in stored.files}
    except Exception as error:  # a damaged archive raises from half a dozen libraries' classes
        logger.warning("rebuilding %s, which could not be read: %s", path.name, error)
        return None


def _keep(path: Path, arrays: Arrays) -> None:
    """Write under another name and rename, so that no reader ever sees half a file."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(file, allow_pickle=False, **arrays)
            # A temporary file is private to its owner; an image is built by one user and run by
            # another, who has to be able to read the table.
            Path(temporary).chmod(0o644)
            Path(temporary).replace(path)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        logger.info("%s is not kept (%s); the next start builds it again", path.name, error)
