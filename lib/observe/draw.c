/* draw.c - what shows of each load.
 *
 * Most loads have no meter of their own. But a contactor closes and opens at a moment
 * that we know, so the step of what the house takes (looks.c) at that moment is the
 * load's; and a thermostat that opens is a step of the same size down while nothing was
 * ordered. Steps count only where they can be told from all else: nothing else switching,
 * the size within 15 % (and 50 W), and no step at all where it stays within a quarter. A
 * step that may be another appliance's is taken for what it may be, and called vague: its
 * heat proves nothing.
 *
 * What nothing can show (a request in its own time, a set-point, a meter that is away) is
 * counted as drawing, for a floor must be kept without a meter too; but that is no
 * evidence, and is told as such. What an element that draws nothing means is judged in
 * proof.c. */
#include "observe/experiment.h"
#include "observe/looks.h"
#include "observe/proof.h"

enum {
    FIT_W = 50,
    FIT_PERCENT = 15,
    NAMEPLATE_PERCENT = 12,
    HEATED_MS = MS_PER_MIN,
    ALIKE_MS = MS_PER_HOUR,
    ALIKE_SHORT_MS = 5 * MS_PER_MIN, /* no tank's thermostat goes back and forth so soon */
};

static int64_t allowed_w(int64_t power_w)
{
    return power_w * FIT_PERCENT / 100 + FIT_W;
}

static bool fits(int64_t step_w, int64_t power_w)
{
    int64_t off_w = step_w - power_w;
    return off_w >= -allowed_w(power_w) && off_w <= allowed_w(power_w);
}

static bool stayed(int64_t step_w, int64_t power_w)
{
    return step_w >= -(power_w / 4) && step_w <= power_w / 4;
}

static void draw_enter(struct observing *o, struct draw_view *view, enum draw_state state,
                       int32_t draw_w)
{
    if (view->state != state)
        view->since.ms = o->t;
    view->state = state;
    view->draw_w = draw_w;
}

static void tell_if_off_nameplate(struct observing *o, bool was_measured, int32_t was_w)
{
    int32_t plate_w = o->given->plate_w;
    int32_t now_w = o->draw->view.power_w;
    int64_t limit_w = (int64_t)plate_w * NAMEPLATE_PERCENT / 100;
    bool was_off = was_measured && (was_w > plate_w + limit_w || was_w < plate_w - limit_w);
    bool is_off = now_w > plate_w + limit_w || now_w < plate_w - limit_w;
    if (is_off && !was_off)
        o->news.power_differs = true;
}

/* Within half and one and a half of the nameplate: beyond that something else
 * switched at the same moment. */
static bool is_credible(const struct observing *o, int32_t measured_w)
{
    int32_t plate_w = o->given->plate_w;
    return measured_w >= plate_w / 2 && measured_w <= plate_w + plate_w / 2;
}

static void power_is(struct observing *o, int32_t power_w)
{
    struct draw_view *view = &o->draw->view;
    bool was_measured = view->power_measured;
    int32_t was_w = view->power_w;
    view->power_w = power_w;
    view->power_measured = true;
    tell_if_off_nameplate(o, was_measured, was_w);
}

static void learn_power(struct observing *o, int32_t measured_w)
{
    const struct draw_view *view = &o->draw->view;
    if (is_credible(o, measured_w))
        power_is(o, view->power_measured ? (int32_t)(((int64_t)3 * view->power_w + measured_w) / 4)
                                         : measured_w);
}

/* ---- other appliances of its size ------------------------------------------------ */

static bool is_alike(const struct observing *o)
{
    return o->t < o->draw->alike_until.ms;
}

static void note_alike(struct observing *o)
{
    o->draw->alike_until.ms = o->t + ALIKE_MS;
}

/* It goes back and forth sooner than a tank's thermostat does. */
static void note_if_short(struct observing *o)
{
    if (o->draw->unasked && o->t - o->draw->view.since.ms < ALIKE_SHORT_MS)
        note_alike(o);
}

