/* experiment.c - what each switching showed, for statistics.
 *
 * The estimator decides on each step by itself and forgets it. Faults that come slowly, or
 * show in one of ten switchings, need all of them: so each is told with what was expected,
 * what was seen and how well. Nothing is decided by them here. Beside them stands what the
 * house does by itself from look to look, by which a chance step of the same size can be
 * weighed. */
#include "observe/experiment.h"

#include "observe/looks.h"

/* A start contact or a set-point is obeyed in the load's own time: its step has no moment. */
static bool is_told(const struct observing *o)
{
    return o->given->shows_step || (!o->given->obeys && o->given->own);
}

static bool phase_levels(const struct observing *o, int past, int32_t level_w[static PHASES])
{
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (!phase_level(o, phase, past, &level_w[phase]))
            return false;
    return true;
}

static void phase_steps(const struct observing *o, const int32_t before_w[static PHASES],
                        bool has_before, struct experiment *experiment)
{
    int32_t after_w[PHASES];
    experiment->has_phases = has_before && phase_levels(o, 0, after_w);
    for (unsigned phase = 0; experiment->has_phases && phase < PHASES; phase++)
        experiment->phase_step_w[phase] = after_w[phase] - before_w[phase];
}

static int32_t mean_voltage_mv(const struct observing *o, uint8_t phases)
{
    const struct reading *reading = o->site.reading;
    int64_t sum_mv = 0, count = 0;
    if (reading->grid.quality != READING_FRESH || !(reading->has & HAS_VOLTAGE))
        return 0;
    for (unsigned phase = 0; phase < PHASES; phase++) {
        if (!(phases & (1u << phase)))
            continue;
        sum_mv += reading->voltage_mv[phase];
        count++;
    }
    return count > 0 ? (int32_t)(sum_mv / count) : 0;
}

static void tell(struct observing *o, struct experiment experiment, int64_t at_ms)
{
    const struct draw_memory *draw = o->draw;
    struct observed *observed = o->observed;
    experiment.sequence = ++o->memory->sequence;
    experiment.load = o->given->load;
    experiment.heated_mj = draw->heated_mj;
    experiment.since_opened_ms =
        draw->view.has_opened ? at_least_0(o->t - draw->view.opened_at.mono.ms) : -1;
    experiment.voltage_mv = mean_voltage_mv(o, o->given->phases);
    experiment.at = o->site.now;
    experiment.at.mono.ms = at_ms;
    experiment.at.wall.ms -= o->t - at_ms;
    if (observed->experiment_count < OBSERVE_EXPERIMENTS_MAX)
        observed->experiment[observed->experiment_count++] = experiment;
}

/* ---- by our order --------------------------------------------------------------- */

void experiment_begin(struct observing *o, enum experiment_kind kind)
{
    const struct draw_view *view = &o->draw->view;
    struct ordered *ordered = &o->draw->ordered;
    bool drew = (view->state == DRAW_SEEN && !view->vague) || view->state == DRAW_STUCK;
    /* WAITING: ordered off before its start was told; its contactor may never have closed */
    *ordered = (struct ordered){
        .pending = is_told(o) && view->state != DRAW_WAITING,
        .kind = (uint8_t)kind,
        .drew = drew,
        .thought_open = o->draw->satisfied || view->supposed || view->state == DRAW_OPEN,
        .expected_w =
            kind == EXPERIMENT_START ? o->given->start_w : -(drew ? view->draw_w : view->power_w),
        .draw_w = drew ? view->draw_w : 0,
        .look_ms = o->memory->looked_at.ms,
    };
    ordered->has_phases = phase_levels(o, 0, ordered->phase_w);
}

static struct experiment of_order(const struct ordered *ordered)
{
    return (struct experiment){.kind = ordered->kind,
                               .drew = ordered->drew,
                               .thought_open = ordered->thought_open,
                               .expected_w = ordered->expected_w};
}

