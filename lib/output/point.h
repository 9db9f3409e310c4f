/* point.h - one thing that is set and, where it can be, read back: a coil, a
 * register, a line, a topic. Pure.
 *
 * Values are the device's own (0 and 1, a register, watts); what they mean is
 * the output's to know. The caller asks what is due, does it, and tells how it
 * went. */
#ifndef SLUICE_OUTPUT_POINT_H
#define SLUICE_OUTPUT_POINT_H

#include "core/moment.h"
#include "terms/confirmation.h"

enum {
    POINT_RETRIES = 3,
    POINT_RETRY_MS = 1000,    /* between the tries of one bout */
    POINT_SLOW_MS = 10000,    /* between tries once it has failed */
    POINT_CHECK_MS = 10000,   /* between read-backs */
    POINT_REWRITE_MS = 30000, /* between rewrites: boards with a communication time-out let go
                                 of their relays when nobody speaks to them */
    POINT_REPORT_MS = 5000,   /* for a device to report on its state topic */
    POINT_LOST_MS = 60000,    /* an answer that has not come by then never will */
};

enum point_action { POINT_NOTHING, POINT_WRITE, POINT_READ };
enum point_doing { POINT_IDLE, POINT_WRITING, POINT_READING, POINT_AWAITING };

/* What there is to say beyond the health. */
enum point_remark {
    POINT_PLAIN,
    POINT_DIFFERS,   /* read back other than written */
    POINT_CORRECTED, /* changed by another hand or a reset: set right again */
    POINT_LESS,      /* an amount that the device lowered by itself */
    POINT_MUTE,      /* told, but does not report */
    POINT_WORDS,     /* the caller's own words say why */
};

struct point {
    /* fixed */
    bool reads_back; /* can be asked */
    bool reports;    /* tells by itself */
    bool amount;     /* a set-point: less than ordered is the device's own limit */
    /* state */
    enum output_health health;
    enum point_doing doing;
    enum point_action next;
    struct mono due, begun, rewrite;
    bool ordered, checking; /* checking: the read under way follows a write */
    bool hurried;           /* the end is near: tries follow at once, then it gives up */
    bool known;             /* `seen` holds what the device last said */
    uint8_t tries;
    enum point_remark remark;
    int32_t wanted, seen;
    int32_t written; /* by the last write; -1: none */
    int32_t settled; /* what a read-back must show */
    struct mono at;  /* when health or state last changed */
};

void point_begin(struct point *point, bool reads_back, bool reports, bool amount);

/* The device shall have `value` (>= 0). Nothing new is no order. */
void point_order(struct point *point, int32_t value, struct mono now);
/* Ask for the state, without an order. */
void point_probe(struct point *point, struct mono now);
/* From now on without pauses between tries, and again from the first one. */
void point_hurry(struct point *point, struct mono now);

/* What is to be done now; also ends waits that have been in vain. */
enum point_action point_due(struct point *point, struct mono now);

/* An action is under way (its answer will come), or has been done. */
void point_began(struct point *point, enum point_action action, struct mono now);
void point_acknowledged(struct point *point, struct mono now);        /* the write */
void point_saw(struct point *point, int32_t value, struct mono now);  /* the read */
void point_told(struct point *point, int32_t value, struct mono now); /* a report, unasked */
/* Refused, silent, gone. `certain`: the order cannot have reached the device, so
 * that this counts as failed at once; it is tried on all the same. */
void point_failed(struct point *point, bool certain, struct mono now);

/* An answer is outstanding or something is due. */
bool point_busy(const struct point *point, struct mono now);

#endif
