/* day.h - one local day, as the ledger remembers it.
 *
 * Pieces are the ledger's history rows, clipped to the day; what falls between two
 * hours is shared by time. Everything is kept in wall time; local time is made when
 * something is printed, so that days of 23 and 25 hours need nothing special. */
#ifndef SLUICE_TOOLS_DAY_H
#define SLUICE_TOOLS_DAY_H

#include <stdio.h>

#include "core/text.h"
#include "core/trouble.h"
#include "core/zone.h"
#include "sluice/subcommand.h"

enum { DAY_NAME_MAX = 64, DAY_TEXT_MAX = 256, DAY_FLOORS_MAX = 4 };

struct day_piece {
    int64_t from_ms, to_ms; /* wall */
    int64_t spare_mwh, grid_mwh, on_ms;
};

/* While a load was on: why it began, and why it ended. */
struct day_run {
    int64_t from_ms, to_ms;
    bool from_before, goes_on; /* began before the day; not ended with it */
    const char *began, *ended; /* texts of events, or "" where none is known */
};

enum day_promise { PROMISE_OPEN, PROMISE_KEPT, PROMISE_MISSED, PROMISE_UNKNOWN };

struct day_floor {
    char text[DAY_NAME_MAX]; /* "3 h by 17:00" */
    int64_t deadline_ms;     /* 0: none on this day */
    enum day_promise promise;
    int64_t kept_ms;    /* PROMISE_KEPT: when */
    const char *missed; /* PROMISE_MISSED: the event's text; UNKNOWN: the same, NULL: none */
};

struct day_track {
    char name[DAY_NAME_MAX], title[DAY_NAME_MAX];
    int priority;    /* INT_MAX: not in the settings */
    int64_t power_w; /* nameplate; 0: not known */
    struct day_piece *piece;
    size_t count, room;
    struct day_run *run;
    size_t run_count;
    struct day_floor floor[DAY_FLOORS_MAX];
    int floor_count;
    uint8_t floor_weekdays[DAY_FLOORS_MAX];
    int32_t floor_by_s[DAY_FLOORS_MAX];
};

struct day_event {
    int64_t at_ms;
    char subject[DAY_NAME_MAX];
    char text[DAY_TEXT_MAX];
};

struct day {
    char site[DAY_NAME_MAX], zone_name[DAY_NAME_MAX];
    struct zone zone;
    struct date date;
    int64_t begin_ms, end_ms; /* the local day */
    int64_t known_ms;         /* the end of what is recorded of it */
    struct day_track grid;    /* spare_mwh: exported, grid_mwh: imported */
    struct day_track spare, solar;
    struct day_track *load;
    size_t load_count;
    struct day_event *event; /* by time; some of before the day, for its beginning */
    size_t event_count, event_room;
};

/* A sum over [from, to). */
struct day_sum {
    int64_t spare_mwh, grid_mwh, on_ms, covered_ms;
};
struct day_sum day_sum(const struct day_track *track, int64_t from_ms, int64_t to_ms);
struct day_sum day_total(const struct day *day, const struct day_track *track);

/* Local time of the day of `at_ms`. */
int32_t day_second(const struct day *day, int64_t at_ms);
const char *day_title(const struct day_track *load); /* its title, else its name */

void day_print(const struct day *day, bool every_reason);
void day_draw(const struct day *day, FILE *to);

/* ---- how it comes about ------------------------------------------------------------ */

struct settings;
/* day.c: the zone, names and floors. */
void day_take_settings(struct day *day, const struct settings *settings);
/* "2026-01-14", "today" or "yesterday" by the day's zone; false: it is none. */
bool day_set_date(struct day *day, const char *word);

/* Reads what the ledger at `path` has of the day. STATUS_NOT_THERE: it cannot be
 * read; STATUS_REFUSED: it has nothing of that day. */
enum status day_read(struct day *day, const char *path, struct trouble *trouble);
void day_free(struct day *day);
/* NULL: memory is out, which ends the program. */
struct day_track *day_load(struct day *day, const char *name);
/* From events to runs and promises, once all is read. */
void day_runs(struct day *day);

#endif
