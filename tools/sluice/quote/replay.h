/* replay.h - what a replay shows: tables, a file for spreadsheets, a picture. */
#ifndef SLUICE_TOOLS_REPLAY_H
#define SLUICE_TOOLS_REPLAY_H

#include <stdio.h>

#include "replay_home.h"
#include "result/result.h"
#include "trial/record.h"

enum replay_by { REPLAY_BY_LENGTH, REPLAY_BY_DAY, REPLAY_BY_MONTH };

struct replay {
    const struct settings *settings;
    const struct trial_home *home;
    const struct result *result; /* of all days */
    const struct trial_outcome *outcome;
    const struct trial_outcome *told; /* with the days as told, where they were refined; or NULL */
    const char *path;
    int32_t step_s;
    enum home_water water;
    enum replay_by by;
};

extern const char replay_help[];

/* The local days that there are something of: the first and how many. */
int32_t replay_first_day(const struct replay *replay);
int32_t replay_day_count(const struct replay *replay);
/* Of a track, from the beginning of one local day to that of another. */
struct result_amount replay_sum(const struct replay *replay, const struct result_track *track,
                                int32_t from_day, int32_t to_day);
/* "1 Jan 2026 to 31 Dec 2026, 365 days" */
void replay_write_span(const struct replay *replay, struct text *text);

void replay_print(const struct replay *replay);
/* That the days have steps in which nothing changes, where they have. */
void replay_print_flat(const struct replay *replay);
/* What was switched, or all that was decided, from moment to moment. */
void replay_print_reasons(const struct replay *replay);
/* A line a day, after a line of names. */
void replay_write_csv(const struct replay *replay, FILE *to);
/* All days side by side, each load on a panel of its own. */
void replay_draw(const struct replay *replay, FILE *to);

#endif