/* A step of its size that cannot be its own. `pending`: what its own stop did is yet to show. */
static void watch_alike(struct observing *o, bool pending)
{
    const struct draw_memory *draw = o->draw;
    int64_t step_w = (int64_t)draw->level_w - draw->had_w;
    enum draw_state state = draw->view.state;
    if (!o->look || !draw->has_had || o->site.switching_count > 0 || pending)
        return;
    bool others = (step_w > 0 && state == DRAW_SEEN) || (step_w < 0 && state == DRAW_OPEN) ||
                  (state == DRAW_NONE && o->given->state == STATE_OFF);
    if (others && fits(step_w < 0 ? -step_w : step_w, draw->view.power_w))
        note_alike(o);
}

/* ---- a start ------------------------------------------------------------------ */

static void no_step_at_start(struct observing *o)
{
    struct draw_view *view = &o->draw->view;
    o->draw->unasked = false;
    draw_enter(o, view, DRAW_OPEN, 0);
    if (!o->given->thermostat)
        proof_none(o); /* it cannot stop drawing by itself */
}

/* What the meter may still have to show, and until when it is waited for. */
static bool can_wait(struct observing *o, bool shows)
{
    int64_t shown_at = o->given->since.ms + OBSERVE_SHOW_MS,
            most = o->given->since.ms + 3 * OBSERVE_SHOW_MS;
    bool will_show = !shows && o->seeing && o->draw->has_before;
    if (o->t >= shown_at && (!will_show || o->t >= most))
        return false;
    observe_soon(o, shown_at);
    observe_soon(o, most);
    if (will_show)
        observe_soon(o, o->t + MS_PER_S); /* the next look */
    return true;
}

/* An inverter that is held back makes up for any step at once; only its own meter shows it. */
static bool roof_hides(const struct observing *o)
{
    return !o->site.solar && o->site.throttled;
}

/* Its own beyond doubt: of the size that was measured, or of a first one that can be. */
static bool is_own_step(const struct observing *o, int32_t step_w)
{
    const struct draw_memory *draw = o->draw;
    if (draw->mixed)
        return false;
    return draw->view.power_measured ? fits(step_w, draw->view.power_w) : is_credible(o, step_w);
}

static void seen_from_start(struct observing *o, int32_t step_w)
{
    struct draw_memory *draw = o->draw;
    bool own = is_own_step(o, step_w) && !is_alike(o);
    bool take_step = own ? !draw->view.power_measured : step_w < draw->view.power_w;
    draw->run_shown = own;
    draw->view.vague = !own;
    draw->start_w = draw->mixed ? 0 : step_w;
    draw->unasked = false;
    draw_enter(o, &draw->view, DRAW_SEEN, take_step ? step_w : draw->view.power_w);
}

/* What comes and goes would have gone again: it began as p does, and has lasted. */
static void watch_vague(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    const struct draw_view *view = &draw->view;
    bool may_last = view->state == DRAW_SEEN && view->vague && !draw->unasked &&
                    draw->start_w > 0 && fits(draw->start_w, view->power_w);
    int64_t lasted_at = view->since.ms + OBSERVE_HEATED_VAGUE_MS;
    if (!may_last)
        return;
    observe_soon(o, lasted_at);
    if (o->t >= lasted_at) {
        draw->view.vague = false;
        draw->run_shown = true;
    }
}

static void wait_for_start(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    if (o->given->state != STATE_ON)
        return;
    bool shows = level_shows(o);
    int32_t step_w = draw->level_w - draw->before_w, power_w = draw->view.power_w;
    /* behind a throttled inverter the roof may have made up for it at once */
    bool hidden = o->given->probing || roof_hides(o);
    bool own = shows && is_own_step(o, step_w);
    if (!own && can_wait(o, shows))
        return;
    bool rose = shows && step_w > power_w / 4;
    experiment_by_level(o, shows, hidden && !rose, is_alike(o));
    if (own || rose) {
        seen_from_start(o, step_w);
        return;
    }
    bool unsure = hidden || draw->stop_from == DRAW_STUCK || draw->mixed;
    if (shows && !unsure && stayed(step_w, power_w))
        no_step_at_start(o);
    else
        draw_enter(o, &draw->view, DRAW_ASSUMED, power_w);
}

