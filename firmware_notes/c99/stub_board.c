/* A board without a board: an invented sensor, and a script on standard input instead of time and link. For each line
 * one line of answer, the same as ../micropython/stub_board.py: the frames, in hexadecimal, that it led to; - for none. */
#include "footroom_clip.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MOST_BYTES 4096
#define MOST_NUMBERS 256

static uint32_t now_us;
static int linked = 1;
static int dead;
static int said;
static struct footroom_clip clip;
static struct footroom_line line_in;

static void say_bytes(const uint8_t *data, size_t size)
{
    size_t i;
    if (said++) {
        putchar(' ');
    }
    for (i = 0; i < size; i++) {
        printf("%02x", (unsigned)data[i]);
    }
    if (size == 0) {
        putchar('-');
    }
}

static int board_send(void *context, const uint8_t *frame, size_t size)
{
    (void)context;
    if (linked) {
        say_bytes(frame, size);
    }
    return linked;
}

static uint16_t board_set_rate(void *context, uint16_t wanted_hz, uint8_t *delay_100us)
{
    static const uint16_t rates[] = {100, 200, 400};
    uint16_t nearest = rates[0];
    size_t i;
    (void)context;
    for (i = 0; i < sizeof rates / sizeof rates[0]; i++) {
        if (abs((int)rates[i] - (int)wanted_hz) < abs((int)nearest - (int)wanted_hz)) {
            nearest = rates[i];
        }
    }
    if (dead) {
        return 0;
    }
    *delay_100us = (uint8_t)(5000 / nearest); /* half a sample */
    return nearest;
}

static void board_blink(void *context, uint8_t seconds)
{
    (void)context;
    printf("%sblink:%u", said++ ? " " : "", (unsigned)seconds);
}

static uint32_t board_tick(void *context)
{
    (void)context;
    return now_us;
}

/* Sample `number` of the invented sensor: six counts, different each time, extremes among them. */
static void imu(uint32_t number, int16_t counts[6])
{
    uint32_t state = (number * 40503u + 12345u) & 0xFFFFu;
    int i;
    for (i = 0; i < 6; i++) {
        state = (state * 25173u + 13849u) & 0xFFFFu;
        counts[i] = (int16_t)(state >= 32768u ? (int32_t)state - 65536 : (int32_t)state);
    }
}

static size_t unhex(uint8_t *out, const char *text)
{
    size_t n = 0;
    unsigned byte;
    while (n < MOST_BYTES && sscanf(text, "%2x", &byte) == 1) {
        out[n++] = (uint8_t)byte;
        text += 2;
    }
    return n;
}

static size_t numbers(long long *out, char *text)
{
    size_t n = 0;
    char *end;
    for (;;) {
        long long value = strtoll(text, &end, 10);
        if (end == text || n == MOST_NUMBERS) {
            return n;
        }
        out[n++] = value;
        text = end;
    }
}

static void new_clip(const uint8_t *identity, size_t payload)
{
    static const struct footroom_board board = {NULL, board_send, board_set_rate, board_blink, board_tick};
    struct footroom_hello hello = {{0}, {1, 2}, 200, 16000, 20000, 25};
    memcpy(hello.identity, identity, 6);
    now_us = 0;
    linked = 1;
    dead = 0;
    footroom_clip_begin(&clip, &board, &hello, payload);
}

static void say_command(const uint8_t *data, size_t size)
{
    struct footroom_command command;
    enum footroom_found found = footroom_get_command(&command, data, size);
    if (found == FOOTROOM_COMMAND_FOUND) {
        printf("%u %u %u", (unsigned)command.kind, (unsigned)command.token, (unsigned)command.value);
    } else {
        fputs(found == FOOTROOM_NOT_FOR_US ? "other" : "bad", stdout);
    }
    said++;
}

static void say_hello(const uint8_t *identity, const long long *n)
{
    struct footroom_hello hello;
    uint8_t frame[FOOTROOM_LARGEST_FRAME];
    memcpy(hello.identity, identity, 6);
    hello.firmware[0] = (uint8_t)n[0];
    hello.firmware[1] = (uint8_t)n[1];
    hello.rate_hz = (uint16_t)n[2];
    hello.acc_full_mg = (uint16_t)n[3];
    hello.gyr_full_ddps = (uint16_t)n[4];
    hello.delay_100us = (uint8_t)n[5];
    say_bytes(frame, footroom_put_hello(frame, &hello));
}

