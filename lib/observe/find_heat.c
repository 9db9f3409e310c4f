/* find_heat.c - is the heat enough, or more than a tank can take.
 *
 * A full tank takes what is used and lost, and no more. What the household
 * needs is learnt from one proven opening of the thermostat to the next. The
 * least of a week's means is its quietest time, mostly a night: what is lost
 * standing, and whatever runs out unseen. */
#include "observe/find_inside.h"

#include "core/arith.h"
#include "observe/stat_log.h"
#include "observe/stat_wald.h"
#include "terms/floor.h"

enum {
    NEEDS_LEAST_MS = 6 * MS_PER_HOUR, /* from opening to opening: a shorter time says little */
    OPENINGS_MOST = 16,
    EXCESS_IN = 4, /* a cut-out opens after so much of a tank's heat more: common
                      practice */
    ERROR_IN = 4,  /* of a tank's heat, what a day may differ whatever the
                      household does */
    CUT_ERROR_IN = 16,
    EXCESS_OPENINGS = 10, /* before that the usual is not known well enough */
    SPREAD_IN = 4,        /* of what it needs, what a household may differ though it never did */
    SPREAD_MN = 2303,     /* each usual deviation more is ten times less likely. A
                             judgement */
    RUN_PERCENT = 115,    /* of a whole cold tank, in one run */
    TOO_HOT_MC = 8000,    /* above its set point. Common practice, no source */
    WEEK_DAYS = 7,
    UNSATISFIED_DAYS = 8, /* codes ask for a weekly heat-up to 60 C, from memory;
                             and a day's play */
    LOSES_TIMES = 2,
    LOSES_LEAST_W = 60,
    LOSES_MN = 3500, /* two weeks running */
    WORN_PERMILLE = 900,
    RATHER_PERMILLE = 800,
    CERTAIN_MN = 9000,
    REPEATED_MN = 2400,     /* three times within its time */
    REPEATED_FADES_MN = 80, /* a day */
};

#define WEEK_MS (WEEK_DAYS * (int64_t)MS_PER_DAY)

static int64_t wh_of(int64_t mj)
{
    return mj / 3600; /* mJ to mWh */
}

static int32_t mean(int32_t was, int32_t now, int32_t count)
{
    return was + (now - was) / count;
}

/* What stood wrong or right all the time, and not by observations. */
static void suspect_holds(struct suspicion *suspicion, bool holds, int32_t sum_mn,
                          struct moment now)
{
    if (!holds) {
        suspect_end(suspicion);
        return;
    }
    if (!suspicion->stands)
        suspect_set(suspicion, sum_mn, now);
}

/* ---- from opening to opening
 * --------------------------------------------------------- */

/* How unusual it is that so much was drawn and the tank is not, or only now,
 * full: each usual deviation more is ten times less likely. `play_mj` more is
 * nothing. */
static int32_t excess_mn(const struct look_at *at, int64_t heated_mj, int64_t since_ms,
                         int64_t play_mj, int64_t error_mj)
{
    const struct findings_load_memory *memory = at->memory;
    if (memory->openings < EXCESS_OPENINGS || since_ms <= 0 || at->load->full_mj <= 0)
        return 0;
    int64_t excess_mj = heated_mj - memory->needs_w * since_ms - play_mj;
    int64_t spread_mj = (memory->spread_w + memory->needs_w / SPREAD_IN) * since_ms + error_mj;
    int64_t sum_mn = excess_mj / (spread_mj / SPREAD_MN + 1);
    return (int32_t)(sum_mn < 0 ? 0 : sum_mn > CERTAIN_MN ? CERTAIN_MN : sum_mn);
}

static void note_quiet(struct findings_load_memory *memory, int32_t mean_w, int64_t since_ms)
{
    if (memory->quiet_w >= 0 && memory->quiet_w <= mean_w)
        return;
    memory->quiet_w = mean_w;
    memory->quiet_ms = since_ms;
}

static void note_opening(const struct look_at *at)
{
    struct findings_load_memory *memory = at->memory;
    int64_t since_ms = memory->last_since_ms;
    memory->opening_mj = memory->shown_mj;
    memory->excess_mn =
        excess_mn(at, memory->shown_mj, since_ms, 0, at->load->full_mj / CUT_ERROR_IN);
    if (since_ms < NEEDS_LEAST_MS)
        return;
    int64_t mean_w = memory->last_heated_mj / since_ms;
    int32_t needs_w = (int32_t)(mean_w > INT32_MAX / 4 ? INT32_MAX / 4 : mean_w);
    if (memory->openings < UINT16_MAX)
        memory->openings++;
    int32_t count = memory->openings < OPENINGS_MOST ? memory->openings : OPENINGS_MOST;
    int32_t off_w =
        needs_w > memory->needs_w ? needs_w - memory->needs_w : memory->needs_w - needs_w;
    if (memory->openings > 1)
        memory->spread_w = mean(memory->spread_w, off_w, count - 1);
    memory->needs_w = mean(memory->needs_w, needs_w, count);
    note_quiet(memory, needs_w, since_ms);
}

