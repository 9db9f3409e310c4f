/* calendar.c - hours, prices and days, looked up once and then remembered.
 *
 * Between two edges of the calendar (midnight, an hour that opens or closes, a
 * price that changes, a deadline) every load's hours are plainly open or closed
 * and all times run evenly. So the calendar is worked out at its edges only, and a
 * turn in between costs a comparison. The cache is a function of the wall time
 * alone and holds in [from, until): a clock that is set, either way, leaves it. */
#include "calendar.h"

#include <string.h>

/* The farthest that hours are looked for ahead; beyond it they count as endless. */
#define HORIZON_MS (8 * (int64_t)MS_PER_DAY)

static struct wall at(int64_t ms)
{
    return (struct wall){ms};
}

static int64_t midnight_after(const struct turn *turn, int64_t w)
{
    struct local local = local_of_wall(&turn->settings->zone, at(w));
    return wall_of_local(&turn->settings->zone, local.day + 1, 0).ms;
}

static void permitted(struct turn *turn, const struct load_settings *load,
                      struct floor_memory *floor, int64_t edge_ms)
{
    const struct zone *zone = &turn->settings->zone;
    int64_t from = edge_ms;
    int64_t to = minimum_64(midnight_after(turn, turn->w), floor->deadline_ms);
    floor->open_today_ms = from < to ? hours_open_ms(&load->hours, zone, at(from), at(to)) : 0;
    floor->open_later_ms = 0;
    for (from = maximum_64(to, edge_ms); from < floor->deadline_ms; from = to) {
        to = minimum_64(midnight_after(turn, from), floor->deadline_ms);
        int64_t open_ms = hours_open_ms(&load->hours, zone, at(from), at(to));
        int64_t most_ms = load->daily_max_ms ? load->daily_max_ms : ENDLESS_MS;
        floor->open_later_ms += minimum_64(open_ms, most_ms);
    }
}

static int64_t open_at_price_ms(struct turn *turn, const struct load_settings *load, int64_t from,
                                int64_t deadline_ms)
{
    const struct rules_settings *settings = turn->settings;
    int64_t sum_ms = 0;
    while (from < deadline_ms) {
        struct local local = local_of_wall(&settings->zone, at(from));
        struct wall to =
            tariff_next_change(&settings->tariff, &settings->zone, at(from), at(deadline_ms));
        if (tariff_price(&settings->tariff, &local) <= turn->memory->price_micro)
            sum_ms += hours_open_ms(&load->hours, &settings->zone, at(from), to);
        from = to.ms;
    }
    return sum_ms;
}

static void look_up_floor(struct turn *turn, uint16_t index, uint8_t k)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    int64_t edge_ms = turn->memory->calendar_until.ms;
    permitted(turn, load, floor, edge_ms);
    floor->cheap_after_ms = load->floor[k].grid == FLOOR_IN_CHEAPEST_HOURS
                                ? open_at_price_ms(turn, load, edge_ms, floor->deadline_ms)
                                : 0;
}

/* A nearer deadline makes the cache end there; then every floor's remainder
 * after that edge is another one. */
void calendar_floor(struct turn *turn, uint16_t index, uint8_t k)
{
    struct rules_memory *memory = turn->memory;
    const struct floor_memory *floor = &memory->loads[index].floor[k];
    if (!turn->trusted || floor->elapsed || !floor->begun)
        return;
    if (floor->deadline_ms > turn->w && floor->deadline_ms < memory->calendar_until.ms)
        keep_calendar(turn);
    else
        look_up_floor(turn, index, k);
}

/* Section 6: 1000 (p - c) / (p - f), from starting pays when
 * fraction >= (p - c) / (p - f). */
