/* spare.c - how much is spare, and for whom.
 *
 * Spare power is counted once a turn from what was measured, into one pool (the
 * retail meter nets the phases) or one per phase. From it goes what has been
 * ordered but not yet shown. A load that wants to start looks at the pools as they
 * are; one that runs looks at them with its own draw put back, and with what the
 * loads behind it could still give up, so that the last in order is the first to
 * feel a cloud. */
#include "spare.h"

#include "load.h"

static uint8_t pools_of(const struct turn *turn, const struct load_settings *load)
{
    return turn->pool_count == 1 ? 1 : load->phases;
}

/* Adds `power_w`, spread over the load's pools. */
static void spread(int64_t pool_w[PHASES], const struct load_memory *memory, int64_t power_w)
{
    int64_t each_w = memory->notes.spread == 1 ? power_w : power_w / memory->notes.spread;
    for (unsigned p = 0; p < PHASES; p++)
        if (memory->notes.pools & (1u << p))
            pool_w[p] += each_w;
}

void spare_take(struct turn *turn, const struct load_memory *memory, int64_t power_w)
{
    spread(turn->spare_w, memory, -power_w);
}

int64_t spare_available(const struct turn *turn, const struct load_memory *memory,
                        const int64_t pool_w[PHASES])
{
    int64_t least_w = INT64_MAX;
    for (unsigned p = 0; p < turn->pool_count; p++)
        if (memory->notes.pools & (1u << p))
            least_w = minimum_64(least_w, pool_w[p]);
    return least_w * memory->notes.spread;
}

int64_t spare_start_need(const struct load_settings *load, const struct load_memory *memory)
{
    return (int64_t)load_start_w(load, memory) * memory->start_permille / 1000;
}

static int64_t battery_adjust_w(const struct turn *turn)
{
    const struct rules_settings *settings = turn->settings;
    int64_t battery_w = settings->battery ? turn->input->reading->battery_power_w : 0;
    int64_t share_w = at_least_0(battery_w) * (1000 - settings->battery_reserved_permille) / 1000;
    return share_w - at_least_0(-battery_w) - settings->margin_w;
}

static void measure(struct turn *turn)
{
    const struct rules_settings *settings = turn->settings;
    const struct reading *reading = turn->input->reading;
    bool per_phase = settings->billing == BILLING_PER_PHASE && settings->phase_count > 1;
    turn->pool_count = per_phase ? settings->phase_count : 1;
    turn->spare_known = turn->fresh && (!per_phase || (reading->has & HAS_PHASE_POWER)) &&
                        (!settings->battery || battery_is_fresh(reading));
    if (!turn->spare_known)
        return;
    int64_t adjust_w = battery_adjust_w(turn);
    for (unsigned p = 0; p < turn->pool_count; p++)
        turn->spare_w[p] = per_phase ? -reading->phase_power_w[p] + adjust_w / turn->pool_count
                                     : -reading->grid_power_w + adjust_w;
}

static bool is_unshown(const struct load_memory *memory)
{
    return memory->state == STATE_STARTING ||
           (memory->state == STATE_ON && memory->draw.view.state == DRAW_WAITING);
}

static int32_t gives_up_w(struct turn *turn, uint16_t index)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    bool can = memory->state == STATE_ON && memory->health == OUTPUT_CONFIRMED &&
               memory->basis == BASIS_SPARE && memory->draw.view.state == DRAW_SEEN;
    if (!can)
        return 0;
    int64_t left_ms = load_min_on_left_ms(turn, index);
    turn_soon(turn, turn->t + left_ms);
    return left_ms == 0 ? memory->draw.view.draw_w : 0;
}

static int32_t own_draw_w(const struct load_memory *memory)
{
    const struct draw_view *draw = &memory->draw.view;
    if (!load_is_on(memory))
        return 0; /* a contact that stays closed is the household's */
    if (is_unshown(memory))
        return memory->notes.expected_w;
    return draw->state == DRAW_SEEN ? draw->draw_w + memory->raised_w : draw->draw_w;
}

/* A level that was changed counts as not yet shown until a reading that was taken
 * when the load had time to follow. */
