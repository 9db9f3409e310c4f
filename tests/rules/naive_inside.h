/* naive_inside.h - between the files of the naive reading only. */
#ifndef SLUICE_TESTS_NAIVE_INSIDE_H
#define SLUICE_TESTS_NAIVE_INSIDE_H

#include "naive.h"

#define NEVER INT64_MAX

enum {
    SATISFIED_SETTLE = 2 * MS_PER_MIN,
    TRIAL_COUNTS = 48 * MS_PER_HOUR,
    SHED_HOLD = 5 * MS_PER_MIN,
    TAKEOVER_PATIENCE = 60 * MS_PER_S,
    TAKEOVER_RETRY = 30 * MS_PER_MIN,
    TAKEOVER_SETTLE = 5 * MS_PER_MIN,
    TAKEOVER_AGAIN = 60 * MS_PER_MIN,
    PROBE_LOOK = 90 * MS_PER_S,
    ADJUST = 10 * MS_PER_S,
    FOLLOW = 5 * MS_PER_S,
    RETURN_RESERVE = 30 * MS_PER_MIN,
    CLOCK_STEP = 60 * MS_PER_S,
    REST_AGAIN = 6 * MS_PER_HOUR,
    NAIVE_SHOW = 10 * MS_PER_S,
};

static inline int64_t max64(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

static inline int64_t min64(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* Floors of one load: periods, met, due, cheap. */
void naive_floors(struct naive *naive, int load);
/* It can still be kept after a stop. */
bool naive_may_rest(const struct naive *naive, int load, int floor);

/* Until starts per hour allow another. */
int64_t naive_starts_wait(const struct naive *naive, int load);

/* naive.c */
int32_t naive_amount_of_stages(const struct load_settings *s, int stages);
/* What somebody orders of it: by a test, else by hand. */
enum hand naive_ordered(const struct naive_load *l);
bool naive_runs(const struct naive_load *l);
int64_t naive_first_power(const struct naive *n, int i);
int64_t naive_most(const struct naive *n, int i);
int64_t naive_expected(const struct naive *n, int i);
bool naive_unshown(const struct naive_load *l);
void naive_switch_off(struct naive *n, int i);
bool naive_open_for(const struct naive *n, int i, int64_t ms);
int64_t naive_find_own(const struct naive *n, int i);

/* naive_draw.c */
bool naive_own_meter_reads(const struct naive *n, int i);
void naive_section_5_draw(struct naive *n);
void naive_mark_level(struct naive *n, int i);
bool naive_is_switching(const struct naive_load *l);
bool naive_looks_since(const struct naive *n, int64_t since);

/* naive_power.c */
void naive_add_to_pools(const struct naive *n, int i, int64_t power_w, int64_t S[]);
int64_t naive_avail(const struct naive *n, int i, const int64_t S[]);
bool naive_share_a_pool(const struct naive *n, int i, int j);
int64_t naive_gives_up(const struct naive *n, int i);
int naive_place_of(const struct naive *n, int i);
void naive_with_gives(const struct naive *n, int i, int64_t S[]);
void naive_add_amps(const struct naive *n, int i, int64_t power_w, int64_t amps[]);
bool naive_in_group(const struct naive *n, int i, int group);
void naive_group_amps(const struct naive *n, int group, int64_t amps[]);
int64_t naive_worst_over(const struct naive *n, int i, const int64_t over[]);
int naive_phases_of(const struct load_settings *s);
void naive_section_7_pools(struct naive *n);
void naive_section_8_supply(struct naive *n);
void naive_section_13_levels(struct naive *n);

int64_t naive_price_now(const struct naive *n);

/* naive_worth.c */
void naive_section_7a_worth(struct naive *n);

/* naive_decide.c */
int64_t naive_room(const struct naive *n, int i);
void naive_section_9_off_at_once(struct naive *n);
void naive_section_10_speaks(struct naive *n);
void naive_section_11_on(struct naive *n);
void naive_section_12_off(struct naive *n);

#endif
