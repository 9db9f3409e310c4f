/* level.c - how far on: stages and set-points.
 *
 * Sections 13 of the table. A switched load has one level, its power. The others
 * follow what is spare, at a pace that the meter can follow back; each contactor of
 * a staged load has its own minimum on and off, kept by the load's last raise and
 * last lowering. */
#include "level.h"

#include "load.h"
#include "spare.h"
#include "supply.h"

static int32_t step_down(const struct load_settings *load, int64_t power_w)
{
    int64_t level_w = power_w / load->step_w * load->step_w;
    level_w = minimum_64(level_w, load->power_w / load->step_w * load->step_w);
    return (int32_t)maximum_64(level_w, load->least_w);
}

static uint8_t stages_within(const struct load_settings *load, int64_t power_w)
{
    uint8_t stages = 1;
    while (stages < load->stages && load_stages_w(load, (uint8_t)(stages + 1)) <= power_w)
        stages++;
    return stages;
}

void level_on_start(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    memory->stage = load->kind == LOAD_STAGED ? 1 : 0;
    memory->level_w = load_start_w(load, memory);
    memory->level_since.ms = turn->t;
    memory->raised.ms = turn->t;
    memory->raised_w = memory->lowered_w = 0;
}

static int64_t target_w(const struct turn *turn, uint16_t index, enum basis basis)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    int64_t most_w = minimum_64(load_most_w(load, memory), supply_headroom_w(turn, index));
    switch (basis) {
    case BASIS_MANUAL:
        return memory->hand_level_w > 0 ? minimum_64(memory->hand_level_w, most_w) : most_w;
    case BASIS_FLOOR:
    case BASIS_CHEAP_HOURS:
    case BASIS_AHEAD:
        return most_w;
    case BASIS_SPARE:
    case BASIS_PROBE:
        return minimum_64(spare_with_own(turn, memory), most_w);
    default:
        return 0;
    }
}

/* A raise is taken out of what the loads after it may count on. */
static void set_level(struct turn *turn, uint16_t index, int32_t level_w)
{
    struct load_memory *memory = &turn->memory->loads[index];
    int32_t raise_w = level_w - memory->level_w;
    memory->raised_w = raise_w > 0 ? raise_w : 0;
    memory->lowered_w = 0;
    if (raise_w > 0) {
        spare_take(turn, memory, raise_w);
        supply_take(turn, index, raise_w);
    }
    memory->level_w = level_w;
    memory->level_since.ms = turn->t;
    turn_again(turn);
}

static void adjust_setpoint(struct turn *turn, uint16_t index, enum basis basis)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    int32_t level_w = step_down(load, target_w(turn, index, basis));
    if (level_w == memory->level_w)
        return;
    if (turn->t - memory->level_since.ms >= ADJUST_MS)
        set_level(turn, index, level_w);
    else
        turn_soon(turn, memory->level_since.ms + ADJUST_MS);
}

static bool may_raise(struct turn *turn, const struct load_settings *load,
                      const struct load_memory *memory)
{
    int64_t at = maximum_64(memory->lowered.ms + load->min_off_ms,
                            memory->level_since.ms + load->settle_start_ms);
    turn_soon(turn, at);
    return turn->t >= at;
}

static bool may_lower(struct turn *turn, const struct load_settings *load,
                      const struct load_memory *memory)
{
    int64_t at = maximum_64(memory->raised.ms + load->min_on_ms,
                            memory->level_since.ms + load->settle_stop_ms);
    turn_soon(turn, at);
    return turn->t >= at;
}

static void adjust_stages(struct turn *turn, uint16_t index, enum basis basis)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    if (basis == BASIS_MINIMUM_ON)
        return;
    uint8_t stages = stages_within(load, target_w(turn, index, basis));
    if (stages > memory->stage && may_raise(turn, load, memory)) {
        memory->stage++;
        memory->raised.ms = turn->t;
        set_level(turn, index, load_stages_w(load, memory->stage));
    } else if (stages < memory->stage && may_lower(turn, load, memory)) {
        memory->stage--;
        memory->lowered.ms = turn->t;
        set_level(turn, index, load_stages_w(load, memory->stage));
    }
}

static void adjust(struct turn *turn, uint16_t index)
{
    enum basis basis = (enum basis)turn->memory->loads[index].basis;
    enum load_kind kind = turn->settings->loads[index].kind;
    if (turn->memory->loads[index].state != STATE_ON)
        return;
    if (kind == LOAD_SETPOINT)
        adjust_setpoint(turn, index, basis);
    else if (kind == LOAD_STAGED)
        adjust_stages(turn, index, basis);
}

/* After the starts of this turn, which have taken their power by now. */
void levels_adjust(struct turn *turn)
{
    if (!turn->any_levels)
        return;
    spare_sum_gives(turn);
    for (uint16_t place = 0; place < turn->settings->load_count; place++) {
        uint16_t i = turn->settings->order[place];
        const struct load_memory *memory = &turn->memory->loads[i];
        spare_forgo(turn, memory);
        adjust(turn, i);
        turn->decisions[i].level_w = memory->level_w;
        turn->decisions[i].stage = memory->stage;
    }
}
