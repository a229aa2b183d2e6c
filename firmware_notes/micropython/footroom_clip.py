"""What a clip does with its sensor and its link. The board gives four functions; the rest is the same on any board.

board.send(frame) -> bool     a notification, or COBS and a zero byte on a serial line; False when there is no link
                              or no room; must not wait
board.set_rate(wanted)        sets the sensor to the nearest rate it can do, with a filter that fits; gives (the rate in
                              force now, rounded [Hz]; that filter's delay [0.1 ms]), or (0, 0) when the sensor does
                              not answer
board.blink(seconds)          for so many seconds from now, whatever an earlier call said; 0 ends it
board.tick_us() -> int        the microsecond counter, 32 bit
"""

import footroom_wire as wire

LONGEST_FRAME_PER_S = 20  # a frame spans at most 1/20 s, so that a live view is not late
SEQUENCE_MASK = 0x7FFF
ALONE_S = 300  # a clip that nobody hears for so long stops, to spare its battery
LOWEST_HZ = 100
HIGHEST_HZ = 400


class Clip:
    """A clip as it wakes up: stopped.

    hello : [identity, firmware, rate_hz, acc_full_mg, gyr_full_ddps, delay_100us], with the rate that the sensor is set
    to, 200 or its nearest. payload : bytes that one frame may have (20 to 244 on Bluetooth, 248 on a serial line); set
    it again whenever it is negotiated anew.
    """

    def __init__(self, board, hello, payload):
        self.board = board
        self.hello = list(hello)
        self.payload = payload
        self.flags = 0
        self.sequence = 0  # of the next sample, 15 bits
        self.dropped = 0
        self.unheard_s = 0
        self.first_tick = 0
        self.counts = []  # of the samples that wait

    @property
    def running(self):
        """Whether samples are sent."""
        return bool(self.flags & wire.RUNNING)

    def sample(self, tick_us, counts):
        """One sample, as soon as it is read: when it was taken, acceleration x y z, angular rate x y z.

        Counts are -32768 to 32767. Does nothing while the clip is stopped.
        """
        if not self.running:
            return
        if not self.counts:
            self.first_tick = tick_us
        self.counts.extend(counts)
        if len(self.counts) >= 6 * self._samples_per_frame():
            self._flush()

    def missed(self, samples):
        """So many samples were lost before they could be read (the sensor's own buffer ran over)."""
        if not self.running:
            return
        self._flush()  # nothing may be missing within a frame
        self.sequence = (self.sequence + samples) & SEQUENCE_MASK
        self.dropped += samples

    def second(self, battery, temperature, charging, fault):
        """Once a second, and at once when a link comes up or a charger comes or goes: hello and status go out.

        battery : 0 to 100, or wire.NO_BATTERY. fault : the sensor does not answer.
        """
        self.flags &= wire.RUNNING
        self.flags |= (wire.CHARGING if charging else 0) | (wire.FAULT if fault else 0)
        if self.running and (charging or fault):  # never charged while worn
            self._stop()
        heard = self.board.send(wire.hello(*self.hello))
        self.unheard_s = 0 if heard else self.unheard_s + 1
        if self.running and self.unheard_s >= ALONE_S:
            self._stop()
        self.board.send(wire.status(self.flags, battery, self.dropped & 0xFFFFFFFF, temperature))

    def receive(self, frame):
        """A frame that came from the logger. Hand over first, by `sample`, what the sensor's own buffer holds."""
        command = wire.command(frame)
        if command == "bad" or command == "other":
            return
        kind, token, argument = command
        result, value = wire.DONE, 0
        if kind == wire.IDENTIFY:
            self.board.blink(argument)
        elif kind == wire.START:
            result = self._start()
        elif kind == wire.STOP:
            self._stop()
        elif kind == wire.SET_RATE:
            result = self._set_rate(argument)
            value = self.hello[2]
        else:
            result = wire.UNKNOWN_COMMAND
        self.board.send(wire.reply(kind, token, result, value, self.board.tick_us()))
        if kind == wire.SET_RATE and result == wire.DONE:
            self.board.send(wire.hello(*self.hello))

    def _samples_per_frame(self):
        return max(1, min(wire.samples_that_fit(self.payload), self.hello[2] // LONGEST_FRAME_PER_S))

    def _flush(self):
        """Send the samples that wait. What cannot be sent is lost, but counted."""
        n = len(self.counts) // 6
        if n == 0:
            return
        frame = wire.samples(self.sequence, self.first_tick, self.counts)
        if len(frame) > self.payload or not self.board.send(frame):
            self.dropped += n
        self.sequence = (self.sequence + n) & SEQUENCE_MASK
        self.counts = []

    def _stop(self):
        self._flush()
        self.flags &= ~wire.RUNNING

    def _start(self):
        if self.flags & wire.CHARGING:
            return wire.IS_CHARGING
        if self.flags & wire.FAULT:
            return wire.SENSOR_FAULT
        if not self.running:
            self.sequence = 0
            self.counts = []
            self.dropped = 0
            self.flags |= wire.RUNNING
        return wire.DONE

    def _set_rate(self, wanted_hz):
        if self.running:
            return wire.NOT_NOW
        if wanted_hz < LOWEST_HZ or wanted_hz > HIGHEST_HZ:
            return wire.VALUE_REFUSED
        rate, delay = self.board.set_rate(wanted_hz)
        if rate == 0:
            return wire.SENSOR_FAULT
        self.hello[2] = rate
        self.hello[5] = delay
        return wire.DONE
