/* find_element.c - does it draw all of its power, and as much as it once did.
 *
 * A lost rod, a lost phase: a third, a half or two thirds is left, from one start to the next.
 * That is tested against its whole power, which is the nameplate's until it was measured, and
 * never learnt from steps that a part would explain. An element that ages loses some per cent
 * over months; what is compared is its resistance, R = U^2 / P, so that a low supply is none. */
#include "observe/find_inside.h"

#include "observe/stat_log.h"

enum {
    LEARN_PERCENT = 20, /* of its power; beyond that it is not the same element */
    LEARN_FIRST = 8,
    LEARN_SLOWLY = 32,
    DRIFT_COUNT = 20,
    DRIFT_DAYS = 30,
    DRIFT_PERMILLE = 80,
    DRIFT_MOST_MN = 8000,
    AGREES_PERCENT = 10,
    GONE_IN = 4, /* a phase is gone where less than this part of its share is left */
};

static void learn_full(struct findings_load_memory *memory, int32_t measured_w)
{
    int32_t weight = memory->full_count + 1;
    if (memory->full_count < UINT16_MAX)
        memory->full_count++;
    if (weight > LEARN_SLOWLY)
        weight = LEARN_SLOWLY;
    memory->full_w += (measured_w - memory->full_w) / weight;
}

bool is_partly_gone(const struct findings_load_memory *load)
{
    for (int k = 0; k < FINDINGS_PARTS; k++)
        if (load->suspicion[OF_PART + k].sum_mn > 0)
            return true;
    return false;
}

static void add_part(const struct look_at *at, int k, int32_t ratio_mn,
                     const struct weighed *weighed, struct moment when)
{
    struct suspicion *suspicion = &at->memory->suspicion[OF_PART + k];
    suspect_add(suspicion, ratio_mn, when);
    if (ratio_mn <= 0)
        return;
    suspicion->number[0] = weighed->step_w;
    suspicion->number[1] = weighed->full_w;
    suspicion->number[2] = 1000 * (int64_t)weighed->step_w / weighed->full_w;
}

/* What a start shows counts once the end of its run shows the same: an appliance that came on with
 * it is gone by then, or stays. */
static bool agrees(const struct look_at *at, const struct weighed *weighed)
{
    int64_t start_w = at->memory->part_step_w, off_w = weighed->step_w - start_w;
    int64_t slack_w = start_w * AGREES_PERCENT / 100 + at->site->steps.resolution_w;
    return start_w > 0 && off_w >= -slack_w && off_w <= slack_w;
}

static void part_weighed(const struct look_at *at, const struct experiment *experiment,
                         const struct weighed *weighed)
{
    struct findings_load_memory *memory = at->memory;
    bool starts = experiment->kind == EXPERIMENT_START, both = !starts && agrees(at, weighed);
    bool picked = experiment->kind == EXPERIMENT_OPENED; /* of itself it weighs nothing */
    for (int k = 0; k < FINDINGS_PARTS; k++) {
        int32_t ratio_mn = stat_ln_ratio_mn((uint64_t)weighed->part[k], (uint64_t)weighed->full);
        if (both)
            add_part(at, k, memory->part_mn[k], weighed, experiment->at);
        if (!picked && (both || ratio_mn < 0))
            add_part(at, k, ratio_mn, weighed, experiment->at);
        memory->part_mn[k] = starts && ratio_mn > 0 ? ratio_mn : 0;
    }
    memory->part_step_w = starts ? weighed->step_w : 0;
}

static void find_lost_phase(const struct look_at *at, const struct experiment *experiment,
                            const struct weighed *weighed)
{
    unsigned count = phases_count(at->load->phases);
    int64_t share_w = weighed->full_w / (int64_t)count;
    int sign = experiment->kind == EXPERIMENT_STOP ? -1 : 1;
    at->memory->lost_phase = 0;
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (at->load->phases & (1u << phase) &&
            (int64_t)sign * experiment->phase_step_w[phase] < share_w / GONE_IN)
            at->memory->lost_phase = (uint8_t)(phase + 1);
}

/* At nominal voltage, so that the next one compares. */
static int32_t at_nominal(const struct look_at *at, const struct weighed *weighed)
{
    return (int32_t)((int64_t)weighed->step_w * at->memory->full_w / weighed->full_w);
}

