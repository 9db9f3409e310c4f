/* draw.c - what shows of each load.
 *
 * Most loads have no meter of their own. But a contactor closes and opens at a moment
 * that we know, so the step of what the house takes (observe.c) at that moment is the
 * load's; and a thermostat that opens is a step of the same size down while nothing was
 * ordered. Steps count only where they can be told from all else: nothing else switching,
 * the size within 15 % (and 50 W), and no step at all where it stays within a quarter.
 *
 * What nothing can show (a request in its own time, a set-point, a meter that is away) is
 * counted as drawing, for a floor must be kept without a meter too; but that is no
 * evidence, and is told as such. What an element that draws nothing means is judged in
 * proof.c. */
#include "draw.h"

#include "experiment.h"
#include "load.h"
#include "observe.h"
#include "proof.h"

enum { FIT_W = 50, FIT_PERCENT = 15, NAMEPLATE_PERCENT = 12 };

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

static void draw_enter(struct turn *turn, struct draw_view *view, enum draw_state state,
                       int32_t draw_w)
{
    if (view->state != state)
        view->since.ms = turn->t;
    view->state = state;
    view->draw_w = draw_w;
}

static void tell_if_off_nameplate(struct turn *turn, uint16_t index, bool was_measured,
                                  int32_t was_w)
{
    int32_t plate_w = turn->settings->loads[index].power_w;
    int32_t now_w = turn->memory->loads[index].draw.view.power_w;
    int64_t limit_w = (int64_t)plate_w * NAMEPLATE_PERCENT / 100;
    bool was_off = was_measured && (was_w > plate_w + limit_w || was_w < plate_w - limit_w);
    bool is_off = now_w > plate_w + limit_w || now_w < plate_w - limit_w;
    if (is_off && !was_off)
        turn_event(turn, EVENT_POWER_DIFFERS, index, now_w);
}

/* Within half and one and a half of the nameplate: beyond that something else
 * switched at the same moment. */
static bool is_credible(const struct turn *turn, uint16_t index, int32_t measured_w)
{
    int32_t plate_w = turn->settings->loads[index].power_w;
    return measured_w >= plate_w / 2 && measured_w <= plate_w + plate_w / 2;
}

static void learn_power(struct turn *turn, uint16_t index, int32_t measured_w)
{
    struct draw_view *view = &turn->memory->loads[index].draw.view;
    if (!is_credible(turn, index, measured_w))
        return;
    bool was_measured = view->power_measured;
    int32_t was_w = view->power_w;
    view->power_w = was_measured ? (int32_t)(((int64_t)3 * was_w + measured_w) / 4) : measured_w;
    view->power_measured = true;
    tell_if_off_nameplate(turn, index, was_measured, was_w);
}

/* ---- a start ------------------------------------------------------------------ */

static void no_step_at_start(struct turn *turn, uint16_t index)
{
    struct draw_view *view = &turn->memory->loads[index].draw.view;
    draw_enter(turn, view, DRAW_OPEN, 0);
    if (!turn->settings->loads[index].thermostat)
        proof_none(turn, index); /* it cannot stop drawing by itself */
}

/* What the meter may still have to show, and until when it is waited for. */
static bool can_wait(struct turn *turn, const struct load_memory *memory, bool shows)
{
    int64_t shown_at = memory->since.ms + SHOW_MS, most = memory->since.ms + 3 * SHOW_MS;
    bool will_show = !shows && turn->seeing && memory->draw.has_before;
    if (turn->t >= shown_at && (!will_show || turn->t >= most))
        return false;
    turn_soon(turn, shown_at);
    turn_soon(turn, most);
    if (will_show)
        turn_soon(turn, turn->t + MS_PER_S); /* the next look */
    return true;
}

/* An inverter that is held back makes up for any step at once; only its own meter shows it. */
static bool roof_hides(const struct turn *turn)
{
    return !turn->settings->solar && turn->memory->throttled_since.ms != MONO_NEVER.ms;
}

