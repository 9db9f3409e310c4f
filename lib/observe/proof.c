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
 * The same tells a store that learns: full, where an opening is proven, or stands because
 * nothing could be seen of the stop; and where more was counted as drawn than it can have
 * taken, and the stop then left no step.
 *
 * An element that draws nothing from the start was not satisfied by heating. It is
 * satisfied still while its last proven opening is recent; else it is not known why. */
#include "observe/proof.h"

enum { NEEDS_LEAST_MS = 6 * MS_PER_HOUR, GUESSED_IN = 8 };

/* Saying why nothing is drawn would be a guess. */
static void unexplained(struct observing *o, bool is_news)
{
    struct draw_view *view = &o->draw->view;
    if (!view->unexplained && is_news)
        o->news.no_draw = true;
    view->unexplained = true;
}

void proof_none(struct observing *o)
{
    unexplained(o, true);
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
 * the tank can take; and none is after a draw that may have been another appliance's. */
static bool is_unsure(const struct observing *o)
{
    const struct draw_memory *draw = o->draw;
    int64_t whole = o->given->whole_mj;
    bool first = !draw->view.has_opened && (whole == 0 || draw->heated_mj < whole);
    return first || draw->supposed_vague;
}

static void learn_needs(const struct observing *o)
{
    struct draw_memory *draw = o->draw;
    int64_t since_ms = o->t - draw->view.opened_at.mono.ms;
    bool guessed = draw->guessed_mj > draw->heated_mj / GUESSED_IN;
    if (!draw->view.has_opened || since_ms < NEEDS_LEAST_MS || guessed)
        return;
    int64_t mean_w = minimum_64(draw->heated_mj / since_ms, INT32_MAX);
    draw->needs_w =
        draw->needs_w > 0 ? (int32_t)((3 * (int64_t)draw->needs_w + mean_w) / 4) : (int32_t)mean_w;
}

static void prove_opening(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    bool is_news = draw->untold;
    draw->view.supposed = draw->untold = false;
    if (!can_be_full(o)) {
        proof_none(o);
        return;
    }
    draw->view.unsure = is_unsure(o);
    learn_needs(o);
    draw->heated_mj = draw->guessed_mj = 0;
    draw->view.unexplained = false;
    draw->view.has_opened = true;
    draw->view.opened_at = draw->supposed_at;
    o->news.opened = true;
    if (is_news)
        o->news.heard = HEARD_FULL;
}

/* The meter has shown what the order to switch off did. `own`: a fall that is its own for sure. */
void proof_stop(struct observing *o, bool own)
{
    struct draw_memory *draw = o->draw;
    if (draw->stop == STOP_FELL) {
        if (draw->untold || draw->doubted)
            o->news.heard = HEARD_DRAWS;
        if (draw->view.supposed)
            draw->view.supposed = draw->satisfied = false;
        if (own)
            draw->view.unexplained = false;
        draw->untold = draw->doubted = false;
    } else if (draw->stop == STOP_FLAT) {
        if (draw->doubted) /* its opening was overlooked: full, though nobody knows since when */
            o->news.heard = HEARD_FULL;
        if (draw->view.supposed)
            prove_opening(o);
        draw->untold = draw->doubted = false;
    }
}

/* It is off, and what switching it off did stays unseen: what the meter said before stands,
 * and a doubt alone says nothing. */
static void settle(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    if (draw->untold && can_be_full(o))
        o->news.heard = HEARD_FULL;
    draw->untold = draw->doubted = false;
}

/* It has drawn nothing for long enough: it rests, whatever the cause. */
static void rest(struct observing *o)
{
    struct draw_view *view = &o->draw->view;
    o->draw->satisfied = true;
    o->draw->retry_at.ms = o->t + o->given->retry_ms;
    if (o->draw->opened_in_run) {
        view->supposed = true;
        o->draw->supposed_vague = view->vague;
        o->draw->supposed_at = o->site.now;
        o->draw->untold = true;
        o->draw->asked = false;
    }
    /* an element that rested for so long would draw again: that it does not proves nothing */
    if (!o->draw->opened_in_run && o->t - o->draw->supposed_at.mono.ms > OBSERVE_TRIAL_MS)
        view->supposed = false;
    bool nothing = !o->draw->opened_in_run && !view->vague; /* drawn from the start on */
    bool proven = o->given->own || nothing;
    if (view->supposed && proven)
        prove_opening(o);
    else if (!view->supposed && (view->unexplained || !view->has_opened ||
                                 o->t - view->opened_at.mono.ms > OBSERVE_TRIAL_MS))
        unexplained(o, nothing);
}

/* What an earlier run left supposed is proven by one that draws nothing from the start. */
static bool is_tried_again(const struct draw_memory *draw)
{
    return draw->view.supposed && !draw->opened_in_run && !draw->view.vague;
}

static void rest_or_retry(struct observing *o)
{
    struct draw_view *view = &o->draw->view;
    bool to_judge = !o->draw->satisfied || is_tried_again(o->draw);
    if (view->state == DRAW_OPEN && o->given->thermostat && to_judge) {
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

/* Whether it draws is asked by switching it on. */
static void answer(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    bool draws = draw->view.state == DRAW_SEEN;
    if (!draw->asked || draw->view.vague ||
        (!draws && !(draw->view.state == DRAW_OPEN && draw->satisfied)))
        return;
    o->news.heard = draws ? HEARD_DRAWS : HEARD_NO_DRAW;
    draw->asked = false;
}

void proof_watch(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    if (draw->view.state == DRAW_SEEN && draw->view.vague) {
        draw->satisfied = false; /* what another appliance may have done explains nothing else */
    } else if (draw->view.state == DRAW_SEEN) {
        draw->satisfied = draw->view.supposed = draw->view.unexplained = false;
        draw->untold &= draw->doubted; /* it draws again, if that is true */
    } else {
        rest_or_retry(o);
    }
    if (draw->view.state == DRAW_OPEN)
        draw->doubted = false; /* it shows its opening by itself */
    if ((draw->untold || draw->doubted) && o->given->state == STATE_OFF &&
        draw->stop != STOP_PENDING)
        settle(o);
    answer(o);
}

bool observe_is_guess(const struct draw_view *view)
{
    return view->state == DRAW_ASSUMED || (view->state == DRAW_SEEN && view->vague);
}

void observe_doubt(struct draw_memory *draw)
{
    draw->doubted |= draw->view.state == DRAW_SEEN || draw->view.state == DRAW_ASSUMED;
}

void observe_hush(struct draw_memory *draw)
{
    draw->untold = draw->doubted = draw->asked = false;
}