/* A line whose first word after the name is hexadecimal; 0 if it is another line. */
static int with_bytes(const char *name, const uint8_t *data, size_t size, const long long *n)
{
    static uint8_t out[MOST_BYTES + MOST_BYTES / 254 + 1];
    size_t i;
    if (strcmp(name, "crc") == 0) {
        printf("%04x", (unsigned)footroom_crc16(data, size));
        said++;
    } else if (strcmp(name, "cobs") == 0) {
        say_bytes(out, footroom_cobs_encode(out, data, size));
    } else if (strcmp(name, "uncobs") == 0) {
        say_bytes(out, footroom_cobs_decode(out, data, size));
    } else if (strcmp(name, "command") == 0) {
        say_command(data, size);
    } else if (strcmp(name, "hello") == 0) {
        say_hello(data, n);
    } else if (strcmp(name, "clip") == 0) {
        new_clip(data, (size_t)n[0]);
    } else if (strcmp(name, "receive") == 0) {
        footroom_clip_receive(&clip, data, size);
    } else if (strcmp(name, "line") == 0) {
        for (i = 0; i < size; i++) {
            size_t whole = footroom_line_byte(&line_in, data[i]);
            if (whole != 0) {
                footroom_clip_receive(&clip, line_in.packet, whole);
            }
        }
    } else {
        return 0;
    }
    return 1;
}

static void say_status(const long long *n)
{
    struct footroom_status status;
    uint8_t frame[FOOTROOM_LARGEST_FRAME];
    status.flags = (uint8_t)n[0];
    status.battery = (uint8_t)n[1];
    status.dropped = (uint32_t)n[2];
    status.temperature = (int16_t)n[3];
    say_bytes(frame, footroom_put_status(frame, &status));
}

static void say_reply(const long long *n)
{
    struct footroom_reply reply;
    uint8_t frame[FOOTROOM_LARGEST_FRAME];
    reply.command = (uint8_t)n[0];
    reply.token = (uint8_t)n[1];
    reply.result = (uint8_t)n[2];
    reply.value = (uint16_t)n[3];
    reply.tick_us = (uint32_t)n[4];
    say_bytes(frame, footroom_put_reply(frame, &reply));
}

static void say_samples(const long long *n, size_t count)
{
    int16_t counts[FOOTROOM_MOST_SAMPLES * 6];
    uint8_t frame[FOOTROOM_LARGEST_FRAME];
    size_t i;
    for (i = 0; i < count - 2; i++) {
        counts[i] = (int16_t)n[i + 2];
    }
    say_bytes(frame, footroom_put_samples(frame, (uint16_t)n[0], (uint32_t)n[1], counts, (count - 2) / 6));
}

static void with_numbers(const char *name, const long long *n, size_t count)
{
    int16_t counts[6];
    long long i;
    if (strcmp(name, "status") == 0) {
        say_status(n);
    } else if (strcmp(name, "reply") == 0) {
        say_reply(n);
    } else if (strcmp(name, "samples") == 0) {
        say_samples(n, count);
    } else if (strcmp(name, "tick") == 0) {
        now_us = (uint32_t)n[0];
    } else if (strcmp(name, "link") == 0) {
        linked = n[0] == 1;
    } else if (strcmp(name, "payload") == 0) {
        clip.payload = (size_t)n[0];
    } else if (strcmp(name, "dead") == 0) {
        dead = n[0] == 1;
    } else if (strcmp(name, "take") == 0) { /* first sample, how many, first tick, step */
        for (i = 0; i < n[1]; i++) {
            imu((uint32_t)(n[0] + i), counts);
            footroom_clip_sample(&clip, (uint32_t)(n[2] + i * n[3]), counts);
        }
    } else if (strcmp(name, "missed") == 0) {
        footroom_clip_missed(&clip, (uint16_t)n[0]);
    } else if (strcmp(name, "second") == 0) {
        footroom_clip_second(&clip, (uint8_t)n[0], (int16_t)n[1], n[2] == 1, n[3] == 1);
    } else {
        fputs("unknown line", stdout);
        said++;
    }
}

int main(void)
{
    static char text[2 * MOST_BYTES + 256];
    static uint8_t data[MOST_BYTES];
    long long n[MOST_NUMBERS];
    while (fgets(text, sizeof text, stdin) != NULL) {
        char *name = strtok(text, " \r\n");
        char *rest = strtok(NULL, "\r\n");
        size_t size = 0;
        size_t count = 0;
        if (name == NULL) {
            continue;
        }
        said = 0;
        memset(n, 0, sizeof n);
        if (rest != NULL) {
            char *second_word = strchr(rest, ' ');
            count = second_word == NULL ? 0 : numbers(n, second_word);
            size = unhex(data, rest);
        }
        if (!with_bytes(name, data, size, n)) {
            count = rest == NULL ? 0 : numbers(n, rest);
            with_numbers(name, n, count);
        }
        if (said == 0) {
            putchar('-');
        }
        putchar('\n');
    }
    return 0;
}
