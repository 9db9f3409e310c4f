/* find_contact.c - switched off, and still drawing; and drawing without an order.
 *
 * A stop that leaves the meter where it was, though the load had been drawing, has one innocent
 * cause: its thermostat had opened in the same moment as something else came on. So it takes two
 * such stops, or one and then steps of the load's own size while it is off: a thermostat behind
 * a closed contact goes on cycling.
 *
 * A run that nobody ordered, after which its own starts still draw, is somebody else's switch;
 * where there is one after another and none of its own starts draws any more, its contact is
 * closed, by itself or past it. Such a run is a step of the load's size up and, well after a kettle
 * would be done, the same down. Other appliances have that size too: how often is known from the
 * same steps while the load itself was on, which cannot have been its own. */
#include "observe/find_inside.h"

#include "observe/stat_log.h"

enum {
    UNNOTICED_PERMILLE = 30, /* of all stops: its thermostat had opened, and nothing showed it */
    UNNOTICED_METERED_PERMILLE = 1,
    UNNOTICED_PARTLY_PERMILLE = 500, /* its step is not the one that is looked for */
    FOREIGN_PERCENT = 4,
    FOREIGN_LEAST_MS = 10 * MS_PER_MIN,
    FOREIGN_MOST_MS = MS_PER_DAY,
    FOREIGN_MOST_MN = 2303, /* ln 10 */
    CLOSED_RUNS = 2,
    LONG_RUNS_PERCENT = 3, /* of an appliance's steps, those that last so long. A judgement */
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
    if (ratio_mn > 0)
        stuck_of(at)->number[0] = weighed->full_w;
}

static bool is_its_size(int64_t step_w, int64_t power_w, int64_t resolution_w)
{
    int64_t off_w = (step_w < 0 ? -step_w : step_w) - power_w;
    int64_t slack_w = power_w * FOREIGN_PERCENT / 100 + resolution_w;
    return off_w >= -slack_w && off_w <= slack_w;
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

static int32_t foreign_mn(const struct look_at *at, int32_t power_w)
{
    int64_t rate_ppm = steps_rate_ppm(&at->site->steps, power_w, power_w, MS_PER_DAY);
    /* of half an octave the part that is as near, up as well as down */
    int64_t like_ppm = rate_ppm * FOREIGN_PERCENT / 100 * LONG_RUNS_PERCENT / 100 * 2;
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
    if (step_w >= 0 || !run->runs || !is_its_size(step_w, run->step_w, resolution_w))
        return false;
    int64_t lasted_ms = at.mono.ms - run->from.mono.ms;
    run->runs = false;
    return lasted_ms >= FOREIGN_LEAST_MS && lasted_ms <= FOREIGN_MOST_MS;
}

/* Somebody else's switch or, once its own starts draw no more, a contact that is closed. */
static void foreign_run(const struct look_at *at, const struct experiment *experiment,
                        int32_t power_w)
{
    struct findings_load_memory *memory = at->memory;
    struct suspicion *foreign = &memory->suspicion[OF_FOREIGN];
    int32_t evidence_mn = experiment->metered ? FOREIGN_MOST_MN : foreign_mn(at, power_w);
    if (memory->foreign_runs < UINT16_MAX)
        memory->foreign_runs++;
    suspect_add(foreign, evidence_mn, experiment->at);
    foreign->number[1] = power_w;
    if (memory->foreign_runs >= CLOSED_RUNS) {
        suspect_add(stuck_of(at), evidence_mn, experiment->at);
        stuck_of(at)->number[0] = power_w;
    }
    power_foreign_run(at);
}

static void foreign_step(const struct look_at *at, const struct experiment *experiment)
{
    int32_t power_w = full_at(at, experiment->voltage_mv);
    bool ends = follow_run(&at->memory->foreign, experiment->step_w, power_w,
                           at->site->steps.resolution_w, experiment->at);
    if (stuck_of(at)->sum_mn > 0 && at->memory->foreign_runs == 0)
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

/* The same steps while it is on itself are another appliance's. */
void contact_turn(const struct look_at *at, const struct background *background)
{
    struct suspicion *foreign = &at->memory->suspicion[OF_FOREIGN];
    bool control = at->told->on && background && background->known;
    if (control && follow_run(&at->memory->likewise, background->step_w, full_at(at, 0),
                              at->site->steps.resolution_w, at->now))
        suspect_add(foreign, -FOREIGN_MOST_MN, at->now);
    if (!at->told->on)
        at->memory->likewise.runs = false;
}
