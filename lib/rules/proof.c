/* proof.c - what an element that draws nothing means.
 *
 * An element that stops drawing after heating looks the same whether its thermostat has
 * opened, a cloud has passed, or a breaker has tripped. So an opening is first only
 * supposed, and proven where we switch at a moment that we know: ordered off it leaves no
 * step (it had stopped), or ordered on it makes none. And what was put in since it was
 * last known full must be in proportion to the time since: a tank that serves a household
 * is not full again after next to nothing. The first opening has nothing to be compared
 * with, and is unsure.
 *
 * An element that draws nothing from the start was not satisfied by heating. It is
 * satisfied still while its last proven opening is recent; else it is not known why. */
#include "proof.h"

/* Saying why nothing is drawn would be a guess. */
void proof_none(struct turn *turn, uint16_t index)
{
    struct draw_view *view = &turn->memory->loads[index].draw.view;
    if (!view->unexplained)
        turn_event(turn, EVENT_NO_DRAW, index, 0);
    view->unexplained = true;
}

/* What it must have taken since it was last full, if it is to be full again: a quarter of
 * what its tank loses standing, an eighth of what it took on average between openings. */
static bool can_be_full(const struct turn *turn, const struct load_settings *load,
                        const struct draw_memory *draw)
{
    if (!draw->view.has_opened)
        return true;
    int64_t since_ms = minimum_64(turn->t - draw->view.opened_at.mono.ms, TRIAL_COUNTS_MS);
    int64_t loss_w = load->water.volume_ml > 0 ? load->water.loss_mwh / 24000 : 0;
    int64_t least_w = maximum_64(loss_w / 4, draw->needs_w / 8);
    return draw->heated_mj >= least_w * at_least_0(since_ms);
}

/* What is surely enough from cold: the store's heat, or the heating that a floor until
 * satisfied plans for. 0: neither is set. */
static int64_t whole_mj(const struct load_settings *load)
{
    if (load->water.volume_ml > 0)
        return heat_full_mj(&load->water);
    int64_t most_ms = 0;
    for (uint8_t k = 0; k < load->floor_count; k++)
        if (load->floor[k].measure == FLOOR_SATISFIED)
            most_ms = maximum_64(most_ms, load->floor[k].amount);
    return most_ms * load->power_w;
}

/* With nothing to compare it with, the first opening is one for sure only after as much as
 * the tank can take. */
static bool is_unsure(const struct load_settings *load, const struct draw_memory *draw)
{
    int64_t whole = whole_mj(load);
    return !draw->view.has_opened && (whole == 0 || draw->heated_mj < whole);
}

static void learn_needs(const struct turn *turn, struct draw_memory *draw)
{
    int64_t since_ms = turn->t - draw->view.opened_at.mono.ms;
    if (!draw->view.has_opened || since_ms < NEEDS_LEAST_MS)
        return;
    int64_t mean_w = minimum_64(draw->heated_mj / since_ms, INT32_MAX);
    draw->needs_w =
        draw->needs_w > 0 ? (int32_t)((3 * (int64_t)draw->needs_w + mean_w) / 4) : (int32_t)mean_w;
}

static void prove_opening(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    draw->view.supposed = false;
    if (!can_be_full(turn, &turn->settings->loads[index], draw)) {
        proof_none(turn, index);
        return;
    }
    draw->view.unsure = is_unsure(&turn->settings->loads[index], draw);
    learn_needs(turn, draw);
    draw->heated_mj = 0;
    draw->view.unexplained = false;
    draw->view.has_opened = true;
    draw->view.opened_at = draw->supposed_at;
    turn_event(turn, EVENT_SATISFIED, index, draw->view.unsure);
}

/* The meter has shown what the order to switch off did. */
void proof_stop(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    if (!memory->draw.view.supposed)
        return;
    if (memory->draw.stop == STOP_FLAT)
        prove_opening(turn, index);
    else if (memory->draw.stop == STOP_FELL)
        memory->draw.view.supposed = memory->satisfied = false; /* it had been drawing */
}

/* It has drawn nothing for long enough: it rests, whatever the cause. */
static void rest(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_view *view = &memory->draw.view;
    memory->satisfied = true;
    memory->retry_at.ms = turn->t + turn->settings->loads[index].retry_ms;
    if (memory->draw.opened_in_run) {
        view->supposed = true;
        memory->draw.supposed_at = turn->input->now;
    }
    /* an element that rested for so long would draw again: that it does not proves nothing */
    if (!memory->draw.opened_in_run && turn->t - memory->draw.supposed_at.mono.ms > TRIAL_COUNTS_MS)
        view->supposed = false;
    bool proven = own_meter(turn, index) || !memory->draw.opened_in_run;
    if (view->supposed && proven)
        prove_opening(turn, index);
    else if (!view->supposed && (view->unexplained || !view->has_opened ||
                                 turn->t - view->opened_at.mono.ms > TRIAL_COUNTS_MS))
        proof_none(turn, index);
}

void proof_watch(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_view *view = &memory->draw.view;
    if (view->state == DRAW_SEEN) {
        memory->satisfied = view->supposed = view->unexplained = false;
    } else if (view->state == DRAW_OPEN && turn->settings->loads[index].thermostat &&
               !memory->satisfied) {
        int64_t settled = view->since.ms + SATISFIED_SETTLE_MS;
        turn_soon(turn, settled);
        if (turn->t >= settled && (turn->seeing || own_meter(turn, index)))
            rest(turn, index);
    } else if (memory->satisfied && memory->state == STATE_OFF) {
        if (turn->t >= memory->retry_at.ms)
            memory->satisfied = false;
        else
            turn_soon(turn, memory->retry_at.ms);
    }
}
