/* replay_record.h - what a replay did, day by day. */
#ifndef SLUICE_TOOLS_REPLAY_RECORD_H
#define SLUICE_TOOLS_REPLAY_RECORD_H

#include "settings/settings.h"
#include "sluice/day/day.h"
#include "trial/run.h"

enum { REPLAY_TEXT_MAX = 160 };

struct replay_sum {
    double sun_j, grid_j;
    int64_t on_ms, draws_ms;
    int32_t starts, kept,
        missed;      /* kept and missed: floors, by the day of the deadline or before */
    int32_t untaken; /* floors that the rules count as kept, though it took less */
};

struct replay_run {
    int64_t from_ms, to_ms;
    double sun_j, grid_j;
};

/* What a load has really taken since a floor's last deadline. */
struct replay_took {
    double j;
    int64_t drew_ms, until_ms;
};

struct replay_load {
    bool on;
    struct replay_took took[RULES_FLOORS_MAX];
    struct reason reason; /* told last */
    struct replay_run *run;
    size_t run_count, run_room;
};

/* A local day of the site. */
struct replay_day {
    int32_t day;
    double use_j, solar_j, import_j, export_j;
    double spare_j[24]; /* by local hour */
    double top_least_c; /* of any tank; NAN: there is none */
    struct replay_sum load[TRIAL_LOADS_MAX];
};

struct replay_event {
    int64_t at_ms;
    uint16_t load;
    bool switches; /* a load, or tells of a floor: not only another reason */
    char text[REPLAY_TEXT_MAX];
};

struct replay_record {
    const struct settings *settings;
    const struct trial_home *home;
    struct replay_load load[TRIAL_LOADS_MAX];
    struct replay_day *day;
    size_t day_count, day_room;
    int64_t day_end_ms, hour_end_ms;
    int32_t hour;
    struct replay_event *event; /* by time */
    size_t event_count, event_room;
    struct day *sheet; /* filled with one day's pieces where it is wanted; else NULL */
    int64_t piece_end_ms;
};

void replay_record_begin(struct replay_record *record, const struct settings *settings,
                         const struct trial_home *home, struct day *sheet);
/* A trial_trace; the context is the record. */
void replay_record_span(void *context, const struct trial_span *span);
void replay_record_free(struct replay_record *record);

/* Whether the rules take it to draw what it is offered. */
bool replay_is_blind(const struct load_settings *load);

/* Of all days from `from` to before `to`, by index. */
struct replay_sum replay_sum(const struct replay_record *record, int load, size_t from, size_t to);

#endif