static void wait_for_start(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_memory *draw = &memory->draw;
    if (memory->state != STATE_ON)
        return;
    bool shows = level_shows(turn, memory);
    int32_t step_w = draw->level_w - draw->before_w, power_w = draw->view.power_w;
    /* behind a throttled inverter the roof may have made up for it at once */
    bool hidden = memory->basis == BASIS_PROBE || roof_hides(turn);
    if (shows && step_w >= power_w / 2) {
        experiment_by_level(turn, index, shows, false);
        bool take_step =
            !draw->view.power_measured && !draw->mixed && is_credible(turn, index, step_w);
        draw_enter(turn, &draw->view, DRAW_SEEN, take_step ? step_w : power_w);
        return;
    }
    if (can_wait(turn, memory, shows))
        return;
    experiment_by_level(turn, index, shows, hidden);
    bool unsure = hidden || draw->stop_from == DRAW_STUCK || draw->mixed;
    if (shows && !unsure && stayed(step_w, power_w))
        no_step_at_start(turn, index);
    else
        draw_enter(turn, &draw->view, DRAW_ASSUMED, power_w);
}

/* ---- while it is on ------------------------------------------------------------- */

/* Believed only once it has lasted: the edge of a cloud goes and comes back. */
static void seems_open(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    draw->opened_in_run =
        turn->settings->loads[index].thermostat && turn->t - draw->view.since.ms >= HEATED_MS;
    draw->shut_w = draw->had_w;
    draw_enter(turn, &draw->view, DRAW_OPEN, 0);
}

/* With the sun measured too the level is all that the house takes. A roof that is only
 * taken to sleep may be producing: its meter can be late after sunrise, or broken. */
static bool takes_less_than(const struct turn *turn, const struct draw_memory *draw,
                            int32_t power_w)
{
    return turn->settings->solar && solar_is_fresh(turn->input->reading) && draw->has_level &&
           draw->level_w < power_w - allowed_w(power_w);
}

static bool takes_too_little(const struct turn *turn, const struct draw_memory *draw)
{
    return takes_less_than(turn, draw, draw->view.draw_w);
}

static void watch_step(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    struct draw_view *view = &draw->view;
    /* Another load's switching would be mistaken for this one's thermostat. */
    if (!draw->has_had || turn->switching_count > 0 || !turn->settings->loads[index].thermostat)
        return;
    int32_t step_w = draw->level_w - draw->had_w;
    if (view->state == DRAW_SEEN &&
        (fits(-(int64_t)step_w, view->draw_w) || takes_too_little(turn, draw))) {
        experiment_unasked(turn, index, EXPERIMENT_OPENED);
        seems_open(turn, index);
    } else if (view->state == DRAW_OPEN) {
        bool came_back = draw->opened_in_run && turn->t - view->since.ms < SATISFIED_SETTLE_MS &&
                         fits((int64_t)draw->level_w - draw->shut_w + view->power_w, view->power_w);
        if (fits(step_w, view->power_w) || came_back)
            experiment_unasked(turn, index, EXPERIMENT_CLOSED);
        if (fits(step_w, view->power_w))
            draw_enter(turn, view, DRAW_SEEN, step_w);
        else if (came_back)
            draw_enter(turn, view, DRAW_SEEN, view->power_w);
    }
}

/* What was seen holds until something could have changed it unseen. */
static void watch_unseen(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    struct draw_view *view = &draw->view;
    if (view->state == DRAW_SEEN && !turn->seeing) {
        draw->was_seen = true;
        draw->shut_w = draw->seen_w;
        draw_enter(turn, view, DRAW_ASSUMED, view->draw_w);
    } else if (view->state == DRAW_ASSUMED && draw->was_seen && draw->has_level) {
        draw->was_seen = false;
        if (draw->level_w >= draw->shut_w - view->draw_w / 2 && !takes_too_little(turn, draw))
            draw_enter(turn, view, DRAW_SEEN, view->draw_w);
    }
}

