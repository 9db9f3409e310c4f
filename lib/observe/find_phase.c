/* find_phase.c - which way, and on which phase, the meter shows what a load does.
 *
 * A load that is switched on adds to import. Where its steps come out the other way round, a
 * transformer or the meter's sign is reversed; where they come on another phase than its own, it
 * or a transformer is on that one. A load draws evenly on its phases. */
#include "observe/find_inside.h"

#include "observe/stat_log.h"

enum { OTHER_MOST_MN = 2303 }; /* ln 10: three of them. A judgement */

static int32_t ratio_mn(int64_t fault, int64_t healthy)
{
    return stat_ln_ratio_mn((uint64_t)fault, (uint64_t)healthy);
}

static int64_t step_on(const struct experiment *experiment, unsigned phase)
{
    int32_t step_w = experiment->phase_step_w[phase];
    return experiment->kind == EXPERIMENT_STOP ? -(int64_t)step_w : step_w;
}

static int64_t as_if(const struct look_at *at, const struct experiment *experiment, unsigned phase,
                     int64_t draws_w)
{
    return density_of(at, experiment, step_on(experiment, phase) - draws_w,
                      slack_of(at, experiment, draws_w < 0 ? -draws_w : draws_w));
}

static void weigh_phase(const struct look_at *at, const struct experiment *experiment,
                        unsigned phase, int64_t share_w)
{
    struct suspicion *suspicion = &at->site->suspicion[OF_PHASE_REVERSED + phase];
    int32_t evidence_mn =
        ratio_mn(as_if(at, experiment, phase, -share_w), as_if(at, experiment, phase, share_w));
    suspect_add(suspicion, evidence_mn, experiment->at);
    if (evidence_mn > 0) {
        suspicion->number[1] = share_w;
        suspicion->number[2] = step_on(experiment, phase);
    }
}

/* On one phase alone: all of its step, and none on the one it should be on. */
static void weigh_other(const struct look_at *at, const struct experiment *experiment, unsigned own,
                        unsigned other, int64_t power_w)
{
    struct suspicion *suspicion = &at->memory->suspicion[OF_OTHER_PHASE + other];
    int32_t evidence_mn =
        ratio_mn(as_if(at, experiment, other, power_w), as_if(at, experiment, other, 0)) +
        ratio_mn(as_if(at, experiment, own, 0), as_if(at, experiment, own, power_w));
    /* an appliance of its size on the other phase, as it starts and stays idle, does the same */
    suspect_add(suspicion, evidence_mn < OTHER_MOST_MN ? evidence_mn : OTHER_MOST_MN,
                experiment->at);
    suspicion->number[1] = own + 1;
    suspicion->number[2] = other + 1;
}

void phase_weighed(const struct look_at *at, const struct experiment *experiment,
                   const struct weighed *weighed)
{
    bool starts = experiment->kind == EXPERIMENT_START && !experiment->drew;
    bool stops = experiment->kind == EXPERIMENT_STOP && experiment->drew;
    if (!(starts || stops) || experiment->seen != EXPERIMENT_CLEAR)
        return;
    if (!experiment->has_phases) {
        struct suspicion *grid = &at->site->suspicion[OF_GRID_REVERSED];
        if (!experiment->metered)
            suspect_add(grid, ratio_mn(weighed->reversed, weighed->full), experiment->at);
        grid->number[1] = weighed->full_w;
        return;
    }
    struct experiment by_grid = *experiment;
    by_grid.metered = false; /* its phases are the grid meter's in any case */
    unsigned count = phases_count(at->load->phases);
    int64_t share_w = weighed->full_w / (int64_t)count;
    for (unsigned phase = 0; phase < PHASES; phase++) {
        if (at->load->phases & (1u << phase))
            weigh_phase(at, &by_grid, phase, share_w);
        else if (count == 1)
            weigh_other(at, &by_grid, (unsigned)__builtin_ctz(at->load->phases), phase, share_w);
    }
}
