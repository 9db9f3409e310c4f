/* find_contact.c - switched off, and still drawing; and drawing without an order.
 *
 * A stop that leaves the meter where it was, though the load had been drawing, has one innocent
 * cause: its thermostat had opened in the same moment as something else came on. So it takes two
 * such stops, or one and then steps of the load's own size while it is off: a thermostat behind
 * a closed contact goes on cycling.
 *
 * A run that nobody ordered, by the load's own meter, after which its own starts still draw, is
 * somebody else's switch. By the grid's meter it is a step of the load's size up and, well after
 * a kettle would be done, the same down, and any appliance of that size does the same: it speaks
 * for nothing unless the load has a thermostat and each of its own starts in between, over days,
 * shows nothing. Then its contact is closed, by itself or past it. */
#include "observe/find_inside.h"

#include "observe/stat_log.h"

enum {
    UNNOTICED_PERMILLE = 30, /* of all stops: its thermostat had opened, and nothing showed it */
    UNNOTICED_METERED_PERMILLE = 1,
    UNNOTICED_PARTLY_PERMILLE = 500, /* its step is not the one that is looked for */
    FOREIGN_PERCENT = 4,
    ENDS_PERCENT = 8, /* the voltage has moved since it began */
    FOREIGN_LEAST_MS = 10 * MS_PER_MIN,
    FOREIGN_MOST_MS = MS_PER_DAY,
    FOREIGN_METERED_MN = 2303, /* ln 10 */
    FOREIGN_MOST_MN = 1500,    /* several of them, over days. A judgement */
    FOREIGN_APART_MS = 6 * MS_PER_HOUR,
    CLOSED_RUNS = 2,
    FEEDS_LEAST_MS = MS_PER_DAY,
    FEEDS_MOST = 2, /* times what it needs, and at least a half. A judgement */
    FEEDS_IN = 2,
    CYCLE_LEAST_MS = 30 * MS_PER_MIN,
    CYCLES_MS = 6 * MS_PER_HOUR, /* in which a thermostat that is left to itself acts once */
    MILLION = 1000000,
};

static struct suspicion *stuck_of(const struct look_at *at)
{
    return &at->memory->suspicion[OF_STUCK];
}

static void stop_weighed(const struct look_at *at, const struct experiment *experiment,
                         const struct weighed *weighed)
{
    int64_t unnoticed = experiment->metered          ? UNNOTICED_METERED_PERMILLE
                        : is_partly_gone(at->memory) ? UNNOTICED_PARTLY_PERMILLE
                                                     : UNNOTICED_PERMILLE;
    int64_t healthy = weighed->draws / 1000 * (1000 - unnoticed) + weighed->none / 1000 * unnoticed;
    int32_t ratio_mn = stat_ln_ratio_mn((uint64_t)weighed->none, (uint64_t)healthy + 1);
    suspect_add(stuck_of(at), ratio_mn, experiment->at);
    if (ratio_mn <= 0)
        return;
    stuck_of(at)->number[0] = weighed->full_w;
    stuck_of(at)->number[1]++;
}

static bool is_near(int64_t step_w, int64_t power_w, int64_t resolution_w, int64_t percent)
{
    int64_t off_w = (step_w < 0 ? -step_w : step_w) - power_w;
    int64_t slack_w = power_w * percent / 100 + resolution_w;
    return off_w >= -slack_w && off_w <= slack_w;
}

static bool is_its_size(int64_t step_w, int64_t power_w, int64_t resolution_w)
{
    return is_near(step_w, power_w, resolution_w, FOREIGN_PERCENT);
}

/* Off, and a step of its size: how much rather its own thermostat's than another appliance's. */
static int32_t own_cycle_mn(const struct look_at *at, int32_t power_w)
{
    int64_t chance_ppm = steps_rate_ppm(&at->site->steps, power_w, power_w, CYCLES_MS);
    int32_t ratio_mn = stat_ln_ratio_mn(MILLION, (uint64_t)chance_ppm);
    return ratio_mn < 0 ? 0 : ratio_mn;
}

/* An oven cycles in minutes, and a tank's thermostat in hours. */
static void own_cycle(const struct look_at *at, const struct experiment *experiment,
                      int32_t power_w)
{
    struct findings_load_memory *memory = at->memory;
    bool again = experiment->at.mono.ms - memory->cycled.mono.ms < CYCLE_LEAST_MS;
    memory->cycled = experiment->at;
    if (!again && is_its_size(experiment->step_w, power_w, at->site->steps.resolution_w))
        suspect_add(stuck_of(at), own_cycle_mn(at, power_w), experiment->at);
}

/* ---- runs that nobody ordered ------------------------------------------------------- */

/* Steps of its size as often as the house shows them, nearly all of which are shorter runs. */
static int32_t foreign_mn(const struct look_at *at, int32_t power_w)
{
    int64_t day_ppm = steps_rate_ppm(&at->site->steps, power_w, power_w, MS_PER_DAY);
    /* of half an octave the part that is as near, up as well as down */
    int64_t like_ppm = day_ppm * FOREIGN_PERCENT / 100 * 2;
    int32_t ratio_mn = stat_ln_ratio_mn(MILLION, (uint64_t)like_ppm);
    return ratio_mn < 0 ? 0 : ratio_mn > FOREIGN_MOST_MN ? FOREIGN_MOST_MN : ratio_mn;
}