static void watch_metered(struct turn *turn, uint16_t index, int32_t power_w)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_view *view = &memory->draw.view;
    if (power_w > load_start_w(load, memory) / 4) {
        if (view->state == DRAW_OPEN)
            experiment_unasked_metered(turn, index, EXPERIMENT_CLOSED, power_w);
        experiment_by_own_meter(turn, index, power_w);
        if (kind_of(load)->learns_w)
            learn_power(turn, index, power_w);
        draw_enter(turn, view, DRAW_SEEN, power_w);
    } else if (view->state == DRAW_SEEN) {
        experiment_unasked_metered(turn, index, EXPERIMENT_OPENED, power_w);
        seems_open(turn, index);
        if (!load->thermostat)
            proof_none(turn, index);
    } else if (memory->state == STATE_ON && turn->t >= memory->since.ms + SHOW_MS) {
        experiment_by_own_meter(turn, index, power_w);
        if (view->state != DRAW_OPEN)
            no_step_at_start(turn, index);
    } else if (memory->state == STATE_ON) {
        turn_soon(turn, memory->since.ms + SHOW_MS);
    }
}

static void watch_unmetered(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_view *view = &memory->draw.view;
    if (!kind_of(load)->shows_step) {
        experiment_unseen(turn, index); /* its own meter has fallen silent */
        if (memory->state == STATE_ON)
            draw_enter(turn, view, DRAW_ASSUMED, load_expected_w(load, memory));
        return;
    }
    if (view->state == DRAW_WAITING)
        wait_for_start(turn, index);
    else if (turn->look)
        watch_step(turn, index);
    watch_unseen(turn, index);
}

/* ---- a stop ------------------------------------------------------------------- */

static void stop_is(struct turn *turn, uint16_t index, enum stop_seen seen)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    draw->stop = (uint8_t)seen;
    draw->view.off_shown = seen == STOP_FELL || (seen == STOP_FLAT && draw->stop_from == DRAW_OPEN);
    /* The step down tells what the load really takes: the one at its start has the rush
     * of a motor or a cold element in it. */
    if (seen == STOP_FELL && !draw->mixed)
        learn_power(turn, index, draw->before_w - draw->level_w);
    if (seen == STOP_FLAT && draw->stop_from == DRAW_SEEN && !turn->memory->loads[index].doubted) {
        draw_enter(turn, &draw->view, DRAW_STUCK, draw->stop_draw_w);
        turn_event(turn, EVENT_STUCK, index, draw->stop_draw_w);
    }
    proof_stop(turn, index);
}

static void wait_for_stop(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_memory *draw = &memory->draw;
    if (memory->state != STATE_OFF)
        return;
    bool shows = level_shows(turn, memory);
    int32_t fall_w = draw->before_w - draw->level_w, power_w = draw->view.power_w;
    bool fell = shows && fall_w >= power_w / 2;
    if (!fell && can_wait(turn, memory, shows))
        return;
    bool hidden = !fell && roof_hides(turn);
    bool flat = shows && !draw->mixed && !hidden && stayed(fall_w, power_w);
    experiment_by_level(turn, index, shows, hidden);
    stop_is(turn, index, fell ? STOP_FELL : flat ? STOP_FLAT : STOP_UNSEEN);
}

static void watch_stuck(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    bool fell = draw->has_had && turn->switching_count == 0 &&
                fits((int64_t)draw->had_w - draw->level_w, draw->view.draw_w);
    if (turn->look && fell)
        experiment_unasked(turn, index, EXPERIMENT_FOREIGN);
    if (turn->look && (fell || takes_too_little(turn, draw)))
        draw_enter(turn, &draw->view, DRAW_NONE, 0);
}

static void tell_metered_off(struct turn *turn, uint16_t index, int32_t power_w, bool changed)
{
    if (turn->memory->loads[index].draw.ordered.pending)
        experiment_by_own_meter(turn, index, power_w);
    else if (changed)
        experiment_unasked_metered(turn, index, EXPERIMENT_FOREIGN, power_w);
}

/* Off, and its own meter shows it drawing. */
static void watch_metered_off(struct turn *turn, uint16_t index, int32_t power_w)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    bool draws = power_w > load_start_w(load, memory) / 4;
    if (memory->draw.stop ==
        STOP_PENDING) /* its meter came back meanwhile: no step is looked for */
        stop_is(turn, index, STOP_UNSEEN);
    if (draws && turn->t < memory->since.ms + SHOW_MS)
        turn_soon(turn, memory->since.ms + SHOW_MS);
    if (!draws || memory->state != STATE_OFF || turn->t < memory->since.ms + SHOW_MS) {
        if (!draws && memory->state == STATE_OFF)
            tell_metered_off(turn, index, power_w, memory->draw.view.state == DRAW_STUCK);
        draw_enter(turn, &memory->draw.view, DRAW_NONE, 0);
        memory->draw.view.off_shown |= !draws;
        return;
    }
    tell_metered_off(turn, index, power_w, memory->draw.view.state != DRAW_STUCK);
    if (memory->draw.view.state != DRAW_STUCK)
        turn_event(turn, EVENT_STUCK, index, power_w);
    draw_enter(turn, &memory->draw.view, DRAW_STUCK, power_w);
}

