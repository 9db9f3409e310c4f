/* result.h - what a day or a year gave: energy by where it came from, starts, guarantees and
 * events, piece by piece. A ledger's day, a replay and a comparison all come to this, and
 * whatever shows one of them reads it from here.
 *
 * Everything is kept in wall time; local time is made when something is shown, so that days of
 * 23 and 25 hours need nothing special. Allocates; what does not fit into memory is left out,
 * and `lost` says so. */
#ifndef SLUICE_RESULT_RESULT_H
#define SLUICE_RESULT_RESULT_H

#include <stdbool.h>
#include <stddef.h>

#include "core/zone.h"

enum { RESULT_NAME_MAX = 64, RESULT_TEXT_MAX = 256, RESULT_FLOORS_MAX = 4 };

/* Energy in mWh: of a load by where it came from; of the grid, exported and imported; of
 * the sun and what is spare, spare; of the household, grid. */
struct result_amount {
    double spare_mwh, grid_mwh;
    int64_t on_ms, draws_ms;
    int32_t starts;
    int32_t kept, missed; /* guarantees, at their deadline or before */
    int32_t untaken;      /* those that count as kept, though the load took less */
    double coldest_c;     /* of the tanks: the least at the top; NAN: there is none */
    double end_c;         /* of the first tank: its mean at the end */
};

struct result_piece {
    int64_t from_ms, to_ms; /* wall */
    struct result_amount amount;
};

/* While a load was on: why it began, and why it ended. */
struct result_run {
    int64_t from_ms, to_ms;
    double spare_mwh, grid_mwh; /* where the run was seen itself, not found from events */
    bool from_before, goes_on;  /* began before the day; not ended with it */
    const char *began, *ended;  /* texts of events, or "" where none is known */
};

enum result_promise { PROMISE_OPEN, PROMISE_KEPT, PROMISE_MISSED, PROMISE_UNKNOWN };

struct result_floor {
    char text[RESULT_NAME_MAX]; /* "3 h by 17:00" */
    uint8_t weekdays;
    int32_t by_s;
    int64_t deadline_ms; /* 0: none on this day */
    enum result_promise promise;
    int64_t kept_ms;    /* PROMISE_KEPT: when */
    const char *missed; /* PROMISE_MISSED: the event's text; UNKNOWN: the same, NULL: none */
};

struct result_track {
    char name[RESULT_NAME_MAX], title[RESULT_NAME_MAX];
    int priority;               /* INT_MAX: not in the settings */
    int64_t power_w;            /* nameplate; 0: not known */
    struct result_piece *piece; /* by time */
    size_t count, room;
    struct result_run *run;
    size_t run_count, run_room;
    struct result_floor floor[RESULT_FLOORS_MAX];
    int floor_count;
};

struct result_event {
    int64_t at_ms;
    bool switches; /* a load, or says what became of a guarantee: not only another reason */
    char subject[RESULT_NAME_MAX];
    char text[RESULT_TEXT_MAX];
};

struct result {
    char site[RESULT_NAME_MAX], zone_name[RESULT_NAME_MAX];
    struct zone zone;
    struct date date;         /* of one day's */
    int64_t begin_ms, end_ms; /* the local day, or all of them */
    int64_t known_ms;         /* the end of what is recorded of it */
    struct result_track grid, spare, solar, use, tank;
    struct result_track *load;
    size_t load_count;
    struct result_event *event; /* by time; some of before a day, for its beginning */
    size_t event_count, event_room;
    bool lost;
};

/* The load of that name, added where it is not there yet; NULL: out of memory. */
struct result_track *result_load(struct result *result, const char *name);

/* New ones at the end; NULL: out of memory. */
struct result_piece *result_add_piece(struct result *result, struct result_track *track,
                                      int64_t from_ms, int64_t to_ms);
struct result_run *result_add_run(struct result *result, struct result_track *track);
struct result_event *result_add_event(struct result *result, int64_t at_ms, const char *subject);

/* Over [from, to): a piece that is there in part counts by its share of time. */
struct result_amount result_sum(const struct result_track *track, int64_t from_ms, int64_t to_ms);
struct result_amount result_total(const struct result *result, const struct result_track *track);
/* How much of [from, to) has pieces. */
int64_t result_covered_ms(const struct result_track *track, int64_t from_ms, int64_t to_ms);

/* Local time of the day of `at_ms`. */
int32_t result_second(const struct result *result, int64_t at_ms);
const char *result_title(const struct result_track *load); /* its title, else its name */

void result_free(struct result *result);

#endif