/* ---- while it is on ------------------------------------------------------------- */

/* Believed only once it has lasted: the edge of a cloud goes, and comes back to `back_w`. */
static void seems_open(struct observing *o, int32_t back_w)
{
    struct draw_memory *draw = o->draw;
    int64_t least_ms = draw->view.vague ? OBSERVE_HEATED_VAGUE_MS : HEATED_MS;
    draw->opened_in_run = o->given->thermostat && o->t - draw->view.since.ms >= least_ms;
    draw->shut_w = back_w;
    draw_enter(o, &draw->view, DRAW_OPEN, 0);
}

/* With the sun measured too the level is all that the house takes. A roof that is only
 * taken to sleep may be producing: its meter can be late after sunrise, or broken. */
static bool takes_less_than(const struct observing *o, const struct draw_memory *draw,
                            int32_t power_w)
{
    return o->site.solar && solar_is_fresh(o->site.reading) && draw->has_level &&
           draw->level_w < power_w - allowed_w(power_w);
}

static bool takes_too_little(const struct observing *o, const struct draw_memory *draw)
{
    return takes_less_than(o, draw, draw->view.draw_w);
}

/* Of thousands of looks some show a step of its size: without an order it is its own for sure
 * only in a run that was shown, and while the house shows no other such steps. */
static void closes(struct observing *o, int32_t step_w, bool came_back)
{
    struct draw_memory *draw = o->draw;
    bool fit = fits(step_w, draw->view.power_w);
    experiment_unasked(o, EXPERIMENT_CLOSED);
    note_if_short(o);
    draw->view.vague = came_back ? draw->view.vague : !draw->run_shown || is_alike(o);
    draw_enter(o, &draw->view, DRAW_SEEN, fit ? step_w : draw->view.power_w);
    draw->unasked = true;
}

static void watch_step(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    struct draw_view *view = &draw->view;
    /* Another load's switching would be mistaken for this one's thermostat. */
    if (!draw->has_had || o->site.switching_count > 0 || !o->given->thermostat)
        return;
    int32_t step_w = draw->level_w - draw->had_w;
    bool fell = fits(-(int64_t)step_w, view->draw_w) ||
                (view->vague && fits(-(int64_t)step_w, view->power_w));
    if (view->state == DRAW_SEEN && (fell || takes_too_little(o, draw))) {
        if (fell) {
            experiment_unasked(o, EXPERIMENT_OPENED);
            note_if_short(o);
        }
        /* it may have opened unseen, while another load was switching */
        seems_open(o, fell ? draw->had_w : draw->level_w + view->draw_w);
        draw->unasked = fell;
    } else if (view->state == DRAW_OPEN) {
        bool came_back = draw->opened_in_run && o->t - view->since.ms < OBSERVE_SETTLE_MS &&
                         fits((int64_t)draw->level_w - draw->shut_w + view->power_w, view->power_w);
        if (fits(step_w, view->power_w) || came_back)
            closes(o, step_w, came_back);
    }
}

/* What was seen holds until something could have changed it unseen. */
static void watch_unseen(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    struct draw_view *view = &draw->view;
    if (view->state == DRAW_SEEN && !o->seeing) {
        draw->was_seen = true;
        draw->shut_w = draw->seen_w;
        draw_enter(o, view, DRAW_ASSUMED, view->draw_w);
    } else if (view->state == DRAW_ASSUMED && draw->was_seen && draw->has_level) {
        draw->was_seen = false;
        if (draw->level_w >= draw->shut_w - view->draw_w / 2 && !takes_too_little(o, draw))
            draw_enter(o, view, DRAW_SEEN, view->draw_w);
    }
}