static void note_move(struct turn *turn, struct load_memory *memory)
{
    int64_t follows = memory->level_since.ms + FOLLOW_MS;
    if (!load_is_on(memory) || (turn->fresh && turn->input->reading->grid.taken.ms >= follows)) {
        memory->raised_w = memory->lowered_w = 0;
        return;
    }
    spare_take(turn, memory, memory->raised_w);
    turn_soon(turn, turn->t < follows ? follows : turn->t + 1);
}

static void note_load(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    struct load_notes *notes = &memory->notes;
    notes->pools = pools_of(turn, load);
    notes->spread = turn->pool_count == 1 ? 1 : phases_count(load->phases);
    notes->expected_w = load_is_on(memory) ? load_expected_w(load, memory) : 0;
    if (!is_unshown(memory) && (memory->raised_w > 0 || memory->lowered_w > 0))
        note_move(turn, memory);
    notes->own_w = own_draw_w(memory);
    notes->gives_w = gives_up_w(turn, index);
    turn->any_gives |= notes->gives_w != 0;
    turn->any_levels |= kind_of(load)->step != NULL;
    notes->shed = notes->returning = notes->held = false;
    if (is_unshown(memory)) {
        turn->any_unshown = true;
        spare_take(turn, memory, notes->expected_w);
    }
    if (memory->relief)
        spare_relieve(turn, memory, memory->relief_w);
}

void spare_sum_gives(struct turn *turn)
{
    for (unsigned p = 0; p < PHASES; p++)
        turn->lower_w[p] = 0;
    if (!turn->any_gives)
        return;
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        spread(turn->lower_w, &turn->memory->loads[i], turn->memory->loads[i].notes.gives_w);
}

/* A load has been switched off: its power will come back. */
void spare_relieve(struct turn *turn, const struct load_memory *memory, int64_t power_w)
{
    turn->any_relief = true;
    spread(turn->relief_w, memory, power_w);
}

void spare_forgo(struct turn *turn, const struct load_memory *memory)
{
    if (memory->notes.gives_w != 0)
        spread(turn->lower_w, memory, -(int64_t)memory->notes.gives_w);
}

void count_spare(struct turn *turn)
{
    measure(turn);
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        note_load(turn, i);
    int64_t sum_w = 0;
    for (unsigned p = 0; p < turn->pool_count; p++)
        sum_w += turn->spare_w[p];
    turn->outcome->spare_w = turn->spare_known ? (int32_t)sum_w : INT32_MIN;
}

int64_t spare_with_own(const struct turn *turn, const struct load_memory *memory)
{
    int64_t pool_w[PHASES];
    for (unsigned p = 0; p < PHASES; p++)
        pool_w[p] = turn->spare_w[p] + turn->lower_w[p] + turn->relief_w[p];
    spread(pool_w, memory, memory->notes.own_w);
    return spare_available(turn, memory, pool_w);
}

static bool probe_is_looking(struct turn *turn, const struct load_memory *memory)
{
    if (memory->basis != BASIS_PROBE || turn->memory->last_probe.ms == MONO_NEVER.ms)
        return false;
    int64_t until = turn->memory->last_probe.ms + PROBE_LOOK_MS;
    if (turn->t >= until)
        return false;
    turn_soon(turn, until);
    return true;
}

/* Section 10.4 for a load that is on. */
bool spare_holds(struct turn *turn, uint16_t index, enum basis *basis)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    if (!turn->spare_known) {
        memory->short_since = MONO_NEVER;
        return false;
    }
    int64_t keep_w = spare_start_need(load, memory) - load->stop_margin_w;
    bool keep = spare_with_own(turn, memory) >= keep_w;
    if (keep)
        memory->short_since = MONO_NEVER;
    else if (memory->short_since.ms == MONO_NEVER.ms)
        memory->short_since.ms = turn->t;
    if (probe_is_looking(turn, memory)) {
        *basis = BASIS_PROBE;
        return true;
    }
    *basis = BASIS_SPARE;
    if (keep)
        return true;
    int64_t stop_at = memory->short_since.ms + load->settle_stop_ms;
    turn_soon(turn, stop_at);
    return memory->basis == BASIS_SPARE && turn->t < stop_at;
}
