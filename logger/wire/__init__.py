"""What clip and logger say to each other, as bytes: `firmware_notes/wire_format.md` is the written form of this.

frame = decode(encode(Start(token=1)))
reader = StreamReader()          # a serial line
for frame in reader.feed(port.read(4096)): ...
"""

from .codec import decode, encode, samples_that_fit
from .frames import (
    MAJOR,
    MINOR,
    SEQUENCE_SPAN,
    TICK_SPAN_US,
    Command,
    Frame,
    Hello,
    Identify,
    OtherVersion,
    Reply,
    Result,
    Samples,
    SetRate,
    Start,
    Status,
    Stop,
    Unknown,
)
from .stream import StreamReader, delimited
from .text import TextHeader, TextReader, TextSamples, looks_like_text

__all__ = [
    "MAJOR",
    "MINOR",
    "SEQUENCE_SPAN",
    "TICK_SPAN_US",
    "Command",
    "Frame",
    "Hello",
    "Identify",
    "OtherVersion",
    "Reply",
    "Result",
    "Samples",
    "SetRate",
    "Start",
    "Status",
    "Stop",
    "StreamReader",
    "TextHeader",
    "TextReader",
    "TextSamples",
    "Unknown",
    "decode",
    "delimited",
    "encode",
    "looks_like_text",
    "samples_that_fit",
]
