/* experiment.c - what each switching showed, for statistics.
 *
 * The estimator decides on each step by itself and forgets it. Faults that come slowly, or
 * show in one of ten switchings, need all of them: so each is told with what was expected,
 * what was seen and how well. Nothing is decided by them here. Beside them stands what the
 * house does by itself from look to look, by which a chance step of the same size can be
 * weighed. */
#include "experiment.h"

#include "kind.h"
#include "observe.h"

/* A start contact or a set-point is obeyed in the load's own time: its step has no moment. */
static bool is_told(const struct turn *turn, uint16_t index)
{
    const struct kind *kind = kind_of(&turn->settings->loads[index]);
    return kind->shows_step || (!kind->obeys && own_meter(turn, index));
}

static bool phase_levels(const struct turn *turn, int past, int32_t level_w[static PHASES])
{
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (!phase_level(turn, phase, past, &level_w[phase]))
            return false;
    return true;
}

static void phase_steps(const struct turn *turn, const int32_t before_w[static PHASES],
                        bool has_before, struct experiment *experiment)
{
    int32_t after_w[PHASES];
    experiment->has_phases = has_before && phase_levels(turn, 0, after_w);
    for (unsigned phase = 0; experiment->has_phases && phase < PHASES; phase++)
        experiment->phase_step_w[phase] = after_w[phase] - before_w[phase];
}

static int32_t mean_voltage_mv(const struct turn *turn, uint8_t phases)
{
    const struct reading *reading = turn->input->reading;
    int64_t sum_mv = 0, count = 0;
    if (!turn->fresh || !(reading->has & HAS_VOLTAGE))
        return 0;
    for (unsigned phase = 0; phase < PHASES; phase++) {
        if (!(phases & (1u << phase)))
            continue;
        sum_mv += reading->voltage_mv[phase];
        count++;
    }
    return count > 0 ? (int32_t)(sum_mv / count) : 0;
}

static void tell(struct turn *turn, uint16_t index, struct experiment experiment, int64_t at_ms)
{
    const struct draw_memory *draw = &turn->memory->loads[index].draw;
    struct rules_outcome *outcome = turn->outcome;
    experiment.sequence = ++turn->memory->experiment_sequence;
    experiment.load = index;
    experiment.heated_mj = draw->heated_mj;
    experiment.since_opened_ms =
        draw->view.has_opened ? at_least_0(turn->t - draw->view.opened_at.mono.ms) : -1;
    experiment.voltage_mv = mean_voltage_mv(turn, turn->settings->loads[index].phases);
    experiment.at = turn->input->now;
    experiment.at.mono.ms = at_ms;
    experiment.at.wall.ms -= turn->t - at_ms;
    if (outcome->experiment_count < RULES_EXPERIMENTS_MAX)
        outcome->experiment[outcome->experiment_count++] = experiment;
}

/* ---- by our order --------------------------------------------------------------- */

void experiment_begin(struct turn *turn, uint16_t index, enum experiment_kind kind)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    const struct draw_view *view = &memory->draw.view;
    struct ordered *ordered = &memory->draw.ordered;
    bool drew = view->state == DRAW_SEEN || view->state == DRAW_STUCK;
    /* WAITING: ordered off before its start was told; its contactor may never have closed */
    *ordered = (struct ordered){
        .pending = is_told(turn, index) && view->state != DRAW_WAITING,
        .kind = (uint8_t)kind,
        .drew = drew,
        .thought_open = memory->satisfied || view->supposed || view->state == DRAW_OPEN,
        .expected_w = kind == EXPERIMENT_START ? load_start_w(load, memory)
                                               : -(drew ? view->draw_w : view->power_w),
        .draw_w = drew ? view->draw_w : 0,
        .look_ms = turn->memory->looked_at.ms,
    };
    ordered->has_phases = phase_levels(turn, 0, ordered->phase_w);
}

static struct experiment of_order(const struct ordered *ordered)
{
    return (struct experiment){.kind = ordered->kind,
                               .drew = ordered->drew,
                               .thought_open = ordered->thought_open,
                               .expected_w = ordered->expected_w};
}