void experiment_by_level(struct observing *o, bool shows, bool hidden, bool alike)
{
    struct ordered *ordered = &o->draw->ordered;
    if (!ordered->pending)
        return;
    struct experiment experiment = of_order(ordered);
    experiment.seen = !shows || hidden          ? EXPERIMENT_UNSEEN
                      : o->draw->mixed || alike ? EXPERIMENT_MIXED
                                                : EXPERIMENT_CLEAR;
    if (experiment.seen != EXPERIMENT_UNSEEN) {
        experiment.step_w = o->draw->level_w - o->draw->before_w;
        experiment.window_ms = (int32_t)(o->memory->looked_at.ms - ordered->look_ms);
        phase_steps(o, ordered->phase_w, ordered->has_phases, &experiment);
    }
    ordered->pending = false;
    tell(o, experiment, o->given->since.ms);
}

void experiment_unseen(struct observing *o)
{
    experiment_by_level(o, false, false, false);
}

void experiment_by_own_meter(struct observing *o, int32_t power_w)
{
    struct ordered *ordered = &o->draw->ordered;
    if (!ordered->pending)
        return;
    struct experiment experiment = of_order(ordered);
    experiment.seen = EXPERIMENT_CLEAR;
    experiment.metered = true;
    experiment.step_w = power_w - ordered->draw_w;
    phase_steps(o, ordered->phase_w, ordered->has_phases, &experiment);
    ordered->pending = false;
    tell(o, experiment, o->given->since.ms);
}

/* ---- without an order ------------------------------------------------------------- */

static struct experiment unasked(const struct observing *o, enum experiment_kind kind,
                                 int32_t step_w)
{
    const struct draw_view *view = &o->draw->view;
    int32_t power_w =
        view->state == DRAW_SEEN || view->state == DRAW_STUCK ? view->draw_w : view->power_w;
    struct experiment experiment = {
        .kind = (uint8_t)kind,
        .drew = view->state == DRAW_SEEN || view->state == DRAW_STUCK,
        .thought_open = view->state == DRAW_OPEN,
        .expected_w = kind == EXPERIMENT_OPENED || step_w < 0 ? -power_w : power_w,
        .step_w = step_w,
    };
    int past = looks_to_show(o);
    int32_t before_w[PHASES];
    bool has_before = phase_levels(o, past, before_w);
    phase_steps(o, before_w, has_before, &experiment);
    return experiment;
}

void experiment_unasked(struct observing *o, enum experiment_kind kind)
{
    const struct draw_memory *draw = o->draw;
    int needed = looks_to_show(o);
    struct experiment experiment = unasked(o, kind, draw->level_w - draw->had_w);
    bool vague = draw->view.state == DRAW_SEEN && draw->view.vague &&
                 o->t - draw->view.since.ms < OBSERVE_HEATED_VAGUE_MS;
    experiment.seen = o->undisturbed && !vague ? EXPERIMENT_CLEAR : EXPERIMENT_MIXED;
    experiment.window_ms = (int32_t)(o->memory->at[needed - 1].ms - o->memory->at[needed].ms);
    if (kind != EXPERIMENT_FOREIGN || experiment.drew)
        o->memory->unasked_at.ms = o->t;
    tell(o, experiment, o->t);
}

void experiment_unasked_metered(struct observing *o, enum experiment_kind kind, int32_t power_w)
{
    const struct draw_view *view = &o->draw->view;
    if (!is_told(o))
        return;
    struct experiment experiment = unasked(o, kind, power_w - view->draw_w);
    experiment.metered = true;
    o->memory->unasked_at.ms = o->t;
    tell(o, experiment, o->t);
}

void experiment_background(struct observing *o)
{
    struct background *background = &o->observed->background;
    int32_t before_w[PHASES], after_w[PHASES], had_w, level_w;
    if (!site_level(o, 1, &had_w) || !site_level(o, 0, &level_w))
        return;
    background->known = true;
    background->step_w = level_w - had_w;
    background->spacing_ms = (int32_t)(o->memory->at[0].ms - o->memory->at[1].ms);
    background->has_phases = phase_levels(o, 1, before_w) && phase_levels(o, 0, after_w);
    for (unsigned phase = 0; background->has_phases && phase < PHASES; phase++)
        background->phase_step_w[phase] = after_w[phase] - before_w[phase];
}
