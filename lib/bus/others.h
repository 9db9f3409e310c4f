/* others.h - does somebody else ask on a line of which we are the master?
 *
 * What lies in the input before a question of ours was not said to us. A late answer
 * may lie there, and our own question where an adapter echoes; a question that is not
 * ours means a second master. Used by the line only. */
#ifndef SLUICE_BUS_OTHERS_H
#define SLUICE_BUS_OTHERS_H

#include "frame/listen.h"

struct others {
    struct listener listener;
    uint64_t questions; /* of others */
    uint8_t own_unit;   /* our last question */
    size_t own_length;
    uint8_t own[FRAME_PDU_MAX];
};

void others_begin(struct others *others);

/* What we ask: unit and PDU. */
void others_own(struct others *others, const uint8_t question[], size_t length);

/* Bytes that came unasked; `quiet`: nothing followed them. */
void others_hear(struct others *others, const uint8_t bytes[], size_t count, int64_t now_us);
void others_quiet(struct others *others);

/* So many that it is no accident. */
bool others_are_there(const struct others *others);

#endif
