/* switching.c - a load is ordered on or off.
 *
 * The one place where an order is entered everywhere that it matters: in the load's own
 * memory, in what is spare, in what the meter is watched for, and in its level. */
#include "switching.h"

#include "draw.h"
#include "level.h"
#include "spare.h"

static void remember_start(struct load_memory *memory, int64_t t)
{
    if (memory->start_count == RULES_STARTS_MAX) {
        for (int k = 1; k < RULES_STARTS_MAX; k++)
            memory->start[k - 1] = memory->start[k];
        memory->start_count--;
    }
    memory->start[memory->start_count++].ms = t;
    memory->total.starts++;
    memory->today.starts++;
}

void load_switch_on(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    memory->state = STATE_STARTING;
    memory->since.ms = turn->t;
    if (memory->relief) /* it will not come back after all */
        spare_relieve(turn, memory, -(int64_t)memory->relief_w);
    memory->relief = false;
    memory->enough_since = MONO_NEVER;
    memory->yields_to = LOAD_ALL;
    remember_start(memory, turn->t);
    turn->memory->last_start.ms = turn->t;
    draw_ordered(turn, index, true);
    level_on_start(turn, index);
    turn_again(turn);
}

void load_switch_off(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    memory->state = STATE_STOPPING;
    memory->since.ms = turn->t;
    memory->level_w = 0;
    memory->stage = 0;
    memory->lowered.ms = turn->t;
    memory->relief = true;
    memory->relief_w = memory->notes.own_w;
    memory->notes.gives_w = 0;
    spare_relieve(turn, memory, memory->relief_w);
    draw_ordered(turn, index, false);
    memory->enough_since = MONO_NEVER;
    memory->short_since = MONO_NEVER;
    turn_again(turn);
}
