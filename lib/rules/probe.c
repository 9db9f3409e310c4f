/* probe.c - looking for power that a throttled inverter hides.
 *
 * Where export is pinned at its limit the meter cannot show what more the roof
 * could give. Starting one load shows it: if the inverter follows, the run goes on
 * as any on spare power; if import follows, it ends, and a while passes. */
#include "probe.h"

static bool is_throttled(const struct turn *turn)
{
    const struct reading *reading = turn->input->reading;
    int64_t limit_w = turn->settings->export_limit_w;
    if (!turn->spare_known)
        return false;
    return reading->inverter_throttled ||
           (limit_w > 0 && -(int64_t)reading->grid_power_w * 100 >= limit_w * 95);
}

void probe_watch(struct turn *turn)
{
    struct mono *since = &turn->memory->throttled_since;
    if (!is_throttled(turn))
        *since = MONO_NEVER;
    else if (since->ms == MONO_NEVER.ms)
        since->ms = turn->t;
}

static bool is_rested(const struct turn *turn)
{
    const struct rules_memory *memory = turn->memory;
    return memory->last_probe.ms == MONO_NEVER.ms ||
           turn->t - memory->last_probe.ms >= turn->settings->probe_wait_ms;
}

bool probe_allowed(const struct turn *turn, uint16_t index)
{
    const struct rules_memory *memory = turn->memory;
    const struct load_settings *load = &turn->settings->loads[index];
    return memory->throttled_since.ms != MONO_NEVER.ms &&
           turn->t - memory->throttled_since.ms >= load->settle_start_ms && !turn->any_unshown &&
           !turn->any_relief && is_rested(turn) &&
           memory->probes_today < turn->settings->probes_per_day;
}