static void watch_metered(struct observing *o, int32_t power_w)
{
    struct draw_view *view = &o->draw->view;
    if (power_w > o->given->start_w / 4) {
        if (view->state == DRAW_OPEN)
            experiment_unasked_metered(o, EXPERIMENT_CLOSED, power_w);
        experiment_by_own_meter(o, power_w);
        if (o->given->learns_w)
            learn_power(o, power_w);
        view->vague = false;
        o->draw->run_shown = true;
        draw_enter(o, view, DRAW_SEEN, power_w);
    } else if (view->state == DRAW_SEEN) {
        experiment_unasked_metered(o, EXPERIMENT_OPENED, power_w);
        seems_open(o, o->draw->had_w);
        if (!o->given->thermostat)
            proof_none(o);
    } else if (o->given->state == STATE_ON && o->t >= o->given->since.ms + OBSERVE_SHOW_MS) {
        experiment_by_own_meter(o, power_w);
        if (view->state != DRAW_OPEN)
            no_step_at_start(o);
    } else if (o->given->state == STATE_ON) {
        observe_soon(o, o->given->since.ms + OBSERVE_SHOW_MS);
    }
}

static void watch_unmetered(struct observing *o)
{
    struct draw_view *view = &o->draw->view;
    if (!o->given->shows_step) {
        experiment_unseen(o); /* its own meter has fallen silent */
        if (o->given->state == STATE_ON)
            draw_enter(o, view, DRAW_ASSUMED, o->given->expected_w);
        return;
    }
    if (view->state == DRAW_WAITING)
        wait_for_start(o);
    else if (o->look)
        watch_step(o);
    watch_vague(o);
    watch_unseen(o);
}

/* ---- a stop ------------------------------------------------------------------- */

/* As much as its start had added: shown twice, whatever its power was taken to be. */
static bool is_shown_twice(const struct draw_memory *draw, int32_t fall_w)
{
    return !draw->mixed && draw->start_w > 0 && fits(fall_w, draw->start_w) &&
           fall_w > draw->view.power_w / 4;
}

/* A third of an element, or a first power that had another appliance's in it, is found by what
 * its start and its stop agree on. One of them alone is another appliance's where it doesn't fit.
 */
static void learn_from_fall(struct observing *o, int32_t fall_w)
{
    const struct draw_memory *draw = o->draw;
    int64_t plate_w = o->given->plate_w;
    bool fit = fits(fall_w, draw->view.power_w);
    if (draw->mixed)
        return;
    if (!fit && is_shown_twice(draw, fall_w) && fall_w >= plate_w / 4 &&
        fall_w <= plate_w + plate_w / 2)
        power_is(o, fall_w);
    else if (fit || !draw->view.power_measured)
        learn_power(o, fall_w);
}

static void stop_is(struct observing *o, enum stop_seen seen)
{
    struct draw_memory *draw = o->draw;
    draw->stop = (uint8_t)seen;
    draw->view.off_shown = seen == STOP_FELL || (seen == STOP_FLAT && draw->stop_from == DRAW_OPEN);
    /* The step down tells what the load really takes: the one at its start has the rush
     * of a motor or a cold element in it. */
    int32_t fall_w = draw->before_w - draw->level_w;
    bool own = seen == STOP_FELL && !draw->mixed &&
               (fits(fall_w, draw->view.power_w) || is_shown_twice(draw, fall_w));
    if (seen == STOP_FELL)
        learn_from_fall(o, fall_w);
    if (seen == STOP_FLAT && draw->stop_from == DRAW_SEEN && !draw->view.vague && !draw->doubted) {
        draw_enter(o, &draw->view, DRAW_STUCK, draw->stop_draw_w);
        o->news.stuck = true;
    }
    proof_stop(o, own);
}