static void note_resistance(const struct look_at *at, const struct experiment *experiment,
                            const struct weighed *weighed)
{
    struct findings_load_memory *memory = at->memory;
    int64_t mv = experiment->voltage_mv;
    int32_t mohm = (int32_t)(mv * mv / weighed->step_w / 1000 * phases_count(at->load->phases));
    if (memory->first_count < DRIFT_COUNT) {
        if (memory->first_count == 0)
            memory->first_at = experiment->at;
        memory->first_count++;
        memory->first_mohm += (mohm - memory->first_mohm) / memory->first_count;
        return;
    }
    if (memory->recent_count < DRIFT_COUNT)
        memory->recent_count++;
    memory->recent_mohm += (mohm - memory->recent_mohm) / memory->recent_count;
    int32_t off_mohm =
        mohm > memory->recent_mohm ? mohm - memory->recent_mohm : memory->recent_mohm - mohm;
    memory->spread_mohm += (off_mohm - memory->spread_mohm) / memory->recent_count;
}

/* The mean of twenty is off by a spread in four or so; the likelihood of a mean so far off is
 * about exp(-z^2 / 2). */
static void weigh_drift(const struct look_at *at, const struct experiment *experiment)
{
    struct findings_load_memory *memory = at->memory;
    struct suspicion *suspicion = &memory->suspicion[OF_DRIFT];
    int64_t days = (experiment->at.mono.ms - memory->first_at.mono.ms) / MS_PER_DAY;
    int64_t more_mohm = memory->recent_mohm - memory->first_mohm -
                        (int64_t)memory->first_mohm * DRIFT_PERMILLE / 2 / 1000;
    if (memory->recent_count < DRIFT_COUNT || days < DRIFT_DAYS)
        return;
    int64_t error_mohm = memory->spread_mohm / 4 + 1;
    int64_t sum_mn = more_mohm <= 0 ? 0 : 500 * more_mohm / error_mohm * more_mohm / error_mohm;
    bool enough = memory->recent_mohm - memory->first_mohm >=
                  (int64_t)memory->first_mohm * DRIFT_PERMILLE / 1000;
    suspect_set(suspicion, enough ? (int32_t)(sum_mn > DRIFT_MOST_MN ? DRIFT_MOST_MN : sum_mn) : 0,
                experiment->at);
    suspicion->number[0] = memory->recent_mohm;
    suspicion->number[1] = memory->first_mohm;
    suspicion->number[2] = 1000 * (int64_t)memory->first_mohm / memory->recent_mohm;
    suspicion->number[3] = days;
}

static void learn(const struct look_at *at, const struct experiment *experiment,
                  const struct weighed *weighed)
{
    int64_t off_w = weighed->step_w - weighed->full_w;
    int64_t most_w = (int64_t)weighed->full_w * LEARN_PERCENT / 100;
    if (off_w < -most_w || off_w > most_w || is_partly_gone(at->memory))
        return;
    learn_full(at->memory, at_nominal(at, weighed));
    if (experiment->voltage_mv <= 0 || !at->load->resistive)
        return;
    note_resistance(at, experiment, weighed);
    weigh_drift(at, experiment);
}

static bool is_shown(const struct experiment *experiment, const struct weighed *weighed)
{
    return experiment->seen == EXPERIMENT_CLEAR && weighed->ratio >= RATIO_CLEAR &&
           weighed->step_w > 0;
}

void element_weighed(const struct look_at *at, const struct experiment *experiment,
                     const struct weighed *weighed)
{
    bool ordered = experiment->kind == EXPERIMENT_START || experiment->kind == EXPERIMENT_STOP;
    bool opens = experiment->kind == EXPERIMENT_OPENED && at->memory->part_step_w > 0;
    if (ordered && !is_shown(experiment, weighed))
        at->memory->part_step_w = 0;
    if (opens && is_shown(experiment, weighed))
        part_weighed(at, experiment, weighed);
    if (!ordered || !is_shown(experiment, weighed))
        return;
    part_weighed(at, experiment, weighed);
    if (experiment->has_phases && phases_count(at->load->phases) > 1)
        find_lost_phase(at, experiment, weighed);
    learn(at, experiment, weighed);
}