/* True: a whole run of this size has just ended. */
static bool follow_run(struct findings_run *run, int64_t step_w, int64_t power_w,
                       int64_t resolution_w, struct moment at)
{
    if (step_w > 0 && is_its_size(step_w, power_w, resolution_w)) {
        *run = (struct findings_run){.runs = true, .step_w = (int32_t)step_w, .from = at};
        return false;
    }
    if (step_w >= 0 || !run->runs || !is_near(step_w, run->step_w, resolution_w, ENDS_PERCENT))
        return false;
    int64_t lasted_ms = at.mono.ms - run->from.mono.ms;
    run->runs = false;
    return lasted_ms >= FOREIGN_LEAST_MS && lasted_ms <= FOREIGN_MOST_MS;
}

static void closed_by_run(const struct look_at *at, const struct experiment *experiment,
                          int32_t power_w, int32_t evidence_mn)
{
    suspect_add(stuck_of(at), evidence_mn, experiment->at);
    stuck_of(at)->number[0] = power_w;
}

static void metered_run(const struct look_at *at, const struct experiment *experiment,
                        int32_t power_w)
{
    struct suspicion *foreign = &at->memory->suspicion[OF_FOREIGN];
    suspect_add(foreign, FOREIGN_METERED_MN, experiment->at);
    foreign->number[1] = power_w;
    if (at->memory->foreign_runs >= CLOSED_RUNS)
        closed_by_run(at, experiment, power_w, FOREIGN_METERED_MN);
}

enum feeds { FEEDS_UNKNOWN, FEEDS_TANK, FEEDS_MORE };

/* None of its own starts has drawn anything for a day: does what runs without an order take about
 * what its tank needs, or far more? */
static enum feeds what_runs_feed(const struct look_at *at)
{
    const struct findings_load_memory *memory = at->memory;
    int64_t since_ms = at->now.mono.ms - memory->drew.ms;
    bool known = memory->drew.ms != MONO_NEVER.ms && memory->openings >= LEAST_DAYS_OF_HEAT;
    if (!known || since_ms < FEEDS_LEAST_MS || memory->idle_starts < CLOSED_RUNS)
        return FEEDS_UNKNOWN;
    int64_t needs_mj = memory->needs_w * since_ms;
    return memory->foreign_mj > FEEDS_MOST * needs_mj  ? FEEDS_MORE
           : memory->foreign_mj >= needs_mj / FEEDS_IN ? FEEDS_TANK
                                                       : FEEDS_UNKNOWN;
}

/* Of a day's cycles of an air conditioner only some are looked at. */
static void unmetered_run(const struct look_at *at, const struct experiment *experiment,
                          int32_t power_w)
{
    struct findings_load_memory *memory = at->memory;
    bool flat_between = memory->tried_bits != 0;
    bool apart = experiment->at.mono.ms - memory->cycled.mono.ms >= FOREIGN_APART_MS;
    enum feeds feeds = what_runs_feed(at);
    if (!at->load->thermostat || memory->foreign_runs < CLOSED_RUNS || feeds == FEEDS_MORE)
        return;
    if (feeds == FEEDS_TANK) {
        closed_by_run(at, experiment, power_w, FOREIGN_METERED_MN);
        return;
    }
    if (!flat_between || !apart)
        return;
    memory->cycled = experiment->at;
    closed_by_run(at, experiment, power_w, foreign_mn(at, power_w));
}

static void foreign_run(const struct look_at *at, const struct experiment *experiment,
                        int32_t power_w)
{
    at->memory->foreign_mj +=
        at->memory->foreign.step_w * (experiment->at.mono.ms - at->memory->foreign.from.mono.ms);
    if (at->memory->foreign_runs < UINT16_MAX)
        at->memory->foreign_runs++;
    if (experiment->metered)
        metered_run(at, experiment, power_w);
    else
        unmetered_run(at, experiment, power_w);
    power_foreign_run(at);
}

static void foreign_step(const struct look_at *at, const struct experiment *experiment)
{
    int32_t power_w = full_at(at, experiment->voltage_mv);
    bool ends = follow_run(&at->memory->foreign, experiment->step_w, power_w,
                           at->site->steps.resolution_w, experiment->at);
    bool cycles = at->load->thermostat && stuck_of(at)->sum_mn > 0;
    if (cycles && at->memory->foreign_runs == 0)
        own_cycle(at, experiment, power_w);
    else if (ends)
        foreign_run(at, experiment, power_w);
}

void contact_weighed(const struct look_at *at, const struct experiment *experiment,
                     const struct weighed *weighed)
{
    if (experiment->seen != EXPERIMENT_CLEAR)
        return;
    /* a start that showed nothing is no evidence that it drew, whatever came on since */
    bool falls = experiment->kind == EXPERIMENT_STOP && weighed->ratio >= RATIO_CLEAR;
    if (falls && !experiment->drew)
        suspect_end(stuck_of(at)); /* it had drawn, and does no longer */
    else if (experiment->kind == EXPERIMENT_STOP && experiment->drew && !at->memory->was_flat)
        stop_weighed(at, experiment, weighed);
    else if (experiment->kind == EXPERIMENT_START && weighed->ratio >= RATIO_CLEAR) {
        suspect_end(stuck_of(at)); /* it drew nothing before */
        at->memory->foreign.runs = false;
    } else if (experiment->kind == EXPERIMENT_FOREIGN)
        foreign_step(at, experiment);
}