static void watch_off(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    if (draw->view.state == DRAW_STUCK)
        watch_stuck(turn, index);
    else
        draw_enter(turn, &draw->view, DRAW_NONE, 0);
    if (draw->stop == STOP_PENDING)
        wait_for_stop(turn, index);
    else
        experiment_unseen(turn, index); /* its own meter has fallen silent */
    /* others than switched loads obey by themselves, and leave no step */
    draw->view.off_shown |= !kind_of(&turn->settings->loads[index])->shows_step ||
                            (turn->look && takes_less_than(turn, draw, draw->view.power_w));
}

/* A set-point that is off is followed in its own time, as any other level. */
static void watch_relief(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    if (!memory->relief || memory->state != STATE_OFF || !turn->fresh)
        return;
    bool follows = kind_of(&turn->settings->loads[index])->follows;
    int64_t gone_ms = memory->since.ms + (follows ? FOLLOW_MS : 0);
    if (turn->input->reading->grid.taken.ms <= gone_ms)
        turn_soon(turn, turn->t + 1);
    else
        memory->relief = false;
}

static void watch_draw(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_memory *draw = &memory->draw;
    const struct load_reading *own = own_meter(turn, index);
    draw->mixed |= turn->switching_count > is_switching(memory);
    if (!load_is_on(memory) && own)
        watch_metered_off(turn, index, own->power_w);
    else if (!load_is_on(memory))
        watch_off(turn, index);
    else if (own)
        watch_metered(turn, index, own->power_w);
    else
        watch_unmetered(turn, index);
    if (load_is_on(memory) && draw->has_level)
        draw->seen_w = draw->level_w;
    proof_watch(turn, index);
    watch_relief(turn, index);
}

/* Off, and the house takes as much more, or less, as the load would. */
static void watch_foreign(struct turn *turn, uint16_t index)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    const struct draw_memory *draw = &memory->draw;
    int64_t step_w = (int64_t)draw->level_w - draw->had_w;
    bool just_ended = draw->view.since.ms == turn->t; /* STUCK: that is told */
    bool shows = kind_of(&turn->settings->loads[index])->shows_step && draw->has_had &&
                 memory->state == STATE_OFF && !own_meter(turn, index) &&
                 draw->stop != STOP_PENDING && !just_ended;
    if (shows && fits(step_w < 0 ? -step_w : step_w, draw->view.power_w))
        experiment_unasked(turn, index, EXPERIMENT_FOREIGN);
}

void watch_draws(struct turn *turn)
{
    take_look(turn);
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        turn->switching_count += is_switching(&turn->memory->loads[i]);
    turn->undisturbed = is_undisturbed(turn);
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        watch_draw(turn, i);
    if (!is_undisturbed(turn))
        return;
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        watch_foreign(turn, i);
    experiment_background(turn);
}

/* The load has been ordered off. */
void draw_end(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    mark_level(turn, index);
    draw->stop_from = (uint8_t)draw->view.state;
    draw->stop_draw_w = draw->view.draw_w;
    draw->was_seen = false;
    experiment_begin(turn, index, EXPERIMENT_STOP);
    draw->stop = kind_of(load)->shows_step && !own_meter(turn, index) ? STOP_PENDING : STOP_NONE;
}

void draw_begin(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    mark_level(turn, index);
    draw->stop_from = (uint8_t)draw->view.state; /* STUCK: then no step is none */
    draw->stop = STOP_NONE;
    experiment_begin(turn, index, EXPERIMENT_START);
    draw->opened_in_run = draw->was_seen = draw->view.off_shown = false;
    draw_enter(turn, &draw->view, DRAW_WAITING, 0);
}
