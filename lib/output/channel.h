/* channel.h - one thing that is set and, where it can be, read back: a coil, a
 * register, a line, a topic. Pure.
 *
 * Values are the device's own (0 and 1, a register, watts); what they mean is
 * the output's to know. The caller asks what is due, does it, and tells how it
 * went. */
#ifndef SLUICE_OUTPUT_CHANNEL_H
#define SLUICE_OUTPUT_CHANNEL_H

#include "core/moment.h"
#include "terms/confirmation.h"

enum {
    CHANNEL_TRIES = 4,          /* of one order, refused or contradicted: then it counts as such */
    CHANNEL_RETRY_MS = 1000,    /* between tries: where nobody answers, the bus makes it longer */
    CHANNEL_SLOW_MS = 10000,    /* between tries of what was refused or contradicted so often */
    CHANNEL_HURRY_MS = 250,     /* between tries at the end, once those at once were in vain */
    CHANNEL_CHECK_MS = 10000,   /* between read-backs */
    CHANNEL_REWRITE_MS = 30000, /* between rewrites: boards with a communication time-out let go
                                 of their relays when nobody speaks to them */
    CHANNEL_REPORT_MS = 5000,   /* for a device to report on its state topic */
    CHANNEL_LOST_MS = 60000,    /* an answer that has not come by then never will */
    CHANNEL_SILENCE_MS = 60000, /* so long what was last confirmed is believed without an answer */
    CHANNEL_LIES =
        3, /* orders contradicted, or states changed by another hand: then it is locked out */
    CHANNEL_PROVEN_MS = 600000, /* read as ordered for so long, an order is obeyed: lies are past */
    CHANNEL_LIE_COUNTS_MS = 86400000, /* or so long ago */
    CHANNEL_LOCK_MS = 300000,         /* the first lock-out; each further one is twice as long */
    CHANNEL_LOCK_MOST_MS = 3600000,
};

enum channel_action { CHANNEL_NOTHING, CHANNEL_WRITE, CHANNEL_READ };
enum channel_doing { CHANNEL_IDLE, CHANNEL_WRITING, CHANNEL_READING, CHANNEL_AWAITING };

/* What there is to say beyond the health. */
enum channel_remark {
    CHANNEL_PLAIN,
    CHANNEL_DIFFERS, /* read back other than written */
    CHANNEL_LOCKED,  /* so often that it is left alone for minutes */
    CHANNEL_CHANGED, /* by something else, or by a reset */
    CHANNEL_LESS,    /* an amount that the device lowered by itself */
    CHANNEL_MUTE,    /* told, but does not report */
    CHANNEL_WORDS,   /* the caller's own words say why */
};

/* How a try came to nothing. */
enum channel_failure {
    CHANNEL_UNSENT,  /* it never left: bus resting or down, broker away. No try, only time */
    CHANNEL_SILENT,  /* sent, and no answer that fits: what the device has is not known */
    CHANNEL_REFUSED, /* the device, or the way to it, says no */
};

struct channel {
    /* fixed */
    bool reads_back; /* can be asked */
    bool reports;    /* tells by itself */
    bool amount;     /* a set-point: less than ordered is the device's own limit */
    /* state */
    enum output_health health;
    enum channel_doing doing;
    enum channel_action next;
    struct mono due, begun, rewrite;
    bool ordered;
    bool checking; /* the read under way follows a write */
    bool hurried;  /* the end is near: tries follow at once and do not end */
    bool known;    /* `seen` holds what the device last said */
    bool strayed;  /* found changed: it waits for an order, which may be the same as before */
    bool judged;   /* the order in force has been counted as contradicted */
    uint8_t tries, lies;
    enum channel_remark remark;
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

void channel_begin(struct channel *channel, bool reads_back, bool reports, bool amount);

/* The device shall have `value` (>= 0). Nothing new is no order, but where the device was
 * found changed: that is not undone until an order has come. */
void channel_order(struct channel *channel, int32_t value, struct mono now);
/* Ask for the state, without an order. */
void channel_probe(struct channel *channel, struct mono now);
/* From now on tries follow at once, then in short pauses, for as long as somebody asks what
 * is due; and again from the first one. */
void channel_hurry(struct channel *channel, struct mono now);

/* What is to be done now; also ends waits that have been in vain. */
enum channel_action channel_due(struct channel *channel, struct mono now);

/* An action is under way (its answer will come), or has been done. */
void channel_began(struct channel *channel, enum channel_action action, struct mono now);
void channel_acknowledged(struct channel *channel, struct mono now);        /* the write */
void channel_saw(struct channel *channel, int32_t value, struct mono now);  /* the read */
void channel_told(struct channel *channel, int32_t value, struct mono now); /* a report, unasked */
void channel_failed(struct channel *channel, enum channel_failure failure, struct mono now);
/* An answer that is outstanding will not come, and that is no failure. */
void channel_lose(struct channel *channel, struct mono now);
/* The way to the device was exchanged: so, and what was confirmed is asked for anew. */
void channel_rewired(struct channel *channel, struct mono now);

/* When something is due next; MONO_NEVER: when an answer has come. */
struct mono channel_next(const struct channel *channel);

/* An answer is outstanding or something is due. */
bool channel_busy(const struct channel *channel, struct mono now);

#endif
