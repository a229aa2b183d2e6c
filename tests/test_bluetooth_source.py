"""Clips over Bluetooth LE: the real client library against a stand-in of org.bluez on a private D-Bus.

What is seen: several clips at once, drops, refusals, a hidden clip, silence, both orders of the disconnect reply, the
service's death, and each refusal of an adapter. A radio is not: signal and range are the stand-in's own.
"""

import json
import time

import pytest
from bleak.exc import BleakBluetoothNotAvailableError, BleakBluetoothNotAvailableReason, BleakDBusError, BleakError
from footroom.logger.errors import SourceError
from footroom.logger.sources import bluetooth_links
from footroom.logger.sources.base import Answered, Connected, Gone, Heard, Inbox, Silent, StatusHeard, Trouble
from footroom.logger.sources.bluetooth import BluetoothSource
from footroom.logger.sources.bluetooth_problems import adapter_error, missing_library
from footroom.logger.sources.listening import listen, refuse_same_ids
from heard import missing, of, samples, ticks_fit, until
from private_bus import needs_dbus, private_bluez

ONE, TWO, THREE = "020000000000", "020000000001", "020000000002"


CHARGE = {"battery_percent": 64, "battery_per_hour": 0}


@pytest.fixture(scope="module")
def bluez():
    """Three clips in reach, for all tests of this file."""
    with private_bluez("--clips", 3, "--faults", json.dumps(CHARGE).replace(" ", "")) as service:
        yield service


@pytest.fixture
def quick(monkeypatch):
    """Two seconds of silence are shortened here: what is tested is what follows."""
    monkeypatch.setattr(bluetooth_links, "SILENT_S", 1.0)


def connected(events, *clips):
    return {event.clip for event in of(events, Connected)} >= set(clips)


def start(listening, *clips):
    for clip in clips:
        listening.command(clip, "start")
    return until(listening, lambda events: all(samples(events, clip) >= 40 for clip in clips))


@needs_dbus
def test_clips_are_heard_at_once_and_one_that_drops_comes_back(bluez):
    with listen([BluetoothSource()]) as listening:
        events = until(listening, lambda events: connected(events, ONE, TWO, THREE))
        facts = of(events, Connected, ONE)[0].facts
        assert (facts.kind, facts.place, facts.rate_hz) == ("bluetooth", "02:00:00:00:00:00", 200)
        assert facts.signal_dbm in (-50, -51, -52)
        assert not of(events, Heard)  # clips wake up stopped
        events = start(listening, ONE, TWO)
        assert {answer.clip for answer in of(events, Answered)} == {ONE, TWO}
        bluez.tell("drop", 0)
        events += until(listening, lambda events: connected(events, ONE) and samples(events, ONE) >= 40)
        gone = of(events, Gone)
        assert [event.clip for event in gone] == [ONE]
        assert gone[0].reason == "the Bluetooth link to 02:00:00:00:00:00 broke; it is looked for."
        assert gone[0].arrived_s < of(events, Connected, ONE)[-1].arrived_s < gone[0].arrived_s + 3
        frames, other = of(events, Heard, ONE), of(events, Heard, TWO)
        assert missing(other) == 0 and ticks_fit(other, 200)
        assert 0 < missing(frames) < 3 * 200 and ticks_fit(frames, 200)  # it went on meanwhile, without a start
        assert json.loads(bluez.tell("sent", 0))["commands"] == 1


@needs_dbus
@pytest.mark.parametrize("order", ["first", "last"])
def test_only_the_wanted_clip_is_linked_its_battery_read_and_the_link_ended(bluez, order):
    """In both orders of the reply to Disconnect and the signal that the link is down."""
    bluez.tell("order", order)
    before = json.loads(bluez.tell("sent", 0))["sent"]
    with listen([BluetoothSource(wanted=[THREE])]) as listening:
        events = until(listening, lambda events: any(status.dropped is None for status in of(events, StatusHeard)))
        assert {event.clip for event in of(events, Connected)} == {THREE}
        service = [status for status in of(events, StatusHeard) if status.dropped is None]  # a clip's status has it
        assert service[0].battery_percent == 64 and service[0].signal_dbm in (-50, -51, -52)
        assert [facts.battery_percent for facts in listening.clips()] == [64]
        listening.command(THREE, "identify", 3)
        assert of(until(listening, lambda events: of(events, Answered)), Answered)[0].accepted
    assert listening.clips() == []
    assert json.loads(bluez.tell("sent", 0))["sent"] == before


@needs_dbus
def test_refusals_a_hidden_clip_and_a_silent_one(bluez, quick):
    with listen([BluetoothSource()]) as listening:
        until(listening, lambda events: connected(events, ONE, TWO, THREE))
        start(listening, ONE, TWO, THREE)
        for words in (("refuse", 0, 2), ("drop", 0), ("hide", 1), ("mute", 2, 1)):
            bluez.tell(*words)
        events = until(listening, lambda events: len(of(events, Gone)) == 3)
        with pytest.raises(SourceError, match=f"no clip '{TWO}' is heard"):
            listening.command(TWO, "identify")
        bluez.tell("show", 1)
        bluez.tell("mute", 2, 0)
        events += until(
            listening, lambda events: len(listening.clips()) == 3 and all(samples(events, c) for c in (ONE, TWO, THREE))
        )
    told = of(events, Trouble, ONE)
    assert [trouble.reason for trouble in told] == ["no answer"]
    assert f"the clip {ONE} is seen but cannot be connected to (le-connection-abort" in told[0].problem
    assert "bring it nearer" in told[0].problem
    silent = of(events, Silent, THREE)
    assert len(silent) == 1 and 1.0 <= silent[0].silent_s < 3 and not of(events, Silent, TWO)
    reasons = {event.clip: event.reason for event in of(events, Gone)}
    assert set(reasons) == {ONE, TWO, THREE}
    assert reasons[THREE].startswith("nothing came from 02:00:00:00:00:02 for ")
    assert reasons[THREE].endswith(" s; it is connected to again.")


