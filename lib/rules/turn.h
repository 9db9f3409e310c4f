/* turn.h - what the files of this room share while one turn is under way. */
#ifndef SLUICE_RULES_TURN_H
#define SLUICE_RULES_TURN_H

#include "rules.h"

/* The constants of TABLE.md. */
enum {
    SATISFIED_SETTLE_MS = 2 * MS_PER_MIN,
    SATISFIED_COUNTS_MS = 12 * MS_PER_HOUR,
    TRIAL_COUNTS_MS = 48 * MS_PER_HOUR,
    SHED_HOLD_MS = 5 * MS_PER_MIN,
    TAKEOVER_PATIENCE_MS = 60 * MS_PER_S,
    TAKEOVER_RETRY_MS = 30 * MS_PER_MIN,
    TAKEOVER_SETTLE_MS = 5 * MS_PER_MIN,
    TAKEOVER_AGAIN_MS = 60 * MS_PER_MIN,
    PROBE_LOOK_MS = 90 * MS_PER_S,
    ADJUST_MS = 10 * MS_PER_S,
    FOLLOW_MS = 5 * MS_PER_S,
    UNTRUSTED_PATIENCE_MS = 30 * MS_PER_MIN,
    RETURN_RESERVE_MS = 30 * MS_PER_MIN,
    CLOCK_STEP_MS = 60 * MS_PER_S,
    LEAST_HEAT_UP_MS = 10 * MS_PER_MIN,
    LOOK_SPAN_MS = 2500,
    ROOF_DARK_W = 50,
    ROOF_SLEEPS_MS = 14 * MS_PER_HOUR,
    SHOW_MS = 10 * MS_PER_S,
    HEATED_MS = MS_PER_MIN,
    NEEDS_LEAST_MS = 6 * MS_PER_HOUR,
};

/* Longer than any span that is ever added to a moment. */
#define ENDLESS_MS (INT64_MAX / 4)

struct turn {
    const struct rules_settings *settings;
    struct rules_memory *memory;
    const struct rules_input *input;
    struct decision *decisions;
    struct rules_outcome *outcome;
    int64_t t, w;       /* mono and wall of this turn, ms */
    int64_t dt;         /* since the last turn */
    int64_t stepped_ms; /* how far the wall clock was set since, beyond dt */
    bool trusted;
    bool look_back;   /* the clock stepped back, or what is remembered has yet to meet a clock */
    bool fresh;       /* what the grid's meter says may be believed */
    bool spare_known; /* and says what is spare */
    bool seeing;      /* all that tells what the house takes is fresh */
    bool look;        /* and has been read anew: section 5 */
    uint8_t pool_count;
    int64_t spare_w[PHASES];  /* section 7: S */
    int64_t lower_w[PHASES];  /* gives-up of the loads still to come in order */
    int64_t relief_w[PHASES]; /* of all loads */
    int switching_count;      /* loads whose switching the meter may still have to show */
    bool any_unshown, any_relief, any_gives, any_levels;
    int64_t amps_ma[PHASES]; /* section 8 */
    uint32_t claimed_groups; /* one-at-a-time groups with a strong wish waiting */
    int64_t until;           /* the earliest moment at which something may differ */
};

static inline bool battery_is_fresh(const struct reading *reading)
{
    return reading->battery.quality == READING_FRESH && (reading->has & HAS_BATTERY_POWER);
}

static inline bool solar_is_fresh(const struct reading *reading)
{
    return reading->solar.quality == READING_FRESH && (reading->has & HAS_SOLAR_POWER);
}

/* What the load's own meter says now; NULL: it has none, or it is silent. */
static inline const struct load_reading *own_meter(const struct turn *turn, uint16_t index)
{
    const struct load_reading *own =
        turn->input->load_reading ? &turn->input->load_reading[index] : NULL;
    bool reads = own && own->power.quality == READING_FRESH && turn->settings->loads[index].metered;
    return reads ? own : NULL;
}

/* Something changes at `at` of its own accord. */
static inline void turn_soon(struct turn *turn, int64_t at)
{
    if (at > turn->t && at < turn->until)
        turn->until = at;
}

/* What this turn has changed is what the next one begins from: it may differ. */
static inline void turn_again(struct turn *turn)
{
    turn_soon(turn, turn->t + 1);
}

static inline bool load_is_on(const struct load_memory *memory)
{
    return memory->state == STATE_ON || memory->state == STATE_STARTING;
}

static inline int32_t minimum_32(int32_t a, int32_t b)
{
    return a < b ? a : b;
}

