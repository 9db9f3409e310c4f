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
    POINT_TRIES = 4,          /* of one order, refused or contradicted: then it counts as such */
    POINT_RETRY_MS = 1000,    /* between tries: where nobody answers, the bus makes it longer */
    POINT_SLOW_MS = 10000,    /* between tries of what was refused or contradicted so often */
    POINT_HURRY_MS = 250,     /* between tries at the end, once those at once were in vain */
    POINT_CHECK_MS = 10000,   /* between read-backs */
    POINT_REWRITE_MS = 30000, /* between rewrites: boards with a communication time-out let go
                                 of their relays when nobody speaks to them */
    POINT_REPORT_MS = 5000,   /* for a device to report on its state topic */
    POINT_LOST_MS = 60000,    /* an answer that has not come by then never will */
    POINT_SILENCE_MS = 60000, /* so long what was last confirmed is believed without an answer */
    POINT_LIES = 3,           /* orders contradicted: then it is locked out */
    POINT_PROVEN_MS = 600000, /* read as ordered for so long, an order is obeyed: lies are past */
    POINT_LIE_COUNTS_MS = 86400000, /* or so long ago */
    POINT_LOCK_MS = 300000,         /* the first lock-out; each further one is twice as long */
    POINT_LOCK_MOST_MS = 3600000,
};

enum point_action { POINT_NOTHING, POINT_WRITE, POINT_READ };
enum point_doing { POINT_IDLE, POINT_WRITING, POINT_READING, POINT_AWAITING };

/* What there is to say beyond the health. */
enum point_remark {
    POINT_PLAIN,
    POINT_DIFFERS, /* read back other than written */
    POINT_LOCKED,  /* so often that it is left alone for minutes */
    POINT_CHANGED, /* by another hand or a reset */
    POINT_LESS,    /* an amount that the device lowered by itself */
    POINT_MUTE,    /* told, but does not report */
    POINT_WORDS,   /* the caller's own words say why */
};

/* How a try came to nothing. */
enum point_failure {
    POINT_UNSENT,  /* it never left: bus resting or down, broker away. No try, only time */
    POINT_SILENT,  /* sent, and no answer that fits: what the device has is not known */
    POINT_REFUSED, /* the device, or the way to it, says no */
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
    bool ordered;
    bool checking; /* the read under way follows a write */
    bool hurried;  /* the end is near: tries follow at once and do not end */
    bool known;    /* `seen` holds what the device last said */
    bool strayed;  /* found changed: it waits for an order, which may be the same as before */
    bool judged;   /* the order in force has been counted as contradicted */
    uint8_t tries, lies;
    enum point_remark remark;
    int32_t wanted, seen;
    int32_t written; /* by the last write; -1: none */
    int32_t settled; /* what a read-back must show */
    int32_t lied;    /* the order that was last contradicted, at lied_at */
    struct mono lied_at;
    struct mono heard;         /* while known: when the device last said so */
    struct mono silent_since;  /* MONO_NEVER: it answers */
    struct mono settled_since; /* MONO_NEVER: the order in force has not been confirmed */
    struct mono locked_until;
    int32_t lock_ms; /* the last lock-out's length */
    struct mono at;  /* when health or state last changed */
};

void point_begin(struct point *point, bool reads_back, bool reports, bool amount);

/* The device shall have `value` (>= 0). Nothing new is no order, but where the device was
 * found changed: that is not undone until an order has come. */
void point_order(struct point *point, int32_t value, struct mono now);
/* Ask for the state, without an order. */
void point_probe(struct point *point, struct mono now);
/* From now on tries follow at once, then in short pauses, for as long as somebody asks what
 * is due; and again from the first one. */
void point_hurry(struct point *point, struct mono now);

/* What is to be done now; also ends waits that have been in vain. */
enum point_action point_due(struct point *point, struct mono now);

/* An action is under way (its answer will come), or has been done. */
void point_began(struct point *point, enum point_action action, struct mono now);
void point_acknowledged(struct point *point, struct mono now);        /* the write */
void point_saw(struct point *point, int32_t value, struct mono now);  /* the read */
void point_told(struct point *point, int32_t value, struct mono now); /* a report, unasked */
void point_failed(struct point *point, enum point_failure failure, struct mono now);
/* An answer that is outstanding will not come, and that is no failure. */
void point_lose(struct point *point, struct mono now);
/* The way to the device was exchanged: so, and what was confirmed is asked for anew. */
void point_rewired(struct point *point, struct mono now);

/* When something is due next; MONO_NEVER: when an answer has come. */
struct mono point_next(const struct point *point);

/* An answer is outstanding or something is due. */
bool point_busy(const struct point *point, struct mono now);

#endif
