"""Clips over Bluetooth LE: the real client library against a stand-in of org.bluez on a private D-Bus.

What is seen: several clips at once, drops, refusals, a hidden clip, silence, both orders of the disconnect reply, the
service's death, and each refusal of an adapter. A radio is not: signal and range are the stand-in's own.
"""

import json

import pytest
from bleak.exc import BleakBluetoothNotAvailableError, BleakBluetoothNotAvailableReason, BleakDBusError, BleakError
from footroom.logger.errors import SourceError
from footroom.logger.sources import bluetooth_links
from footroom.logger.sources.base import Answered, Connected, Gone, Heard, Inbox, Silent, StatusHeard, Trouble
from footroom.logger.sources.bluetooth import BluetoothSource
from footroom.logger.sources.bluetooth_problems import adapter_error, missing_library
from footroom.logger.sources.listening import listen, refuse_same_ids
from heard import missing, of, samples, ticks_fit, until
from private_bus import needs_dbus, private_bluez, private_bus

ONE, TWO, THREE = "020000000000", "020000000001", "020000000002"


def connected(events, *clips):
    return {event.clip for event in of(events, Connected)} >= set(clips)


def start(listening, *clips):
    for clip in clips:
        listening.command(clip, "start")
    return until(listening, lambda events: all(samples(events, clip) >= 40 for clip in clips))


@needs_dbus
@pytest.mark.parametrize("order", [[], ["--reply-first"]], ids=["signal first", "reply first"])
def test_two_clips_at_once_one_drops_and_comes_back(order):
    with private_bluez("--clips", 2, *order) as bluez, listen([BluetoothSource()]) as listening:
        events = until(listening, lambda events: connected(events, ONE, TWO))
        facts = of(events, Connected, ONE)[0].facts
        assert (facts.kind, facts.place, facts.rate_hz) == ("bluetooth", "02:00:00:00:00:00", 200)
        assert facts.signal_dbm in (-50, -51, -52)
        events = start(listening, ONE, TWO)
        assert {answer.clip for answer in of(events, Answered)} == {ONE, TWO}
        bluez.tell("drop", 0)
        events += until(listening, lambda events: of(events, Gone))
        events += until(listening, lambda events: connected(events, ONE) and samples(events, ONE) >= 40)
        gone = of(events, Gone)
        assert [event.clip for event in gone] == [ONE]
        assert gone[0].reason == "the Bluetooth link to 02:00:00:00:00:00 broke; it is looked for."
        assert gone[0].arrived_s < of(events, Connected, ONE)[-1].arrived_s < gone[0].arrived_s + 3
        frames, other = of(events, Heard, ONE), of(events, Heard, TWO)
        assert missing(other) == 0 and ticks_fit(other, 200)
        assert 0 < missing(frames) < 3 * 200 and ticks_fit(frames, 200)  # it went on meanwhile, without a start
        told = json.loads(bluez.tell("sent", 0))
        assert told["commands"] == 1


@needs_dbus
def test_refusals_a_hidden_clip_and_a_silent_one():
    with private_bluez("--clips", 3) as bluez, listen([BluetoothSource()]) as listening:
        until(listening, lambda events: connected(events, ONE, TWO, THREE))
        start(listening, ONE, TWO, THREE)
        for words in (("refuse", 0, 2), ("drop", 0), ("hide", 1), ("mute", 2, 1)):
            bluez.tell(*words)
        events = until(listening, lambda events: len(of(events, Gone)) >= 2)
        with pytest.raises(SourceError, match=f"no clip '{TWO}' is heard"):
            listening.command(TWO, "identify")
        bluez.tell("show", 1)
        events += until(listening, lambda events: of(events, Gone, THREE))
        bluez.tell("mute", 2, 0)
        events += until(
            listening, lambda events: len(listening.clips()) == 3 and all(samples(events, c) for c in (ONE, TWO, THREE))
        )
    told = of(events, Trouble)
    assert [(trouble.clip, trouble.reason) for trouble in told] == [(ONE, "no answer")]
    assert f"the clip {ONE} is seen but cannot be connected to (le-connection-abort" in told[0].problem
    assert "bring it nearer" in told[0].problem
    silent = of(events, Silent)
    assert [event.clip for event in silent] == [THREE] and 2.0 <= silent[0].silent_s < 3.5
    reasons = {event.clip: event.reason for event in of(events, Gone)}
    assert set(reasons) == {ONE, TWO, THREE}
    assert reasons[THREE] == "nothing came from 02:00:00:00:00:02 for 2 s; it is connected to again."


