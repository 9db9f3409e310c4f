/* rtu.h - the second serial port: finding requests on it.
 *
 * Other units may share that line with us: their answers go by and are no requests. An
 * adapter may echo what we send. Nothing but length, checksum and silence tells where a
 * request ends. */
#ifndef SLUICE_GATEWAY_RTU_H
#define SLUICE_GATEWAY_RTU_H

#include "gateway/service.h"

struct rtu {
    int64_t gap_us;  /* between frames */
    int64_t byte_us; /* a character's time */
    int64_t last_us; /* when the last byte came */
    int64_t sent_us; /* when our last answer will have gone out; 0: none */
    bool others;     /* the last request was another unit's: its answer may follow */
    size_t sent;
    uint8_t answer[FRAME_RTU_MAX]; /* our last answer, should it come back */
};

void rtu_begin(struct rtu *rtu, const struct gateway_settings *settings);

/* When the line will have been quiet for longer than within any frame. */
int64_t rtu_quiet_us(const struct rtu *rtu);

/* Looks for a request to one of our units at the beginning of what came, leaving out
 * what is none. Returns how many bytes are done with; `found` tells that they end with
 * a request, whose content lies within them. */
size_t rtu_find(struct rtu *rtu, const struct service *service, const uint8_t bytes[],
                size_t length, int64_t now_us, struct frame_content *content, bool *found);

#endif
