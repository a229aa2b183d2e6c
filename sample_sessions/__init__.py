"""Sample sessions: two invented pupils, four evenings each, three set-ups an evening; see README.md in this folder."""

from __future__ import annotations

from .build import build

__all__ = ["build"]
