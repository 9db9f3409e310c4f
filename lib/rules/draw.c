/* draw.c - what the one meter shows of each load.
 *
 * Most loads have no meter of their own. But a contactor closes at a moment that
 * we know, so the step of the grid's power at that moment is the load's; and a
 * thermostat that opens is a step of the same size the other way while nothing
 * was ordered. A step counts when its size fits within 15 % (and 50 W), seen over
 * one reading or two, since a meter may average over the change. Household
 * appliances of the very same size can deceive this; the worst that follows is a
 * trial too early or too late, since a load believed satisfied is tried again.
 *
 * What nothing can show (a request in its own time, a set-point, a dead meter) is
 * assumed to draw: a floor must be kept without a meter too. So is a load without a
 * thermostat, which cannot stop by itself: there a step is somebody else's. */
#include "turn.h"

enum {
    SHOW_MS = 10 * MS_PER_S,
    HEATED_MS = MS_PER_MIN,
    FIT_W = 50,
    FIT_PERCENT = 15,
    NAMEPLATE_PERCENT = 12
};

/* What the house takes where the sun is measured too, for then a cloud is no step;
 * else what the grid gives. */
static int32_t power_on_phases(const struct turn *turn, const struct load_settings *load)
{
    const struct reading *reading = turn->input->reading;
    int32_t solar_w = solar_is_fresh(reading) ? reading->solar_power_w : 0;
    if (turn->settings->phase_count == 1 || !(reading->has & HAS_PHASE_POWER))
        return reading->grid_power_w + solar_w;
    int32_t power_w = 0;
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (load->phases & (1u << phase))
            power_w += reading->phase_power_w[phase];
    return power_w;
}

static bool fits(int64_t step_w, int64_t power_w)
{
    int64_t off_w = step_w - power_w;
    int64_t allowed_w = power_w * FIT_PERCENT / 100 + FIT_W;
    return off_w >= -allowed_w && off_w <= allowed_w;
}

static void enter(struct turn *turn, struct draw_view *view, enum draw_state state, int32_t draw_w)
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

/* Believed only once it has lasted: the edge of a cloud goes and comes back. */
static void seems_open(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    draw->opened_in_run =
        turn->settings->loads[index].thermostat && turn->t - draw->view.since.ms >= HEATED_MS;
    enter(turn, &draw->view, DRAW_OPEN, 0);
}

static void wait_for_step(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_memory *draw = &memory->draw;
    bool can_tell = turn->fresh && draw->has_before && draw->seen > 0;
    int32_t step_w = draw->last_w - draw->before_w;
    if (can_tell && memory->state == STATE_ON && step_w >= draw->view.power_w / 2) {
        bool take_step = !draw->view.power_measured && is_credible(turn, index, step_w);
        enter(turn, &draw->view, DRAW_SEEN, take_step ? step_w : draw->view.power_w);
        return;
    }
    int64_t shown_at = memory->since.ms + SHOW_MS;
    if (memory->state != STATE_ON || turn->t < shown_at) {
        if (memory->state == STATE_ON)
            turn_soon(turn, shown_at);
        return;
    }
    /* behind a throttled inverter the roof may have made up for it at once */
    bool hidden = memory->basis == BASIS_PROBE;
    if (can_tell && !hidden && turn->settings->loads[index].thermostat)
        enter(turn, &draw->view, DRAW_OPEN, 0);
    else
        enter(turn, &draw->view, DRAW_ASSUMED, draw->view.power_w);
}

static void watch_step(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    /* Another load's switching would be mistaken for this one's thermostat. */
    if (draw->seen < 2 || turn->switching_count > 0 || !turn->settings->loads[index].thermostat)
        return;
    int32_t power_w = draw->view.state == DRAW_SEEN ? draw->view.draw_w : draw->view.power_w;
    int32_t one_w = draw->last_w - draw->previous_w;
    if (draw->view.state == DRAW_SEEN && fits(-one_w, power_w))
        seems_open(turn, index);
    else if (draw->view.state == DRAW_OPEN && fits(one_w, power_w))
        enter(turn, &draw->view, DRAW_SEEN, one_w);
}

static void note_power(struct draw_memory *draw, int32_t power_w)
{
    draw->previous_w = draw->last_w;
    draw->last_w = power_w;
    if (draw->seen < 2)
        draw->seen++;
}

