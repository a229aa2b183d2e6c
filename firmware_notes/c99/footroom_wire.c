#include "footroom_wire.h"

static uint8_t *put16(uint8_t *at, uint16_t value)
{
    at[0] = (uint8_t)(value >> 8);
    at[1] = (uint8_t)(value & 0xFF);
    return at + 2;
}

static uint8_t *put32(uint8_t *at, uint32_t value)
{
    at = put16(at, (uint16_t)(value >> 16));
    return put16(at, (uint16_t)(value & 0xFFFF));
}

/* CRC-16/CCITT-FALSE, four bits at a time: a table of 32 bytes instead of 512. */
uint16_t footroom_crc16(const uint8_t *data, size_t size)
{
    static const uint16_t table[16] = {
        0x0000, 0x1021, 0x2042, 0x3063, 0x4084, 0x50A5, 0x60C6, 0x70E7,
        0x8108, 0x9129, 0xA14A, 0xB16B, 0xC18C, 0xD1AD, 0xE1CE, 0xF1EF,
    };
    uint16_t crc = 0xFFFF;
    size_t i;
    for (i = 0; i < size; i++) {
        crc = (uint16_t)((crc << 4) ^ table[(crc >> 12) ^ (data[i] >> 4)]);
        crc = (uint16_t)((crc << 4) ^ table[(crc >> 12) ^ (data[i] & 0x0F)]);
    }
    return crc;
}

/* Adds the check sum to what stands between `frame` and `end`; the size of the whole frame. */
static size_t finish(uint8_t *frame, uint8_t *end)
{
    put16(end, footroom_crc16(frame, (size_t)(end - frame)));
    return (size_t)(end - frame) + 2;
}

size_t footroom_put_hello(uint8_t *out, const struct footroom_hello *hello)
{
    uint8_t *at = out;
    size_t i;
    *at++ = FOOTROOM_HELLO;
    *at++ = FOOTROOM_MAJOR;
    *at++ = FOOTROOM_MINOR;
    for (i = 0; i < sizeof hello->identity; i++) {
        *at++ = hello->identity[i];
    }
    *at++ = hello->firmware[0];
    *at++ = hello->firmware[1];
    at = put16(at, hello->rate_hz);
    at = put16(at, hello->acc_full_mg);
    at = put16(at, hello->gyr_full_ddps);
    *at++ = hello->delay_100us;
    return finish(out, at);
}

size_t footroom_put_status(uint8_t *out, const struct footroom_status *status)
{
    uint8_t *at = out;
    *at++ = FOOTROOM_STATUS;
    *at++ = status->flags;
    *at++ = status->battery;
    at = put32(at, status->dropped);
    at = put16(at, (uint16_t)status->temperature);
    return finish(out, at);
}

size_t footroom_put_reply(uint8_t *out, const struct footroom_reply *reply)
{
    uint8_t *at = out;
    *at++ = FOOTROOM_REPLY;
    *at++ = reply->command;
    *at++ = reply->token;
    *at++ = reply->result;
    at = put16(at, reply->value);
    at = put32(at, reply->tick_us);
    return finish(out, at);
}

size_t footroom_put_samples(uint8_t *out, uint16_t sequence, uint32_t tick_us, const int16_t *counts, size_t n)
{
    uint8_t *at = put16(out, (uint16_t)(0x8000u | sequence));
    size_t i;
    at = put32(at, tick_us);
    for (i = 0; i < n * 6; i++) {
        at = put16(at, (uint16_t)counts[i]);
    }
    return finish(out, at);
}

size_t footroom_samples_that_fit(size_t payload)
{
    if (payload > FOOTROOM_LARGEST_FRAME) {
        payload = FOOTROOM_LARGEST_FRAME;
    }
    return payload < 20 ? 0 : (payload - 8) / 12;
}

enum footroom_found footroom_get_command(struct footroom_command *out, const uint8_t *frame, size_t size)
{
    size_t content;
    if (size < 3 || size > FOOTROOM_LARGEST_FRAME || footroom_crc16(frame, size) != 0) {
        return FOOTROOM_BAD_FRAME;
    }
    if (frame[0] < FOOTROOM_FIRST_COMMAND || frame[0] >= FOOTROOM_FIRST_SAMPLES) {
        return FOOTROOM_NOT_FOR_US;
    }
    content = size - 3;
    if (content < 1 || (frame[0] == FOOTROOM_IDENTIFY && content < 2) || (frame[0] == FOOTROOM_SET_RATE && content < 3)) {
        return FOOTROOM_BAD_FRAME;
    }
    /* Further bytes are a newer logger's: not read. */
    out->kind = frame[0];
    out->token = frame[1];
    out->value = 0;
    if (frame[0] == FOOTROOM_IDENTIFY) {
        out->value = frame[2];
    } else if (frame[0] == FOOTROOM_SET_RATE) {
        out->value = (uint16_t)((frame[2] << 8) | frame[3]);
    }
    return FOOTROOM_COMMAND_FOUND;
}

size_t footroom_cobs_encode(uint8_t *out, const uint8_t *data, size_t size)
{
    size_t code = 0; /* where the length of the present group stands */
    size_t at = 1;
    size_t i;
    out[0] = 1;
    for (i = 0; i < size; i++) {
        if (out[code] == 0xFF) { /* a group of 254 bytes without a zero is full, and more follows */
            code = at++;
            out[code] = 1;
        }
        if (data[i] == 0) {
            code = at++;
            out[code] = 1;
        } else {
            out[at++] = data[i];
            out[code]++;
        }
    }
    return at;
}

size_t footroom_cobs_decode(uint8_t *out, const uint8_t *packet, size_t size)
{
    size_t from = 0;
    size_t to = 0;
    while (from < size) {
        uint8_t code = packet[from++];
        size_t i;
        if (code == 0 || (size_t)(code - 1) > size - from) {
            return 0;
        }
        for (i = 1; i < code; i++) {
            if (packet[from] == 0) {
                return 0;
            }
            out[to++] = packet[from++];
        }
        if (code != 0xFF && from < size) {
            out[to++] = 0;
        }
    }
    return to;
}

size_t footroom_line_byte(struct footroom_line *line, uint8_t byte)
{
    size_t size;
    if (byte != 0) {
        if (line->size == sizeof line->packet) {
            line->overflow = 1;
        } else {
            line->packet[line->size++] = byte;
        }
        return 0;
    }
    size = line->overflow ? 0 : footroom_cobs_decode(line->packet, line->packet, line->size);
    line->size = 0;
    line->overflow = 0;
    return size;
}
