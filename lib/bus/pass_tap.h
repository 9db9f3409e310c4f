/* pass_tap.h - where a bus's worker leaves what it has read and what it was asked to
 * pass on. Inside lib/bus. */
#ifndef SLUICE_BUS_PASS_TAP_H
#define SLUICE_BUS_PASS_TAP_H

#include <pthread.h>
#include <stdatomic.h>

#include "bus/line.h"
#include "bus/pass.h"

struct pass_tap {
    pthread_mutex_t mutex; /* held while news is put, so that the box can be taken away */
    struct mailbox *news;  /* NULL: nobody listens */
    uint8_t number;
    struct mailbox *questions; /* at most one: asked, and not yet taken by the worker */
};

bool pass_tap_begin(struct pass_tap *tap); /* false: no memory */
void pass_tap_end(struct pass_tap *tap);
void pass_tap_lead(struct pass_tap *tap, struct mailbox *news, uint8_t number);

/* A block as a poll, or listening, has read it. `tap` may be NULL. */
void pass_block(struct pass_tap *tap, uint8_t unit, const struct meter_block *block,
                const uint16_t value[]);

/* Takes the question that waits, asks it and tells the answer. `ending` true: an
 * answer that finds no room is not waited with. */
void pass_ask(struct pass_tap *tap, struct line *line, struct mono now, const atomic_bool *ending);

#endif
