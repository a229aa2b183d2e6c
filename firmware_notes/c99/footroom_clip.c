#include "footroom_clip.h"

#include <string.h>

#define LONGEST_FRAME_PER_S 20 /* a frame spans at most 1/20 s, so that a live view is not late */
#define SEQUENCE_MASK 0x7FFFu
#define ALONE_S 300 /* a clip that nobody hears for so long stops, to spare its battery */
#define LOWEST_HZ 100
#define HIGHEST_HZ 400

static int send(struct footroom_clip *clip, size_t size)
{
    return clip->board.send(clip->board.context, clip->frame, size);
}

static int running(const struct footroom_clip *clip)
{
    return (clip->status.flags & FOOTROOM_RUNNING) != 0;
}

static size_t samples_per_frame(const struct footroom_clip *clip)
{
    size_t fit = footroom_samples_that_fit(clip->payload);
    size_t soon = clip->hello.rate_hz / LONGEST_FRAME_PER_S;
    size_t n = fit < soon ? fit : soon;
    return n < 1 ? 1 : n;
}

/* Sends the samples that wait. What cannot be sent is lost, but counted. */
static void flush(struct footroom_clip *clip)
{
    size_t size;
    int sent = 0;
    if (clip->waiting == 0) {
        return;
    }
    size = footroom_put_samples(clip->frame, clip->sequence, clip->first_tick, clip->counts, clip->waiting);
    if (size <= clip->payload) {
        sent = send(clip, size);
    }
    if (!sent) {
        clip->status.dropped += (uint32_t)clip->waiting;
    }
    clip->sequence = (uint16_t)((clip->sequence + clip->waiting) & SEQUENCE_MASK);
    clip->waiting = 0;
}

static void stop(struct footroom_clip *clip)
{
    flush(clip);
    clip->status.flags &= (uint8_t)~FOOTROOM_RUNNING;
}

void footroom_clip_begin(struct footroom_clip *clip, const struct footroom_board *board,
                         const struct footroom_hello *hello, size_t payload)
{
    memset(clip, 0, sizeof *clip);
    clip->board = *board;
    clip->hello = *hello;
    clip->payload = payload;
    clip->status.battery = FOOTROOM_NO_BATTERY;
    clip->status.temperature = FOOTROOM_NO_TEMPERATURE;
}

void footroom_clip_sample(struct footroom_clip *clip, uint32_t tick_us, const int16_t counts[6])
{
    if (!running(clip)) {
        return;
    }
    if (clip->waiting == 0) {
        clip->first_tick = tick_us;
    }
    memcpy(clip->counts + clip->waiting * 6, counts, 6 * sizeof counts[0]);
    clip->waiting++;
    if (clip->waiting >= samples_per_frame(clip)) {
        flush(clip);
    }
}

void footroom_clip_missed(struct footroom_clip *clip, uint16_t samples)
{
    if (!running(clip)) {
        return;
    }
    flush(clip); /* nothing may be missing within a frame */
    clip->sequence = (uint16_t)((clip->sequence + samples) & SEQUENCE_MASK);
    clip->status.dropped += samples;
}

void footroom_clip_second(struct footroom_clip *clip, uint8_t battery, int16_t temperature, int charging, int fault)
{
    int heard;
    clip->status.battery = battery;
    clip->status.temperature = temperature;
    clip->status.flags &= FOOTROOM_RUNNING;
    clip->status.flags |= (uint8_t)((charging ? FOOTROOM_CHARGING : 0) | (fault ? FOOTROOM_FAULT : 0));
    if (running(clip) && (charging || fault)) { /* never charged while worn */
        stop(clip);
    }
    heard = send(clip, footroom_put_hello(clip->frame, &clip->hello));
    clip->unheard_s = heard ? 0 : (uint16_t)(clip->unheard_s + 1);
    if (running(clip) && clip->unheard_s >= ALONE_S) {
        stop(clip);
    }
    if (clip->unheard_s > ALONE_S) {
        clip->unheard_s = ALONE_S;
    }
    send(clip, footroom_put_status(clip->frame, &clip->status));
}

static uint8_t start(struct footroom_clip *clip)
{
    if (clip->status.flags & FOOTROOM_CHARGING) {
        return FOOTROOM_IS_CHARGING;
    }
    if (clip->status.flags & FOOTROOM_FAULT) {
        return FOOTROOM_SENSOR_FAULT;
    }
    if (!running(clip)) {
        clip->sequence = 0;
        clip->waiting = 0;
        clip->status.dropped = 0;
        clip->status.flags |= FOOTROOM_RUNNING;
    }
    return FOOTROOM_DONE;
}

static uint8_t set_rate(struct footroom_clip *clip, uint16_t wanted_hz)
{
    uint8_t delay = clip->hello.delay_100us;
    uint16_t rate;
    if (running(clip)) {
        return FOOTROOM_NOT_NOW;
    }
    if (wanted_hz < LOWEST_HZ || wanted_hz > HIGHEST_HZ) {
        return FOOTROOM_VALUE_REFUSED;
    }
    rate = clip->board.set_rate(clip->board.context, wanted_hz, &delay);
    if (rate == 0) {
        return FOOTROOM_SENSOR_FAULT;
    }
    clip->hello.rate_hz = rate;
    clip->hello.delay_100us = delay;
    return FOOTROOM_DONE;
}

void footroom_clip_receive(struct footroom_clip *clip, const uint8_t *frame, size_t size)
{
    struct footroom_command command;
    struct footroom_reply reply;
    if (footroom_get_command(&command, frame, size) != FOOTROOM_COMMAND_FOUND) {
        return;
    }
    reply.command = command.kind;
    reply.token = command.token;
    reply.result = FOOTROOM_DONE;
    reply.value = 0;
    switch (command.kind) {
    case FOOTROOM_IDENTIFY:
        clip->board.blink(clip->board.context, (uint8_t)command.value);
        break;
    case FOOTROOM_START:
        reply.result = start(clip);
        break;
    case FOOTROOM_STOP:
        stop(clip);
        break;
    case FOOTROOM_SET_RATE:
        reply.result = set_rate(clip, command.value);
        reply.value = clip->hello.rate_hz;
        break;
    default:
        reply.result = FOOTROOM_UNKNOWN_COMMAND;
        break;
    }
    reply.tick_us = clip->board.tick_us(clip->board.context);
    send(clip, footroom_put_reply(clip->frame, &reply));
    if (command.kind == FOOTROOM_SET_RATE && reply.result == FOOTROOM_DONE) {
        send(clip, footroom_put_hello(clip->frame, &clip->hello));
    }
}