static void wait_for_stop(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    if (o->given->state != STATE_OFF)
        return;
    bool shows = level_shows(o);
    int32_t fall_w = draw->before_w - draw->level_w, power_w = draw->view.power_w;
    /* the fall of another load that is switched off with it would refute an opening */
    bool can_tell = !draw->mixed || !draw->view.supposed;
    bool fell = shows && can_tell && (fall_w >= power_w / 2 || is_shown_twice(draw, fall_w));
    if (!fell && can_wait(o, shows))
        return;
    bool hidden = !fell && roof_hides(o);
    bool flat =
        shows && !fell && !draw->mixed && !hidden && !is_alike(o) && stayed(fall_w, power_w);
    experiment_by_level(o, shows, hidden, is_alike(o));
    stop_is(o, fell ? STOP_FELL : flat ? STOP_FLAT : STOP_UNSEEN);
}

static void watch_stuck(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    bool fell = draw->has_had && o->site.switching_count == 0 &&
                fits((int64_t)draw->had_w - draw->level_w, draw->view.draw_w);
    if (o->look && fell)
        experiment_unasked(o, EXPERIMENT_FOREIGN);
    if (o->look && (fell || takes_too_little(o, draw)))
        draw_enter(o, &draw->view, DRAW_NONE, 0);
}

static void tell_metered_off(struct observing *o, int32_t power_w, bool changed)
{
    if (o->draw->ordered.pending)
        experiment_by_own_meter(o, power_w);
    else if (changed)
        experiment_unasked_metered(o, EXPERIMENT_FOREIGN, power_w);
}

/* Off, and its own meter shows it drawing. */
static void watch_metered_off(struct observing *o, int32_t power_w)
{
    bool draws = power_w > o->given->start_w / 4;
    if (o->draw->stop == STOP_PENDING) /* its meter came back meanwhile: no step is looked for */
        stop_is(o, STOP_UNSEEN);
    if (draws && o->t < o->given->since.ms + OBSERVE_SHOW_MS)
        observe_soon(o, o->given->since.ms + OBSERVE_SHOW_MS);
    if (!draws || o->given->state != STATE_OFF || o->t < o->given->since.ms + OBSERVE_SHOW_MS) {
        if (!draws && o->given->state == STATE_OFF)
            tell_metered_off(o, power_w, o->draw->view.state == DRAW_STUCK);
        draw_enter(o, &o->draw->view, DRAW_NONE, 0);
        o->draw->view.off_shown |= !draws;
        return;
    }
    tell_metered_off(o, power_w, o->draw->view.state != DRAW_STUCK);
    if (o->draw->view.state != DRAW_STUCK)
        o->news.stuck = true;
    draw_enter(o, &o->draw->view, DRAW_STUCK, power_w);
}

static void watch_off(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    if (draw->view.state == DRAW_STUCK)
        watch_stuck(o);
    else
        draw_enter(o, &draw->view, DRAW_NONE, 0);
    if (draw->stop == STOP_PENDING)
        wait_for_stop(o);
    else
        experiment_unseen(o); /* its own meter has fallen silent */
    /* others than switched loads obey by themselves, and leave no step */
    draw->view.off_shown |=
        !o->given->shows_step || (o->look && takes_less_than(o, draw, draw->view.power_w));
}

/* Its switch at the board, or its supply, goes before its output: what the house takes then is
 * not what the order did. */
static bool board_decides(const struct observing *o)
{
    return o->given->held != HELD_NOT && o->given->held != HELD_INHIBITED;
}

static bool runs_past_output(const struct observing *o)
{
    return o->given->held == HELD_IN_HAND || o->given->held == HELD_NOT_IN_AUTO;
}

/* It may be on though it is ordered off: neither by a contact that stays closed, nor known to
 * draw nothing. */
static void watch_in_hand(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    if (o->given->state == STATE_OFF)
        experiment_unseen(o);
    if (draw->stop == STOP_PENDING && o->given->state == STATE_OFF)
        stop_is(o, STOP_UNSEEN);
    draw_enter(o, &draw->view, DRAW_NONE, 0);
    draw->view.off_shown = false;
}

