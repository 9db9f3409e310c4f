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
#include "observe/proof.h"

enum { NEEDS_LEAST_MS = 6 * MS_PER_HOUR };

/* Saying why nothing is drawn would be a guess. */
void proof_none(struct observing *o)
{
    struct draw_view *view = &o->draw->view;
    if (!view->unexplained)
        o->news.no_draw = true;
    view->unexplained = true;
}

/* What it must have taken since it was last full, if it is to be full again: a quarter of
 * what its tank loses standing, an eighth of what it took on average between openings. */
static bool can_be_full(const struct observing *o)
{
    const struct draw_memory *draw = o->draw;
    if (!draw->view.has_opened)
        return true;
    int64_t since_ms = minimum_64(o->t - draw->view.opened_at.mono.ms, OBSERVE_TRIAL_MS);
    int64_t least_w = maximum_64(o->given->loss_w / 4, draw->needs_w / 8);
    return draw->heated_mj >= least_w * at_least_0(since_ms);
}

/* With nothing to compare it with, the first opening is one for sure only after as much as
 * the tank can take. */
static bool is_unsure(const struct observing *o)
{
    const struct draw_memory *draw = o->draw;
    int64_t whole = o->given->whole_mj;
    return !draw->view.has_opened && (whole == 0 || draw->heated_mj < whole);
}

static void learn_needs(const struct observing *o)
{
    struct draw_memory *draw = o->draw;
    int64_t since_ms = o->t - draw->view.opened_at.mono.ms;
    if (!draw->view.has_opened || since_ms < NEEDS_LEAST_MS)
        return;
    int64_t mean_w = minimum_64(draw->heated_mj / since_ms, INT32_MAX);
    draw->needs_w =
        draw->needs_w > 0 ? (int32_t)((3 * (int64_t)draw->needs_w + mean_w) / 4) : (int32_t)mean_w;
}

static void prove_opening(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    draw->view.supposed = false;
    if (!can_be_full(o)) {
        proof_none(o);
        return;
    }
    draw->view.unsure = is_unsure(o);
    learn_needs(o);
    draw->heated_mj = 0;
    draw->view.unexplained = false;
    draw->view.has_opened = true;
    draw->view.opened_at = draw->supposed_at;
    o->news.opened = true;
}

/* The meter has shown what the order to switch off did. */
void proof_stop(struct observing *o)
{
    if (!o->draw->view.supposed)
        return;
    if (o->draw->stop == STOP_FLAT)
        prove_opening(o);
    else if (o->draw->stop == STOP_FELL)
        o->draw->view.supposed = o->draw->satisfied = false; /* it had been drawing */
}

/* It has drawn nothing for long enough: it rests, whatever the cause. */
static void rest(struct observing *o)
{
    struct draw_view *view = &o->draw->view;
    o->draw->satisfied = true;
    o->draw->retry_at.ms = o->t + o->given->retry_ms;
    if (o->draw->opened_in_run) {
        view->supposed = true;
        o->draw->supposed_at = o->site.now;
    }
    /* an element that rested for so long would draw again: that it does not proves nothing */
    if (!o->draw->opened_in_run && o->t - o->draw->supposed_at.mono.ms > OBSERVE_TRIAL_MS)
        view->supposed = false;
    bool proven = o->given->own || !o->draw->opened_in_run;
    if (view->supposed && proven)
        prove_opening(o);
    else if (!view->supposed && (view->unexplained || !view->has_opened ||
                                 o->t - view->opened_at.mono.ms > OBSERVE_TRIAL_MS))
        proof_none(o);
}

void proof_watch(struct observing *o)
{
    struct draw_view *view = &o->draw->view;
    if (view->state == DRAW_SEEN) {
        o->draw->satisfied = view->supposed = view->unexplained = false;
    } else if (view->state == DRAW_OPEN && o->given->thermostat && !o->draw->satisfied) {
        int64_t settled = view->since.ms + OBSERVE_SETTLE_MS;
        observe_soon(o, settled);
        if (o->t >= settled && (o->seeing || o->given->own))
            rest(o);
    } else if (o->draw->satisfied && o->given->state == STATE_OFF) {
        if (o->t >= o->draw->retry_at.ms)
            o->draw->satisfied = false;
        else
            observe_soon(o, o->draw->retry_at.ms);
    }
}
