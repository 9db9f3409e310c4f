/* level.c - how far on: stages and set-points.
 *
 * Section 13 of the table. A switched load has one level, its power. The others
 * follow what is spare, in the steps of their kind (kind.c) and at a pace that the meter
 * can follow back. */
#include "level.h"

#include "load.h"
#include "spare.h"
#include "supply.h"

void level_on_start(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    memory->stage = kind_of(load)->has_stages ? 1 : 0;
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
        return memory->test != HAND_ON && memory->hand_level_w > 0
                   ? minimum_64(memory->hand_level_w, most_w)
                   : most_w;
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

static void adjust(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct kind *kind = kind_of(load);
    struct load_memory *memory = &turn->memory->loads[index];
    enum basis basis = (enum basis)memory->basis;
    if (memory->state != STATE_ON || !kind->step)
        return;
    struct step step = kind->step(load, memory, basis, target_w(turn, index, basis));
    if (step.level_w == memory->level_w)
        return;
    turn_soon(turn, step.at_ms);
    if (turn->t < step.at_ms)
        return;
    if (step.stage > memory->stage)
        memory->raised.ms = turn->t;
    if (step.stage < memory->stage)
        memory->lowered.ms = turn->t;
    memory->stage = step.stage;
    set_level(turn, index, step.level_w);
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