void experiment_by_level(struct turn *turn, uint16_t index, bool shows, bool hidden)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct ordered *ordered = &memory->draw.ordered;
    if (!ordered->pending)
        return;
    struct experiment experiment = of_order(ordered);
    experiment.seen = !shows || hidden     ? EXPERIMENT_UNSEEN
                      : memory->draw.mixed ? EXPERIMENT_MIXED
                                           : EXPERIMENT_CLEAR;
    if (experiment.seen != EXPERIMENT_UNSEEN) {
        experiment.step_w = memory->draw.level_w - memory->draw.before_w;
        experiment.window_ms = (int32_t)(turn->memory->looked_at.ms - ordered->look_ms);
        phase_steps(turn, ordered->phase_w, ordered->has_phases, &experiment);
    }
    ordered->pending = false;
    tell(turn, index, experiment, memory->since.ms);
}

void experiment_unseen(struct turn *turn, uint16_t index)
{
    experiment_by_level(turn, index, false, false);
}

void experiment_by_own_meter(struct turn *turn, uint16_t index, int32_t power_w)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct ordered *ordered = &memory->draw.ordered;
    if (!ordered->pending)
        return;
    struct experiment experiment = of_order(ordered);
    experiment.seen = EXPERIMENT_CLEAR;
    experiment.metered = true;
    experiment.step_w = power_w - ordered->draw_w;
    phase_steps(turn, ordered->phase_w, ordered->has_phases, &experiment);
    ordered->pending = false;
    tell(turn, index, experiment, memory->since.ms);
}

/* ---- without an order ------------------------------------------------------------- */

static struct experiment unasked(const struct turn *turn, uint16_t index, enum experiment_kind kind,
                                 int32_t step_w)
{
    const struct draw_view *view = &turn->memory->loads[index].draw.view;
    int32_t power_w =
        view->state == DRAW_SEEN || view->state == DRAW_STUCK ? view->draw_w : view->power_w;
    struct experiment experiment = {
        .kind = (uint8_t)kind,
        .drew = view->state == DRAW_SEEN || view->state == DRAW_STUCK,
        .thought_open = view->state == DRAW_OPEN,
        .expected_w = kind == EXPERIMENT_OPENED || step_w < 0 ? -power_w : power_w,
        .step_w = step_w,
    };
    int past = looks_to_show(turn);
    int32_t before_w[PHASES];
    bool has_before = phase_levels(turn, past, before_w);
    phase_steps(turn, before_w, has_before, &experiment);
    return experiment;
}

void experiment_unasked(struct turn *turn, uint16_t index, enum experiment_kind kind)
{
    const struct draw_memory *draw = &turn->memory->loads[index].draw;
    int needed = looks_to_show(turn);
    struct experiment experiment = unasked(turn, index, kind, draw->level_w - draw->had_w);
    experiment.seen = turn->undisturbed ? EXPERIMENT_CLEAR : EXPERIMENT_MIXED;
    experiment.window_ms =
        (int32_t)(turn->memory->site.at[needed - 1].ms - turn->memory->site.at[needed].ms);
    if (kind != EXPERIMENT_FOREIGN || experiment.drew)
        turn->memory->site.unasked_at.ms = turn->t;
    tell(turn, index, experiment, turn->t);
}

void experiment_unasked_metered(struct turn *turn, uint16_t index, enum experiment_kind kind,
                                int32_t power_w)
{
    const struct draw_view *view = &turn->memory->loads[index].draw.view;
    if (!is_told(turn, index))
        return;
    struct experiment experiment = unasked(turn, index, kind, power_w - view->draw_w);
    experiment.metered = true;
    turn->memory->site.unasked_at.ms = turn->t;
    tell(turn, index, experiment, turn->t);
}

void experiment_background(struct turn *turn)
{
    struct background *background = &turn->outcome->background;
    int32_t before_w[PHASES], after_w[PHASES], had_w, level_w;
    if (!site_level(turn, 1, &had_w) || !site_level(turn, 0, &level_w))
        return;
    background->known = true;
    background->step_w = level_w - had_w;
    background->spacing_ms = (int32_t)(turn->memory->site.at[0].ms - turn->memory->site.at[1].ms);
    background->has_phases = phase_levels(turn, 1, before_w) && phase_levels(turn, 0, after_w);
    for (unsigned phase = 0; background->has_phases && phase < PHASES; phase++)
        background->phase_step_w[phase] = after_w[phase] - before_w[phase];
}