@needs_dbus
def test_the_service_dies_and_comes_back(monkeypatch):
    monkeypatch.setattr(bluetooth_links, "SILENT_S", 0.7)  # the full 2 s are waited for above
    with private_bluez("--clips", 1) as bluez, listen([BluetoothSource()]) as listening:
        until(listening, lambda events: connected(events, ONE))
        start(listening, ONE)
        bluez.kill()
        events = until(listening, lambda events: of(events, Trouble))
        assert [event.clip for event in of(events, Gone)] == [ONE]
        trouble = of(events, Trouble)[0]
        assert trouble.reason == "missing" and "Bluetooth service does not answer; start it" in trouble.problem
        bluez.start()
        events = until(listening, lambda events: connected(events, ONE))
        assert of(events, Connected)[0].facts.running is None  # a new start of everything
        start(listening, ONE)


def faults(**values):
    return ("--faults", json.dumps(values).replace(" ", ""))


@needs_dbus
def test_only_the_wanted_clip_is_connected_to_and_the_battery_service_is_read():
    charge = faults(battery_percent=64, battery_per_hour=0)
    with private_bluez("--clips", 2, *charge) as bluez, listen([BluetoothSource(wanted=[TWO])]) as listening:
        events = until(listening, lambda events: any(status.dropped is None for status in of(events, StatusHeard)))
        assert {event.clip for event in of(events, Connected)} == {TWO}
        service = [status for status in of(events, StatusHeard) if status.dropped is None]  # a clip's status has it
        assert service[0].battery_percent == 64 and service[0].signal_dbm in (-50, -51, -52)
        assert [facts.battery_percent for facts in listening.clips()] == [64]
        listening.command(TWO, "identify", 3)
        assert of(until(listening, lambda events: of(events, Answered)), Answered)[0].accepted
        assert json.loads(bluez.tell("sent", 0))["sent"] == 0


@needs_dbus
def test_a_clip_of_another_version_is_refused():
    with private_bluez(*faults(major=2)), listen([BluetoothSource()]) as listening:
        trouble = of(until(listening, lambda events: of(events, Trouble)), Trouble)[0]
        assert trouble.reason == "version" and "speaks version 2.0 of the wire format" in trouble.problem
        assert listening.clips() == []


@needs_dbus
def test_two_clips_with_one_id_are_named_by_their_addresses():
    with private_bluez("--clips", 2, "--same-ids"), listen([BluetoothSource()]) as listening:
        trouble = of(until(listening, lambda events: of(events, Trouble)), Trouble)[0]
        assert trouble.reason == "same id" and "02:00:00:00:00:00 and 02:00:00:00:00:01" in trouble.problem
        with pytest.raises(SourceError, match="2 clips call themselves .* give one of them an id of its own"):
            refuse_same_ids(listening.clips())


@needs_dbus
def test_adapters_that_cannot_be_used_are_refused():
    def refusal(adapter=None):
        source = BluetoothSource(adapter)
        with pytest.raises(SourceError) as caught:
            source.open(Inbox())
        source.close()
        source.close()  # twice is allowed
        return caught.value.reason, str(caught.value)

    with private_bus():  # nobody is called org.bluez
        assert refusal() == (
            "missing",
            "the system's Bluetooth service does not answer; start it (Linux: `sudo systemctl start bluetooth`), or "
            "use a serial port.",
        )
    with private_bluez("--no-adapter"):
        assert refusal() == (
            "missing",
            "there is no Bluetooth adapter in this computer; plug one in, or use a serial port.",
        )
    with private_bluez("--off"):
        assert refusal() == (
            "off",
            "the Bluetooth adapter is switched off; switch it on with `bluetoothctl power on`.",
        )
    with private_bluez():
        assert refusal("hci7") == (
            "missing",
            "there is no Bluetooth adapter hci7 in this computer; plug one in, or use a serial port.",
        )


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
        (BleakDBusError("org.bluez.Error.NotReady", ["x"]), "linux", "refused", "switch it off and on"),
    ],
)
def test_refusals_of_an_adapter_are_worded_for_each_system(error, platform, reason, words):
    """macOS and Windows: from the library's documentation and from memory, not tried there."""
    told = adapter_error("hci1", error, platform)
    assert told.reason == reason and words in str(told) and "hci1" in str(told) and str(told).endswith(".")


def test_a_library_that_is_not_installed_is_named_with_the_remedy():
    told = str(missing_library(ImportError("No module named 'bleak'", name="bleak")))
    assert told == (
        "Bluetooth needs a library that is not installed (bleak); install it with `pip install 'footroom[ble]'`, or "
        "use a serial port."
    )
