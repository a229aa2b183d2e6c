"""What holds for every test file: a skipped part is named, and where all are required it is a failure.

`make test` skips parts whose tool or reference recording is absent. Where FOOTROOM_REQUIRE_ALL=1 is set (CI does), a
skip counts as a failure that repeats the reason.
"""

from __future__ import annotations

import os

import pytest

REQUIRE_ALL = os.environ.get("FOOTROOM_REQUIRE_ALL") == "1"


def _reason(report) -> str:
    """Why a test or a file was skipped."""
    return report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)


def _refuse_skip(report) -> None:
    if REQUIRE_ALL and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{report.nodeid} must run here (FOOTROOM_REQUIRE_ALL=1), but: {_reason(report)}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Turn a skipped test into a failed one where all are required."""
    report = yield
    _refuse_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector):
    """The same for a whole file that skips itself while it is read."""
    report = yield
    _refuse_skip(report)
    return report


def pytest_terminal_summary(terminalreporter):
    """List the parts that did not run, each reason once."""
    skipped = terminalreporter.stats.get("skipped", [])
    if not skipped:
        return
    reasons: dict[str, int] = {}
    for report in skipped:
        reason = _reason(report).removeprefix("Skipped: ")
        reasons[reason] = reasons.get(reason, 0) + 1
    terminalreporter.section("parts that did not run here")
    for reason, count in sorted(reasons.items()):
        terminalreporter.line(f"{count} x {reason}")
    terminalreporter.line("Set FOOTROOM_REQUIRE_ALL=1 to make each of them a failure, as CI does.")