static void watch_metered(struct turn *turn, uint16_t index, int32_t power_w)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_view *view = &memory->draw.view;
    if (power_w > load_start_w(load, memory) / 4) {
        if (load->kind == LOAD_SWITCHED || load->kind == LOAD_REQUEST)
            learn_power(turn, index, power_w);
        enter(turn, view, DRAW_SEEN, power_w);
    } else if (view->state == DRAW_SEEN) {
        seems_open(turn, index);
    } else if (memory->state == STATE_ON && turn->t >= memory->since.ms + SHOW_MS) {
        enter(turn, view, DRAW_OPEN, 0);
    } else if (memory->state == STATE_ON) {
        turn_soon(turn, memory->since.ms + SHOW_MS);
    }
}

static void watch_unmetered(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_view *view = &memory->draw.view;
    if (load->kind != LOAD_SWITCHED) {
        if (memory->state == STATE_ON)
            enter(turn, view, DRAW_ASSUMED, load_expected_w(load, memory));
        return;
    }
    if (view->state == DRAW_WAITING)
        wait_for_step(turn, index);
    else if (turn->fresh && turn->input->reading->grid.sequence != turn->memory->last_sequence)
        watch_step(turn, index);
}

static void note_opening(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    if (!draw->opened_in_run)
        return; /* a trial without draw: satisfied, but nothing was heated in it */
    draw->view.has_opened = true;
    draw->view.opened_at = turn->input->now;
    turn_event(turn, EVENT_SATISFIED, index, 0);
}

static void watch_satisfied(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    const struct draw_view *view = &memory->draw.view;
    if (view->state == DRAW_SEEN) {
        memory->satisfied = false;
    } else if (view->state == DRAW_OPEN && load->thermostat && !memory->satisfied) {
        bool heated = memory->draw.opened_in_run ||
                      (view->has_drawn && turn->t - view->drawn_at.ms <= TRIAL_COUNTS_MS);
        turn_soon(turn, view->since.ms + SATISFIED_SETTLE_MS);
        if (heated && turn->t - view->since.ms >= SATISFIED_SETTLE_MS) {
            memory->satisfied = true;
            memory->retry_at.ms = turn->t + load->retry_ms;
            note_opening(turn, index);
        }
    } else if (memory->satisfied && memory->state == STATE_OFF) {
        if (turn->t >= memory->retry_at.ms)
            memory->satisfied = false;
        else
            turn_soon(turn, memory->retry_at.ms);
    }
}

/* The step down tells what the load really takes: the one at its start has the rush
 * of a motor or a cold element in it. */
static void learn_from_stop(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    const struct load_settings *load = &turn->settings->loads[index];
    bool alone = turn->switching_count == 1; /* itself */
    if (load->kind == LOAD_SWITCHED && !load->metered && memory->relief_w > 0 && alone &&
        memory->draw.has_before)
        learn_power(turn, index, memory->draw.before_w - memory->draw.last_w);
}

static void watch_relief(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    if (!memory->relief || memory->state != STATE_OFF || !turn->fresh)
        return;
    if (turn->input->reading->grid.taken.ms <= memory->since.ms) {
        turn_soon(turn, turn->t + 1);
        return;
    }
    learn_from_stop(turn, index);
    memory->relief = false;
}

static void watch_draw(struct turn *turn, uint16_t index, bool is_new)
{
    struct load_memory *memory = &turn->memory->loads[index];
    struct draw_view *view = &memory->draw.view;
    if (is_new)
        note_power(&memory->draw, power_on_phases(turn, &turn->settings->loads[index]));
    const struct load_reading *own =
        turn->input->load_reading ? &turn->input->load_reading[index] : NULL;
    if (!load_is_on(memory))
        enter(turn, view, DRAW_NONE, 0);
    else if (own && own->power.quality == READING_FRESH && turn->settings->loads[index].metered)
        watch_metered(turn, index, own->power_w);
    else
        watch_unmetered(turn, index);
    watch_satisfied(turn, index);
    watch_relief(turn, index);
}

static bool is_switching(const struct load_memory *memory)
{
    return memory->state == STATE_STARTING || memory->state == STATE_STOPPING || memory->relief ||
           memory->draw.view.state == DRAW_WAITING;
}

void watch_draws(struct turn *turn)
{
    const struct reading *reading = turn->input->reading;
    bool is_new = turn->fresh && reading->grid.sequence != turn->memory->last_sequence;
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        turn->switching_count += is_switching(&turn->memory->loads[i]);
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        watch_draw(turn, i, is_new);
    if (turn->fresh)
        turn->memory->last_sequence = reading->grid.sequence;
}

/* The load has been ordered off. */
void draw_end(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    draw->has_before = turn->fresh && draw->seen > 0;
    draw->before_w = draw->last_w;
}

void draw_begin(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    draw->has_before = turn->fresh && draw->seen > 0;
    draw->before_w = draw->last_w;
    draw->opened_in_run = false;
    enter(turn, &draw->view, DRAW_WAITING, 0);
}