static void watch_draw(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    const struct load_reading *own = o->given->own;
    if (o->given->shows_step && !own)
        watch_alike(o, draw->stop == STOP_PENDING);
    draw->mixed |=
        o->site.switching_count > observe_is_switching(o->given->state, o->given->relief, draw) ||
        board_decides(o);
    if (!is_on(o) && runs_past_output(o))
        watch_in_hand(o);
    else if (!is_on(o) && own)
        watch_metered_off(o, own->power_w);
    else if (!is_on(o))
        watch_off(o);
    else if (own)
        watch_metered(o, own->power_w);
    else
        watch_unmetered(o);
    if (is_on(o) && draw->has_level)
        draw->seen_w = draw->level_w;
    proof_watch(o);
}

/* Off, and the house takes as much more, or less, as the load would. */
static void watch_foreign(struct observing *o)
{
    const struct draw_memory *draw = o->draw;
    int64_t step_w = (int64_t)draw->level_w - draw->had_w;
    bool just_ended = draw->view.since.ms == o->t; /* STUCK: that is told */
    bool shows = o->given->shows_step && draw->has_had && o->given->state == STATE_OFF &&
                 !o->given->own && draw->stop != STOP_PENDING && !just_ended;
    if (shows && fits(step_w < 0 ? -step_w : step_w, draw->view.power_w))
        experiment_unasked(o, EXPERIMENT_FOREIGN);
}

/* ---- the door -------------------------------------------------------------------- */

bool observe_is_switching(enum load_state state, bool relief, const struct draw_memory *draw)
{
    return state == STATE_STARTING || state == STATE_STOPPING || relief ||
           draw->view.state == DRAW_WAITING;
}

void observe_begin(struct observing *o, const struct observe_site *site,
                   struct observe_memory *memory, struct observed *observed)
{
    *o = (struct observing){.site = *site,
                            .memory = memory,
                            .observed = observed,
                            .t = site->now.mono.ms,
                            .until = INT64_MAX};
    observed->experiment_count = 0;
    observed->background = (struct background){0};
    take_look(o);
    o->undisturbed = is_undisturbed(o);
}

struct observe_news observe_load(struct observing *o, const struct observe_given *given,
                                 struct draw_memory *draw)
{
    o->given = given;
    o->draw = draw;
    o->news = (struct observe_news){0};
    take_load_look(o);
    watch_draw(o);
    return o->news;
}

bool observe_is_undisturbed(const struct observing *o)
{
    return is_undisturbed(o);
}

void observe_foreign(struct observing *o, const struct observe_given *given,
                     struct draw_memory *draw)
{
    o->given = given;
    o->draw = draw;
    watch_foreign(o);
}

void observe_background(struct observing *o)
{
    experiment_background(o);
}

static void watch_from_on(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    draw->stop_from = (uint8_t)draw->view.state; /* STUCK: then no step is none */
    draw->stop = STOP_NONE;
    experiment_begin(o, EXPERIMENT_START);
    draw->opened_in_run = draw->was_seen = draw->view.off_shown = false;
    draw->run_shown = draw->unasked = draw->view.vague = false;
    draw->start_w = 0;
    draw->asked = true;
    draw_enter(o, &draw->view, DRAW_WAITING, 0);
}

static void watch_from_off(struct observing *o)
{
    struct draw_memory *draw = o->draw;
    draw->stop_from = (uint8_t)draw->view.state;
    draw->stop_draw_w = draw->view.draw_w;
    draw->was_seen = false;
    experiment_begin(o, EXPERIMENT_STOP);
    draw->stop = o->given->shows_step && !o->given->own ? STOP_PENDING : STOP_NONE;
}

void observe_ordered(struct observing *o, const struct observe_given *given,
                     struct draw_memory *draw, bool on, int64_t others_moved_ms)
{
    o->given = given;
    o->draw = draw;
    mark_level(o, others_moved_ms);
    if (on)
        watch_from_on(o);
    else
        watch_from_off(o);
}

bool observe_shows_since(const struct observing *o, const struct draw_memory *draw, int64_t since)
{
    return looks_show(o, draw, since);
}
