/* draw.c - what observing is given of each load, and what becomes of what it saw.
 *
 * lib/observe knows no kind, no order and no other load: it is told how far each order has
 * come, what the load is expected to take then, and how many others are switching. What is
 * news becomes events. */
#include "draw.h"

#include "load.h"

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

static struct observe_given given_of(const struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    const struct kind *kind = kind_of(load);
    const struct load_reading *sensed = load_sensed(turn, index);
    return (struct observe_given){
        .load = index,
        .state = memory->state,
        .since = memory->since,
        .phases = load->phases,
        .shows_step = kind->shows_step,
        .obeys = kind->obeys != NULL,
        .learns_w = kind->learns_w,
        .thermostat = load->thermostat,
        .relief = memory->relief,
        .probing = memory->basis == BASIS_PROBE,
        .plate_w = load->power_w,
        .start_w = load_start_w(load, memory),
        .expected_w = load_expected_w(load, memory),
        .retry_ms = load->retry_ms,
        .loss_w = load->water.volume_ml > 0 ? load->water.loss_mwh / 24000 : 0,
        .whole_mj = memory->draw.view.has_opened ? 0 : whole_mj(load),
        .own = own_meter(turn, index),
        .held = sensed ? sensed->held : HELD_NOT,
    };
}

static bool is_switching(const struct load_memory *memory)
{
    return observe_is_switching(memory->state, memory->relief, &memory->draw);
}

/* A level that is followed in its own time may still be on its way. */
static int64_t moved_ms(const struct load_settings *load, const struct load_memory *memory)
{
    int64_t level_ms = memory->level_since.ms + (kind_of(load)->follows ? FOLLOW_MS : 0);
    return maximum_64(memory->since.ms, level_ms);
}

static struct observe_site site_of(const struct turn *turn)
{
    struct observe_site site = {
        .reading = turn->input->reading,
        .now = turn->input->now,
        .phase_count = turn->settings->phase_count,
        .solar = turn->settings->solar,
        .battery = turn->settings->battery,
        .throttled = turn->memory->throttled_since.ms != MONO_NEVER.ms,
    };
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *memory = &turn->memory->loads[i];
        site.switching_count += is_switching(memory);
        site.moved_ms = maximum_64(site.moved_ms, moved_ms(&turn->settings->loads[i], memory));
    }
    return site;
}

static void tell_news(struct turn *turn, uint16_t index, struct observe_news news)
{
    const struct draw_view *view = &turn->memory->loads[index].draw.view;
    turn->memory->loads[index].notes.heard = (uint8_t)news.heard;
    if (news.power_differs)
        turn_event(turn, EVENT_POWER_DIFFERS, index, view->power_w);
    if (news.no_draw)
        turn_event(turn, EVENT_NO_DRAW, index, 0);
    if (news.stuck)
        turn_event(turn, EVENT_STUCK, index, view->draw_w);
    if (news.opened)
        turn_event(turn, EVENT_SATISFIED, index, view->unsure);
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
        turn_soon(turn, turn->t <= gone_ms ? gone_ms + 1 : turn->t + 1);
    else
        memory->relief = false;
}

static void watch_draw(struct turn *turn, uint16_t index)
{
    struct observe_given given = given_of(turn, index);
    struct observe_news news =
        observe_load(&turn->observing, &given, &turn->memory->loads[index].draw);
    tell_news(turn, index, news);
    watch_relief(turn, index);
}

static void watch_house(struct turn *turn)
{
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        struct observe_given given = given_of(turn, i);
        observe_foreign(&turn->observing, &given, &turn->memory->loads[i].draw);
    }
    observe_background(&turn->observing);
}

void watch_draws(struct turn *turn)
{
    struct observe_site site = site_of(turn);
    observe_begin(&turn->observing, &site, &turn->memory->looks, &turn->outcome->observed);
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        watch_draw(turn, i);
    if (observe_is_undisturbed(&turn->observing))
        watch_house(turn);
    turn_soon(turn, turn->observing.until);
}

/* The last moment at which the contact of another load moved; the present one where one
 * may be moving still. */
static int64_t others_moved_ms(const struct turn *turn, uint16_t index)
{
    int64_t moved_at = INT64_MIN;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *other = &turn->memory->loads[i];
        bool moves = other->state == STATE_STARTING || other->state == STATE_STOPPING;
        if (i != index)
            moved_at = maximum_64(moved_at, moves ? turn->t + 1 : other->since.ms);
    }
    return moved_at;
}

void draw_ordered(struct turn *turn, uint16_t index, bool on)
{
    struct observe_given given = given_of(turn, index);
    observe_ordered(&turn->observing, &given, &turn->memory->loads[index].draw, on,
                    others_moved_ms(turn, index));
}

bool others_are_unshown(struct turn *turn, uint16_t index)
{
    const struct draw_memory *draw = &turn->memory->loads[index].draw;
    bool unshown = false;
    if (!kind_of(&turn->settings->loads[index])->shows_step || own_meter(turn, index) ||
        !turn->observing.seeing)
        return false;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *other = &turn->memory->loads[i];
        int64_t until = other->since.ms + 3 * OBSERVE_SHOW_MS;
        if (i == index || turn->t >= until ||
            (!is_switching(other) && observe_shows_since(&turn->observing, draw, other->since.ms)))
            continue;
        unshown = true;
        turn_soon(turn, until);
        turn_soon(turn, turn->t + MS_PER_S); /* the next look */
    }
    return unshown;
}