static uint16_t derived_fraction(const struct turn *turn)
{
    const struct tariff *tariff = &turn->settings->tariff;
    int64_t price = turn->memory->price_micro, cheapest = price;
    int64_t feed_in = turn->memory->feed_in_micro;
    if (tariff->count == 0 || !turn->trusted || price <= feed_in)
        return 1000;
    for (uint8_t k = 0; k < tariff->count; k++)
        cheapest = minimum_64(cheapest, tariff->band[k].price_micro);
    int64_t permille = 1000 * (price - cheapest) / (price - feed_in);
    return (uint16_t)maximum_64(200, minimum_64(1000, permille));
}

static void look_up_fraction(struct turn *turn, uint16_t index)
{
    uint16_t set = turn->settings->loads[index].start_permille;
    bool given = set != 0 && set != RULES_START_LEARNT;
    turn->memory->loads[index].start_permille = given ? set : derived_fraction(turn);
}

static void look_up_hours(struct turn *turn, uint16_t index, const struct local *local)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    struct wall horizon = at(turn->w + HORIZON_MS);
    memory->open = hours_open(&load->hours, local);
    struct wall edge = hours_next_edge(&load->hours, &turn->settings->zone, at(turn->w), horizon);
    memory->open_until_ms = edge.ms == horizon.ms ? turn->w + ENDLESS_MS : edge.ms;
    memory->unsupplied = !hours_open(&load->supply_hours, local);
}

static int64_t nearest_edge(struct turn *turn)
{
    const struct rules_settings *settings = turn->settings;
    int64_t until = midnight_after(turn, turn->w);
    until = tariff_next_change(&settings->tariff, &settings->zone, at(turn->w), at(until)).ms;
    if (settings->quiet.count > 0)
        until = hours_next_edge(&settings->quiet, &settings->zone, at(turn->w), at(until)).ms;
    for (uint16_t i = 0; i < settings->load_count; i++) {
        const struct load_memory *load = &turn->memory->loads[i];
        until = minimum_64(until, load->open_until_ms);
        until = hours_next_edge(&settings->loads[i].supply_hours, &settings->zone, at(turn->w),
                                at(until))
                    .ms;
        for (uint8_t k = 0; k < settings->loads[i].floor_count; k++) {
            const struct floor_memory *floor = &load->floor[k];
            if (floor->begun && !floor->elapsed && floor->deadline_ms > turn->w)
                until = minimum_64(until, floor->deadline_ms);
        }
    }
    return until;
}

static void look_up(struct turn *turn)
{
    const struct rules_settings *settings = turn->settings;
    struct rules_memory *memory = turn->memory;
    struct local local = local_of_wall(&settings->zone, at(turn->w));
    memory->price_micro = tariff_price(&settings->tariff, &local);
    memory->feed_in_micro = tariff_feed_in(&settings->tariff, &local);
    memory->quiet = settings->quiet.count > 0 && hours_open(&settings->quiet, &local);
    for (uint16_t i = 0; i < settings->load_count; i++) {
        look_up_hours(turn, i, &local);
        look_up_fraction(turn, i);
    }
    memory->calendar_from.ms = turn->w;
    memory->calendar_until.ms = nearest_edge(turn);
    for (uint16_t i = 0; i < settings->load_count; i++)
        for (uint8_t k = 0; k < settings->loads[i].floor_count; k++)
            if (memory->loads[i].floor[k].begun && !memory->loads[i].floor[k].elapsed)
                look_up_floor(turn, i, k);
}

/* Without a trusted clock: hours that are not strict are waived, strict ones stay
 * closed, and no price differs from another. */
static void do_without(struct turn *turn)
{
    struct rules_memory *memory = turn->memory;
    turn_soon(turn, memory->untrusted_since.ms + (memory->today + 1) * MS_PER_DAY);
    memory->quiet = false;
    memory->price_micro = 0;
    memory->calendar_from.ms = memory->calendar_until.ms = 0;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_settings *load = &turn->settings->loads[i];
        memory->loads[i].open = load->hours.count == 0 || !load->strict;
        memory->loads[i].unsupplied = false;
        look_up_fraction(turn, i);
    }
}

void keep_calendar(struct turn *turn)
{
    if (turn->trusted)
        look_up(turn);
    else
        do_without(turn);
}
