"""Footroom: the room a drummer's joints have left while practising, compared honestly between set-ups."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("footroom")
except PackageNotFoundError:  # running from a source tree that was never installed
    __version__ = "0+unknown"
