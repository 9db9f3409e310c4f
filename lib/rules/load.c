/* load.c - one load by itself: when it may switch.
 *
 * Everything here follows from the load's settings and its own memory; how loads
 * share spare power or the supply stands elsewhere. */
#include "load.h"

/* A load that is starting has its whole minimum on before it. */
int64_t load_min_on_left_ms(const struct turn *turn, uint16_t index)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    int64_t min_on_ms = turn->settings->loads[index].min_on_ms;
    if (memory->state == STATE_STARTING)
        return maximum_64(min_on_ms, 1);
    return at_least_0(min_on_ms - (turn->t - memory->since.ms));
}

int64_t load_min_off_left_ms(const struct turn *turn, uint16_t index)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    int64_t min_off_ms = turn->settings->loads[index].min_off_ms;
    if (memory->state != STATE_OFF)
        return min_off_ms;
    return at_least_0(min_off_ms - (turn->t - memory->since.ms));
}

int64_t load_starts_wait_ms(const struct turn *turn, uint16_t index)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    uint8_t limit = turn->settings->loads[index].starts_per_hour;
    if (limit == 0 || memory->start_count < limit)
        return 0;
    const struct mono *oldest = &memory->start[memory->start_count - limit];
    return at_least_0(oldest->ms + MS_PER_HOUR - turn->t);
}

int64_t load_daily_left_ms(const struct turn *turn, uint16_t index)
{
    int64_t daily_max_ms = turn->settings->loads[index].daily_max_ms;
    if (daily_max_ms == 0)
        return ENDLESS_MS;
    return daily_max_ms - turn->memory->loads[index].on_today_ms;
}

int64_t load_closes_ms(const struct turn *turn, uint16_t index)
{
    if (turn->settings->loads[index].hours.count == 0 || !turn->trusted)
        return ENDLESS_MS;
    return turn->memory->loads[index].open_until_ms - turn->w;
}

struct rests_view rules_rests(const struct rules_settings *settings,
                              const struct rules_memory *memory, uint16_t load)
{
    const struct turn turn = {.settings = settings,
                              .memory = (struct rules_memory *)(uintptr_t)memory,
                              .t = memory->last.mono.ms};
    if (load_is_on(&memory->loads[load]))
        return (struct rests_view){.on_ms = load_min_on_left_ms(&turn, load)};
    return (struct rests_view){.off_ms = load_min_off_left_ms(&turn, load),
                               .starts_ms = load_starts_wait_ms(&turn, load)};
}
