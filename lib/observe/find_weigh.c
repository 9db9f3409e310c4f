/* find_weigh.c - a step, as each hypothesis of the load would have it.
 *
 * Under each the load adds so much, known within some slack (its voltage, its first watts), and
 * the rest of the step was the house's (stat_steps.h). A load with a meter of its own has no
 * house in its step; there only that meter's error is left. */
#include "observe/find_inside.h"

enum {
    SLACK_NEW_PERCENT = 12,  /* before its power was measured often enough */
    SLACK_PERCENT = 4,       /* with the voltage known */
    SLACK_BLIND_PERCENT = 9, /* a supply moves within some 10 % (EN 50160: +-10 %), from memory */
    KNOWN_COUNT = 5,
    METER_ERROR_W = 20,
    STANDING_USUAL_MS =
        36 * MS_PER_HOUR, /* about two days at the most: common practice, no source */
    METERED_JUNK = 500000000,
    RARE_IN = 100, /* starts with a part of its power, or turned round, before one is suspected */
    WINDOW_MS = 5000, /* where the load's own meter showed the step and the grid's is asked */
};

const int32_t part_permille[FINDINGS_PARTS] = {333, 500, 667};

int32_t full_at(const struct look_at *at, int32_t voltage_mv)
{
    int64_t nominal_mv = at->settings->voltage_mv;
    int64_t power_w = at->memory->full_w;
    if (!at->load->resistive || voltage_mv <= 0 || nominal_mv <= 0)
        return (int32_t)power_w;
    return (int32_t)(power_w * voltage_mv / nominal_mv * voltage_mv / nominal_mv);
}

int64_t slack_of(const struct look_at *at, const struct experiment *experiment, int64_t power_w)
{
    int64_t percent = at->memory->full_count < KNOWN_COUNT ? SLACK_NEW_PERCENT
                      : experiment->voltage_mv > 0         ? SLACK_PERCENT
                                                           : SLACK_BLIND_PERCENT;
    return power_w * percent / 100;
}

int64_t density_of(const struct look_at *at, const struct experiment *experiment, int64_t rest_w,
                   int64_t slack_w)
{
    if (!experiment->metered)
        return steps_density(&at->site->steps, rest_w, slack_w,
                             experiment->window_ms > 0 ? experiment->window_ms : WINDOW_MS);
    int64_t within_w = slack_w + METER_ERROR_W;
    bool within = rest_w >= -within_w && rest_w <= within_w;
    return METERED_JUNK + (within ? 1000000000000000 / (2 * within_w) : 0);
}

static int64_t greater(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

/* That a fault explains a step better than a healthy load does not make it likely. */
static int64_t at_its_rarity(const struct suspicion *suspicion, int64_t density)
{
    return suspicion->sum_mn > 0 ? density : density / RARE_IN;
}

void weigh(const struct look_at *at, const struct experiment *experiment, struct weighed *weighed)
{
    bool falls = experiment->kind == EXPERIMENT_STOP || experiment->kind == EXPERIMENT_OPENED;
    int64_t step_w = falls ? -(int64_t)experiment->step_w : experiment->step_w;
    int64_t full_w = full_at(at, experiment->voltage_mv);
    int64_t learnt_w =
        experiment->expected_w < 0 ? -(int64_t)experiment->expected_w : experiment->expected_w;
    int64_t slack_w = slack_of(at, experiment, full_w);
    weighed->step_w = (int32_t)step_w;
    weighed->full_w = (int32_t)full_w;
    weighed->none = density_of(at, experiment, step_w, 0);
    weighed->full = density_of(at, experiment, step_w - full_w, slack_w);
    weighed->reversed = density_of(at, experiment, step_w + full_w, slack_w);
    weighed->draws = greater(
        weighed->full, at_its_rarity(&at->site->suspicion[OF_GRID_REVERSED], weighed->reversed));
    weighed->draws =
        greater(weighed->draws, density_of(at, experiment, step_w - learnt_w, slack_w));
    for (int k = 0; k < FINDINGS_PARTS; k++) {
        int64_t part_w = full_w * part_permille[k] / 1000;
        weighed->part[k] =
            density_of(at, experiment, step_w - part_w, slack_w * part_permille[k] / 1000);
        weighed->draws = greater(
            weighed->draws, at_its_rarity(&at->memory->suspicion[OF_PART + k], weighed->part[k]));
    }
    int64_t ratio = weighed->draws / (weighed->none / RATIO_ONE + 1);
    weighed->ratio = ratio > RATIO_MOST ? RATIO_MOST
                     : ratio < RATIO_ONE * RATIO_ONE / RATIO_MOST
                         ? RATIO_ONE * RATIO_ONE / RATIO_MOST
                         : ratio;
}

int64_t standing_ms(const struct findings_load_settings *load)
{
    if (load->band_mj <= 0 || load->loss_w <= 0)
        return STANDING_USUAL_MS;
    int64_t alone_ms = load->band_mj / load->loss_w;
    return alone_ms < MS_PER_HOUR               ? MS_PER_HOUR
           : alone_ms > 4 * (int64_t)MS_PER_DAY ? 4 * (int64_t)MS_PER_DAY
                                                : alone_ms;
}
