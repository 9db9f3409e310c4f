/* others.h - does somebody else ask on a line of which we are the master?
 *
 * What lies in the input before a question of ours was not said to us. A late answer
 * may lie there, our own question where an adapter echoes, and the second copy of an answer
 * that came twice; a question that is not ours means a second master. Used by the line only. */
#ifndef SLUICE_BUS_OTHERS_H
#define SLUICE_BUS_OTHERS_H

#include "frame/listen.h"

enum { OTHERS_WRITE_BYTES = 5, OTHERS_WRITES_MAX = 64 };

/* A write of one coil or register, whose answer is the same bytes again. */
struct own_write {
    uint8_t unit; /* 0: none */
    uint8_t pdu[OTHERS_WRITE_BYTES];
};

struct others {
    struct listener listener;
    uint64_t questions; /* of others */
    uint8_t own_unit;   /* our last question */
    size_t own_length;
    uint8_t own[FRAME_PDU_MAX];
    struct own_write write[OTHERS_WRITES_MAX]; /* our last ones, each once */
    uint8_t next_write;                        /* the place of the next new one */
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
