/* channels.h - what every reader of a customer's file makes: channels.
 *
 * A channel is one row of values in even steps: a column of a table, a register of a
 * meter, a stream. A reader says of it what the file says (its name, what it is
 * understood as, its unit) and puts values in, in the file's unit and in any order. What
 * becomes of the channels is for the assembler (assemble.h) alone: readers neither
 * convert nor add up nor fill. A meter whose step changes has two channels of one name. */
#ifndef SLUICE_DAYS_CHANNELS_H
#define SLUICE_DAYS_CHANNELS_H

#include "days/days.h"

struct days_place {
    int file;    /* which of the paths, from 0 */
    size_t line; /* from 1; 0: not known */
};

/* Where in the files values stand: a run of slots at one distance from each other. */
struct days_run {
    int64_t slot, slots;      /* from the channel's first value on; may be below 0 while filled */
    struct days_place from;   /* of the first */
    int32_t slot_by, line_by; /* from one value to the next */
};

struct days_channel {
    char name[DAYS_NAME_SIZE]; /* as in the file */
    int column;                /* from 1, where a column has this name; else 0 */
    struct days_place begin;   /* its name, or its first value */
    enum days_role role;       /* DAYS_UNKNOWN: the file does not say */
    enum days_unit unit;       /* DAYS_UNIT_BY_HEADER: the file does not say */
    int32_t step_s;            /* > 0 */

    /* Filled by days_channel_put. */
    struct wall first; /* the beginning of value[0] */
    size_t count;
    float *value;                     /* [count] in `unit`; NaN: missing, INFINITY: refused */
    size_t estimated;                 /* values that somebody estimated or substituted, */
    struct days_place estimated_from; /* the first of them */
    size_t equal_twice;               /* values that another file has too */

    /* The builder's own. */
    float *room; /* value points into it */
    size_t before, capacity;
    struct days_run *run;
    size_t run_count, run_capacity;
    int64_t origin_ms;          /* slot 0 of the runs */
    int64_t next_ms, next_slot; /* of value[count] */
    int64_t last_slot;
    struct days_place last;
    int64_t lowest_slot, highest_slot; /* that the file of `last` had something for */
    size_t *all;                       /* the channels' `values` */
};

/* Four years of seconds, or a year of four columns of them: half a gigabyte. */
#define DAYS_VALUES_MAX ((size_t)1 << 27)

struct days_channels {
    struct days_channel channel[DAYS_CHANNELS_MAX];
    int count;
    size_t values;              /* of all of them, missing ones too */
    char meter[DAYS_NAME_SIZE]; /* the connection point, where a file names it; "": none did */
};

/* The channel that has `like`'s name, role, unit and step (and file, where the role is
 * unknown), or a new one of these. It stays with `channels`, which may
 * not move. NULL: DAYS_CHANNELS_MAX are there. */
struct days_channel *days_channel_open(struct days_channels *channels,
                                       const struct days_channel *like);

enum days_put {
    DAYS_PUT,
    DAYS_PUT_TWICE,    /* there is another value for this time, and it stays */
    DAYS_PUT_BETWEEN,  /* the time is not a whole number of steps from the others */
    DAYS_PUT_TOO_FAR,  /* over 400 days before or after all others */
    DAYS_PUT_TOO_MANY, /* over DAYS_VALUES_MAX in all channels */
    DAYS_PUT_NO_MEMORY,
};

/* `at` begins the step. NaN: the file has nothing there, which another value may replace;
 * INFINITY: what the file has was refused, and a stop is in the report. What lies between
 * values is missing. The same value for the same time in another file is taken once. Fast
 * where `at` follows what was put before; not slow else. */
enum days_put days_channel_put(struct days_channel *channel, struct wall at, float value,
                               struct days_place place);

/* What to say of the last three: of DAYS_PUT_TOO_FAR after "... is ", of the others alone. */
const char *days_put_why(enum days_put put);

/* Somebody estimated or substituted that value. */
void days_channel_estimated(struct days_channel *channel, struct days_place place);

/* Where the value (or the mark that it is missing) stood; line 0: nothing did. */
struct days_place days_channel_place(const struct days_channel *channel, size_t index);

/* The values become the caller's, to be freed; the channel still knows their places.
 * NULL: it has none. */
float *days_channel_take(struct days_channel *channel);

void days_channels_free(struct days_channels *channels);

#endif
