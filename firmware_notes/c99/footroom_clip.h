/* What a clip does with its sensor and its link. The board gives four functions; the rest is the same on any board. */
#ifndef FOOTROOM_CLIP_H
#define FOOTROOM_CLIP_H

#include "footroom_wire.h"

struct footroom_board {
    void *context; /* handed to each function */
    /* Sends one frame: a notification, or COBS and a zero byte on a serial line. 0 when there is no link or no room;
     * must not wait. */
    int (*send)(void *context, const uint8_t *frame, size_t size);
    /* Sets the sensor to the rate it can do that is nearest to `wanted_hz`, with a filter that fits [Hz]. Returns the
     * rate now in force, rounded, and writes that filter's delay [0.1 ms]; or 0 when the sensor does not answer. */
    uint16_t (*set_rate)(void *context, uint16_t wanted_hz, uint8_t *delay_100us);
    /* Blinks for so many seconds from now, whatever an earlier call said; 0 ends it. */
    void (*blink)(void *context, uint8_t seconds);
    /* The microsecond counter. */
    uint32_t (*tick_us)(void *context);
};

struct footroom_clip {
    struct footroom_board board;
    struct footroom_hello hello;
    struct footroom_status status;
    size_t payload;
    uint16_t sequence;   /* of the next sample, 15 bits */
    uint16_t unheard_s;  /* seconds without a link */
    uint32_t first_tick; /* of the samples that wait */
    size_t waiting;
    int16_t counts[FOOTROOM_MOST_SAMPLES * 6];
    uint8_t frame[FOOTROOM_LARGEST_FRAME];
};

/* The clip as it wakes up: stopped. `hello` : with the rate that the sensor is set to, 200 or its nearest. `payload` :
 * bytes that one frame may have (20 to 244 on Bluetooth, 248 on a serial line); set clip->payload again whenever it is
 * negotiated anew. */
void footroom_clip_begin(struct footroom_clip *clip, const struct footroom_board *board,
                         const struct footroom_hello *hello, size_t payload);

/* One sample, as soon as it is read; does nothing while the clip is stopped. tick_us : when it was taken. counts :
 * acceleration x y z, angular rate x y z. */
void footroom_clip_sample(struct footroom_clip *clip, uint32_t tick_us, const int16_t counts[6]);

/* So many samples were lost before they could be read (the sensor's own buffer ran over). */
void footroom_clip_missed(struct footroom_clip *clip, uint16_t samples);

/* Once a second, and at once when a link comes up or a charger comes or goes: hello and status go out. battery : 0 to
 * 100, or FOOTROOM_NO_BATTERY. fault : the sensor does not answer. */
void footroom_clip_second(struct footroom_clip *clip, uint8_t battery, int16_t temperature, int charging, int fault);

/* A frame that came from the logger. Hand over first, by footroom_clip_sample, what the sensor's own buffer holds. */
void footroom_clip_receive(struct footroom_clip *clip, const uint8_t *frame, size_t size);

#endif
