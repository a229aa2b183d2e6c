/* The wire format of a clip, version 1.0, in C99: no allocation, no library but <stdint.h>, <stddef.h>, <string.h>.
 * The words and byte tables are those of ../wire_format.md. */
#ifndef FOOTROOM_WIRE_H
#define FOOTROOM_WIRE_H

#include <stddef.h>
#include <stdint.h>

#define FOOTROOM_MAJOR 1
#define FOOTROOM_MINOR 0

#define FOOTROOM_HELLO 0x01
#define FOOTROOM_STATUS 0x02
#define FOOTROOM_REPLY 0x03
#define FOOTROOM_IDENTIFY 0x41
#define FOOTROOM_START 0x42
#define FOOTROOM_STOP 0x43
#define FOOTROOM_SET_RATE 0x44
#define FOOTROOM_FIRST_COMMAND 0x40
#define FOOTROOM_FIRST_SAMPLES 0x80

#define FOOTROOM_DONE 0
#define FOOTROOM_UNKNOWN_COMMAND 1
#define FOOTROOM_VALUE_REFUSED 2
#define FOOTROOM_IS_CHARGING 3
#define FOOTROOM_SENSOR_FAULT 4
#define FOOTROOM_NOT_NOW 5

#define FOOTROOM_RUNNING 1
#define FOOTROOM_CHARGING 2
#define FOOTROOM_FAULT 4

#define FOOTROOM_NO_BATTERY 0xFF
#define FOOTROOM_NO_TEMPERATURE (-32768)

#define FOOTROOM_LARGEST_FRAME 248
#define FOOTROOM_LARGEST_PACKET 250 /* COBS adds 1, the delimiter 1; one more is added only from 254 bytes on */
#define FOOTROOM_MOST_SAMPLES 20

struct footroom_hello {
    uint8_t identity[6];
    uint8_t firmware[2];
    uint16_t rate_hz;
    uint16_t acc_full_mg;   /* what 32768 counts would mean [mg] */
    uint16_t gyr_full_ddps; /* what 32768 counts would mean [0.1 deg/s] */
    uint8_t delay_100us;    /* delay of the sensor's filter [0.1 ms] */
};

struct footroom_status {
    uint8_t flags;
    uint8_t battery; /* [%], FOOTROOM_NO_BATTERY if not known */
    uint32_t dropped;
    int16_t temperature; /* [0.01 degrees C], FOOTROOM_NO_TEMPERATURE if not known */
};

struct footroom_reply {
    uint8_t command;
    uint8_t token;
    uint8_t result;
    uint16_t value;
    uint32_t tick_us;
};

struct footroom_command {
    uint8_t kind;
    uint8_t token;
    uint16_t value; /* seconds of identify, rate of set rate, else 0 */
};

/* What footroom_get_command found. */
enum footroom_found {
    FOOTROOM_COMMAND_FOUND, /* a command; its kind may be one that is not known here */
    FOOTROOM_NOT_FOR_US,    /* a good frame, but no command: to be ignored */
    FOOTROOM_BAD_FRAME      /* damaged: to be ignored */
};

uint16_t footroom_crc16(const uint8_t *data, size_t size);

/* Each writes a whole frame, check sum included, to `out` and returns its size. `out` has room for
 * FOOTROOM_LARGEST_FRAME bytes. */
size_t footroom_put_hello(uint8_t *out, const struct footroom_hello *hello);
size_t footroom_put_status(uint8_t *out, const struct footroom_status *status);
size_t footroom_put_reply(uint8_t *out, const struct footroom_reply *reply);
/* counts : n * 6 numbers, n from 1 to FOOTROOM_MOST_SAMPLES. */
size_t footroom_put_samples(uint8_t *out, uint16_t sequence, uint32_t tick_us, const int16_t *counts, size_t n);

/* How many samples a frame of at most `payload` bytes holds; 0 below 20 bytes. */
size_t footroom_samples_that_fit(size_t payload);

enum footroom_found footroom_get_command(struct footroom_command *out, const uint8_t *frame, size_t size);

/* COBS. `out` has room for size + size / 254 + 1 bytes; no delimiter is added. */
size_t footroom_cobs_encode(uint8_t *out, const uint8_t *data, size_t size);
/* `out` has room for size bytes and may be `packet`. Returns 0 for what is no COBS packet (or the empty one). */
size_t footroom_cobs_decode(uint8_t *out, const uint8_t *packet, size_t size);

/* Bytes of a serial line, one by one, to frames. Set to zero before the first byte. */
struct footroom_line {
    uint8_t packet[FOOTROOM_LARGEST_PACKET];
    size_t size;
    uint8_t overflow;
};

/* Returns the size of a frame that `byte` completes, which then lies in line->packet until the next call; else 0. */
size_t footroom_line_byte(struct footroom_line *line, uint8_t byte);

#endif
