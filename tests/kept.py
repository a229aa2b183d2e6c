"""Keep what takes long to make, and depends on nothing but its parameters, for the other test processes.

Where FOOTROOM_TEST_CACHE names a folder (CI does), the same simulated people sit for `make test` and for the wheel.
Anything that changes in the files they are made by makes new ones.
"""

import functools
import hashlib
import os
import pickle
from pathlib import Path


def kept(*patterns):
    """Decorator for a function of one frozen value; `patterns` name the files beside this one that it depends on."""

    @functools.cache
    def sources():
        digest = hashlib.sha256()
        for path in sorted(found for pattern in patterns for found in Path(__file__).parent.glob(pattern)):
            digest.update(path.read_bytes())
        return digest.hexdigest()

    def decorate(make):
        @functools.wraps(make)
        def remembered(parameters):
            folder = os.environ.get("FOOTROOM_TEST_CACHE")
            if not folder:
                return make(parameters)
            name = hashlib.sha256(f"{make.__qualname__} {sources()} {parameters!r}".encode()).hexdigest()
            path = Path(folder) / name
            if path.exists():
                return pickle.loads(path.read_bytes())
            result = make(parameters)
            own = path.with_suffix(f".{os.getpid()}")
            own.write_bytes(pickle.dumps(result))
            own.replace(path)
            return result

        return remembered

    return decorate