static inline int64_t minimum_64(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static inline int64_t maximum_64(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

static inline int64_t at_least_0(int64_t value)
{
    return value > 0 ? value : 0;
}

/* The event, or NULL where the list is full. */
struct rules_event *turn_event(struct turn *turn, enum rules_event_kind kind, uint16_t load,
                               int64_t number);

/* ---- load.c: what a load takes, and when it may switch --------------------- */

/* The power a start is expected to add. */
int32_t load_start_w(const struct load_settings *load, const struct load_memory *memory);
/* The power that it is expected to draw at its present level and stage. */
int32_t load_expected_w(const struct load_settings *load, const struct load_memory *memory);
/* All it can draw: for a floor's need. */
int32_t load_most_w(const struct load_settings *load, const struct load_memory *memory);
int32_t load_stages_w(const struct load_settings *load, uint8_t stages);
uint8_t load_phase_count(const struct load_settings *load);
int64_t load_min_on_left_ms(const struct turn *turn, uint16_t index);
int64_t load_min_off_left_ms(const struct turn *turn, uint16_t index);
int64_t load_starts_wait_ms(const struct turn *turn, uint16_t index);
int64_t load_daily_left_ms(const struct turn *turn, uint16_t index);
int64_t load_closes_ms(const struct turn *turn, uint16_t index);
void load_switch_on(struct turn *turn, uint16_t index);
void load_switch_off(struct turn *turn, uint16_t index);

/* ---- the sections, in their order ------------------------------------------ */

void book_time(struct turn *turn);          /* 1, booking.c */
void book_day(struct turn *turn);           /* 2, booking.c */
void look_back(struct turn *turn);          /* 2, booking.c */
void obey_orders(struct turn *turn);        /* 3, orders.c */
void take_confirmations(struct turn *turn); /* 4, orders.c */
void watch_draws(struct turn *turn);        /* 5, draw.c */
void keep_calendar(struct turn *turn);      /* 6, calendar.c */
void keep_floors(struct turn *turn);        /* 6, floor.c */
void count_spare(struct turn *turn);        /* 7, spare.c */
void weigh_heat(struct turn *turn);         /* 7a, ahead.c */
void keep_supply(struct turn *turn);        /* 8, supply.c */
void decide(struct turn *turn);             /* 9 to 12, decide.c */

/* ---- calendar.c and floor.c ------------------------------------------------ */

/* Renews what the calendar says of one floor after its period has changed. */
void calendar_floor(struct turn *turn, uint16_t index, uint8_t floor);
int64_t floor_need_ms(const struct load_settings *load, const struct load_memory *memory,
                      uint8_t floor);
/* rules_floor without the latest start, which costs a search. */
struct floor_view floor_so_far(const struct load_settings *load, const struct load_memory *memory,
                               bool trusted, uint8_t floor);

/* ---- draw.c ---------------------------------------------------------------- */

/* The load has been ordered on: remembers what the meter showed before. */
void draw_begin(struct turn *turn, uint16_t index);
void draw_enter(struct turn *turn, struct draw_view *view, enum draw_state state, int32_t draw_w);
/* observe.c: looks at what the house takes. */
void take_look(struct turn *turn);
void forget_looks(struct draw_memory *draw);
void mark_level(struct turn *turn, uint16_t index);
/* Something of its switching is still under way, or for the meter to show. */
bool is_switching(const struct load_memory *memory);
bool others_are_unshown(struct turn *turn, uint16_t index);
bool level_shows(const struct turn *turn, const struct load_memory *memory);
/* proof.c: what it means that nothing is drawn. */
void proof_none(struct turn *turn, uint16_t index);
void proof_stop(struct turn *turn, uint16_t index);
void proof_watch(struct turn *turn, uint16_t index);
void draw_end(struct turn *turn, uint16_t index);

/* ---- spare.c --------------------------------------------------------------- */

int64_t spare_available(const struct turn *turn, const struct load_memory *memory,
                        const int64_t pool_w[PHASES]);
int64_t spare_start_need(const struct load_settings *load, const struct load_memory *memory);
/* Section 10's A: with its own draw, the lower ones' and what is being given back. */
int64_t spare_with_own(const struct turn *turn, const struct load_memory *memory);
/* What the loads still to come in order could give up: all of them at first, then
 * without each load that has had its turn or has been switched off. */
void spare_sum_gives(struct turn *turn);
void spare_relieve(struct turn *turn, const struct load_memory *memory, int64_t power_w);
void spare_forgo(struct turn *turn, const struct load_memory *memory);
bool spare_holds(struct turn *turn, uint16_t index, enum basis *basis);
void spare_take(struct turn *turn, const struct load_memory *memory, int64_t power_w);

/* ---- supply.c -------------------------------------------------------------- */

/* REASON_NONE where `power_w` more fits; fills the reason's numbers. */
bool supply_fits(const struct turn *turn, uint16_t index, int64_t power_w, struct reason *reason);
bool group_is_free(const struct turn *turn, uint16_t index);
/* The most that load may draw in all within the limits, own draw included. */
int64_t supply_headroom_w(const struct turn *turn, uint16_t index);
void supply_take(struct turn *turn, uint16_t index, int64_t power_w);

/* ---- takeover.c and probe.c (section 12) ----------------------------------- */

void takeover_watch(struct turn *turn);
bool takeover_begin(struct turn *turn, uint16_t index, uint16_t place);
void takeover_succeeded(struct turn *turn);
/* Adds what its victims have been ordered to give and the meter has not shown. */
void takeover_add_relief(const struct turn *turn, int64_t pool_w[PHASES]);
bool probe_allowed(const struct turn *turn, uint16_t index);
void probe_watch(struct turn *turn);

/* ---- level.c (section 13) -------------------------------------------------- */

void level_on_start(struct turn *turn, uint16_t index);
void levels_adjust(struct turn *turn);

/* ---- decide.c -------------------------------------------------------------- */

struct reason reason_of(enum reason_code code, int64_t a, int64_t b, int64_t c);

#endif