static void week_ends(const struct look_at *at)
{
    struct findings_load_memory *memory = at->memory;
    struct suspicion *suspicion = &memory->suspicion[OF_LOSES_HEAT];
    int32_t usual_w = memory->usual_quiet_w, quiet_w = memory->quiet_w;
    memory->week_began = at->now;
    memory->quiet_w = -1;
    if (quiet_w < 0)
        return;
    bool more = usual_w >= 0 && quiet_w >= LOSES_TIMES * usual_w &&
                quiet_w >= usual_w + LOSES_LEAST_W && quiet_w >= at->load->loss_w * 3 / 2;
    suspect_add(suspicion, more ? LOSES_MN : -LOSES_MN, at->now);
    if (!more) {
        memory->usual_quiet_w = usual_w < 0 ? quiet_w : mean(usual_w, quiet_w, 4);
        return;
    }
    suspicion->number[0] = quiet_w;
    suspicion->number[1] = usual_w;
    suspicion->number[2] = memory->quiet_ms / MS_PER_HOUR;
}

/* ---- too much, too little
 * --------------------------------------------------------------- */

static bool is_too_hot(const struct look_at *at)
{
    return at->told->tank_known && at->load->set_mc > 0 &&
           at->told->tank_mc > at->load->set_mc + TOO_HOT_MC;
}

/* Past its set point a tank takes heat until its cut-out opens, for good: an
 * opening after unusually much of it, and after that no power. */
static int32_t cut_out_mn(const struct look_at *at)
{
    const struct findings_load_memory *memory = at->memory;
    return memory->suspicion[OF_NO_POWER].stands ? memory->excess_mn + SPREAD_MN : 0;
}

static void watch_thermostat(const struct look_at *at)
{
    const struct findings_load_memory *memory = at->memory;
    struct suspicion *suspicion = &at->memory->suspicion[OF_THERMOSTAT];
    int64_t full_mj = at->load->full_mj;
    if (!at->load->thermostat || full_mj <= 0)
        return;
    bool run = memory->run_mj >
               full_mj * RUN_PERCENT / 100 + 2 * (int64_t)memory->needs_w * memory->run_ms;
    int32_t cut_mn = cut_out_mn(at);
    int32_t sum_mn = excess_mn(at, memory->shown_mj, at->told->since_opened_ms, full_mj / EXCESS_IN,
                               full_mj / ERROR_IN);
    sum_mn = is_too_hot(at) || run ? CERTAIN_MN : cut_mn > sum_mn ? cut_mn : sum_mn;
    bool over = at->told->since_opened_ms >= 0 && memory->last_since_ms > at->told->since_opened_ms;
    bool holds = sum_mn > 0 && sum_mn >= wald_upper_mn(WALD_FALSE_PPM, WALD_MISSED_PPM);
    if (!suspicion->stands || over || memory->excess_mn > 0)
        suspect_holds(suspicion, holds, sum_mn, at->now);
    suspicion->number[0] = wh_of(run          ? memory->run_mj
                                 : cut_mn > 0 ? memory->opening_mj
                                              : memory->shown_mj);
    suspicion->number[1] = wh_of(full_mj);
}

static void watch_satisfied(const struct look_at *at)
{
    const struct findings_load_memory *memory = at->memory;
    struct suspicion *suspicion = &at->memory->suspicion[OF_NOT_SATISFIED];
    if (at->told->satisfied)
        at->memory->rested = at->now.mono; /* where it could not be proven it may be full */
    int64_t since_ms = at->told->since_opened_ms;
    if (memory->rested.ms > 0)
        since_ms = minimum_64(since_ms, at->now.mono.ms - memory->rested.ms);
    int64_t days = since_ms / MS_PER_DAY;
    if (!at->load->thermostat || since_ms < 0)
        return;
    int64_t least_mj = (int64_t)memory->needs_w * since_ms / 2;
    bool heats = at->told->heated_mj > 0 && at->told->heated_mj >= least_mj;
    suspect_holds(suspicion, days >= UNSATISFIED_DAYS && heats, CERTAIN_MN, at->now);
    suspicion->number[0] = days;
    suspicion->number[1] = days > 0 ? wh_of(at->told->heated_mj) / days : 0;
    suspicion->number[2] = wh_of((int64_t)memory->needs_w * MS_PER_DAY);
}

/* ---- guarantees
 * ---------------------------------------------------------------------------
 */

/* Most likely nothing reaches it: then no run will bring it. The shower is not cold yet, so
 * this is said before a fault is accepted. */