@needs_dbus
def test_adapters_that_cannot_be_used_are_refused(bluez):
    def refusal(adapter=None):
        source = BluetoothSource(adapter)
        with pytest.raises(SourceError) as caught:
            source.open(Inbox())
        source.close()
        source.close()  # twice is allowed
        return caught.value.reason, str(caught.value)

    nowhere = "there is no Bluetooth adapter{} in this computer; {}, or use a serial port."
    assert refusal("hci7") == ("missing", nowhere.format(" hci7", "use hci0"))
    bluez.tell("adapter", "gone")
    assert refusal() == ("missing", nowhere.format("", "plug one in"))
    bluez.tell("adapter", "off")
    assert refusal() == (
        "off",
        "the Bluetooth adapter hci0 is switched off; switch it on with `bluetoothctl power on`.",
    )
    bluez.tell("adapter", "on")


@needs_dbus
def test_a_process_that_is_held_up_and_a_service_that_dies_and_comes_back(bluez, quick):
    source = BluetoothSource(wanted=[ONE])
    with listen([source]) as listening:
        until(listening, lambda events: connected(events, ONE))
        events = start(listening, ONE)
        assert source._links is not None and source._links.loop is not None
        source._links.loop.call_soon_threadsafe(time.sleep, 1.1)  # this process is held up
        events += until(listening, lambda events: samples(events, ONE) >= 250)
        assert not of(events, Gone) and missing(of(events, Heard, ONE)) == 0  # late, but all there
        bluez.kill()
        events = until(listening, lambda events: of(events, Trouble))
        assert [event.clip for event in of(events, Gone)] == [ONE]
        trouble = of(events, Trouble)[0]
        assert trouble.reason == "missing" and "Bluetooth service does not answer; start it" in trouble.problem
        with pytest.raises(SourceError, match="service does not answer; start it .Linux: `sudo systemctl"):
            BluetoothSource().open(Inbox())
        bluez.start()
        events = until(listening, lambda events: connected(events, ONE))
        assert of(events, Connected)[0].facts.running is None  # a new start of everything
        start(listening, ONE)


@needs_dbus
def test_a_clip_of_another_version_and_two_with_one_id(bluez):
    bluez.tell("major", 2, 2)
    bluez.tell("identity", 1, ONE)
    with listen([BluetoothSource()]) as listening:
        told: dict[str, Trouble] = {}
        while len(told) < 2:
            told |= {t.reason: t for t in of(until(listening, lambda events: of(events, Trouble)), Trouble)}
        assert "speaks version 2.0 of the wire format" in told["version"].problem
        assert "02:00:00:00:00:00 and 02:00:00:00:00:01" in told["same id"].problem
        with pytest.raises(SourceError, match="2 clips call themselves .* give one of them an id of its own"):
            refuse_same_ids(listening.clips())


R = BleakBluetoothNotAvailableReason


@pytest.mark.parametrize(
    ("error", "platform", "reason", "words"),
    [
        (BleakBluetoothNotAvailableError("x", R.POWERED_OFF), "darwin", "off", "in the menu bar"),
        (BleakBluetoothNotAvailableError("x", R.POWERED_OFF), "win32", "off", "in the settings"),
        (BleakBluetoothNotAvailableError("x", R.DENIED_BY_USER), "darwin", "refused", "Privacy & Security"),
        (BleakBluetoothNotAvailableError("x", R.DENIED_BY_SYSTEM), "linux", "refused", "group bluetooth"),
        (BleakBluetoothNotAvailableError("x", R.NO_BLE_CENTRAL_ROLE), "win32", "refused", "too old for Bluetooth LE"),
        (BleakBluetoothNotAvailableError("x", R.NO_BLUETOOTH), "win32", "missing", "plug one in"),
        (BleakError("adapter 'hci1' not found"), "linux", "missing", "no Bluetooth adapter hci1 in this computer"),
        (BleakDBusError("org.bluez.Error.NotReady", ["Resource Not Ready"]), "linux", "off", "bluetoothctl power on"),
        (BleakDBusError("org.bluez.Error.Failed", ["x"]), "linux", "refused", "switch it off and on"),
    ],
)
def test_refusals_of_an_adapter_are_worded_for_each_system(error, platform, reason, words):
    """macOS and Windows: from the library's documentation and from memory, not tried there."""
    told = adapter_error("hci1", error, platform=platform)
    assert told.reason == reason and words in str(told) and "hci1" in str(told) and str(told).endswith(".")


def test_a_library_that_is_not_installed_is_named_with_the_remedy():
    told = str(missing_library(ImportError("No module named 'bleak'", name="bleak")))
    assert told == (
        "Bluetooth needs a library that is not installed (bleak); install it with `pip install 'footroom[ble]'`, or "
        "use a serial port."
    )