static bool will_get_nothing(const struct look_at *at)
{
    const struct suspicion *of = at->memory->suspicion;
    return wald_sure_permille(of[OF_NO_POWER].sum_mn) >= RATHER_PERMILLE ||
           of[OF_NOT_CLOSING].stands;
}

static bool is_at_risk(const struct findings_floor *floor, bool gets_nothing)
{
    bool late = floor->needs_ms > floor->left_ms;
    return floor->open && (late || (gets_nothing && floor->left_ms < MS_PER_DAY));
}

static void watch_floors(const struct look_at *at)
{
    struct suspicion *suspicion = &at->memory->suspicion[OF_AT_RISK];
    bool gets_nothing = at->told->floor_count > 0 && will_get_nothing(at);
    uint8_t k = 0;
    while (k < at->told->floor_count && !is_at_risk(&at->told->floor[k], gets_nothing))
        k++;
    suspect_holds(suspicion, k < at->told->floor_count, CERTAIN_MN, at->now);
    if (k == at->told->floor_count)
        return;
    const struct findings_floor *floor = &at->told->floor[k];
    suspicion->number[0] = k + 1;
    suspicion->number[1] = gets_nothing                        ? -1
                           : floor->measure == FLOOR_SATISFIED ? floor->needs_ms
                                                               : floor->missing;
    suspicion->number[2] = floor->deadline_s;
    suspicion->number[3] = floor->denied_by;
    at->memory->at_risk_measure = floor->measure;
}

/* ---- counts
 * ---------------------------------------------------------------------------------
 */

static void watch_contactor(const struct look_at *at)
{
    struct suspicion *suspicion = &at->memory->suspicion[OF_WORN];
    int64_t rated = at->load->rated_operations;
    suspect_holds(suspicion, rated > 0 && at->told->operations >= rated * WORN_PERMILLE / 1000,
                  CERTAIN_MN, at->now);
    suspicion->number[0] = at->told->operations;
    suspicion->number[1] = rated;
}

static void watch_board(const struct look_at *at, bool day_ends)
{
    struct suspicion *contradicts = &at->memory->suspicion[OF_CONTRADICTS];
    struct suspicion *restarted = &at->memory->suspicion[OF_RESTARTED];
    if (at->told->contradicts && !at->memory->was_contradicting)
        suspect_add(contradicts, REPEATED_MN, at->now);
    at->memory->was_contradicting = at->told->contradicts;
    if (at->told->restarted)
        suspect_add(restarted, REPEATED_MN, at->now);
    if (day_ends && contradicts->sum_mn > 0)
        suspect_add(contradicts, -REPEATED_FADES_MN, at->now);
    if (day_ends && restarted->sum_mn > 0)
        suspect_add(restarted, -REPEATED_FADES_MN, at->now);
}

/* Another appliance's step at the start of a full tank would make hours of heat that never went
 * in: what is too much is counted only in runs whose start left no doubt. */
void heat_weighed(const struct look_at *at, const struct experiment *experiment,
                  const struct weighed *weighed)
{
    if (experiment->kind == EXPERIMENT_FOREIGN)
        return;
    bool whole = weighed->full / (RATIO_CLEAR / RATIO_ONE) >= weighed->none;
    at->memory->shown =
        experiment->kind == EXPERIMENT_START && experiment->seen == EXPERIMENT_CLEAR && whole;
}

static void note_run(const struct look_at *at, int64_t dt_ms)
{
    struct findings_load_memory *memory = at->memory;
    int64_t more_mj = at->told->drawn_mj - memory->last_drawn_mj;
    bool draws = memory->shown && at->told->on && at->told->draw_w > 0;
    if (more_mj < 0 || !draws)
        more_mj = 0;
    memory->shown_mj += more_mj;
    memory->run_mj = draws ? memory->run_mj + more_mj : 0;
    memory->run_ms = draws ? memory->run_ms + dt_ms : 0;
    memory->last_drawn_mj = at->told->drawn_mj;
}

void heat_turn(const struct look_at *at, int64_t dt_ms)
{
    struct findings_load_memory *memory = at->memory;
    int64_t since_ms = at->told->since_opened_ms;
    int64_t day = at->now.mono.ms / MS_PER_DAY;
    bool opened = since_ms >= 0 && since_ms < memory->last_since_ms;
    if (opened) {
        note_opening(at);
        memory->shown_mj = 0;
    }
    note_run(at, dt_ms);
    watch_thermostat(at);
    watch_satisfied(at);
    watch_floors(at);
    watch_contactor(at);
    watch_board(at, day != (at->now.mono.ms - dt_ms) / MS_PER_DAY);
    if (at->now.mono.ms - memory->week_began.mono.ms >= WEEK_MS)
        week_ends(at);
    memory->last_since_ms = since_ms;
    memory->last_heated_mj = at->told->heated_mj;
}
