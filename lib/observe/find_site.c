/* find_site.c - do the meters live.
 *
 * A meter that repeats one value does so longer than this house has ever kept
 * still. A roof that fails gives nothing in half hours in which it nearly
 * always gave something: which those are is learnt from the house's own days,
 * not from where the sun stands. */
#include "observe/find_inside.h"

enum {
    STILL_LEAST_MS = 30 * MS_PER_MIN, /* a house that keeps still so long is nothing unusual */
    STILL_TIMES = 4,
    STILL_SAMPLES = 60,
    CERTAIN_MN = 9000,
    SLOT_S = 24 * 3600 / FINDINGS_DAY_SLOTS,
    LIGHT_DAYS_LEAST = 7,
    LIGHT_DAYS = 16,      /* that count */
    LIGHT_PERMILLE = 950, /* of those days: then it is daylight */
    LIGHT_W = 5,          /* an overcast roof gives more: common practice, no source */
    DARK_MS = 6 * MS_PER_HOUR,
    DARK_DAYS = 2, /* a storm or snow takes one. A judgement */
};

/* ---- the grid's meter
 * -------------------------------------------------------------------- */

static bool is_same(const struct findings_memory *memory, const struct reading *reading)
{
    bool same = memory->value_w == reading->grid_power_w;
    for (int phase = 0; reading->has & HAS_PHASE_POWER && phase < PHASES; phase++)
        same &= memory->phase_value_w[phase] == reading->phase_power_w[phase];
    return same;
}

static void changes(struct findings_memory *memory, const struct reading *reading,
                    struct moment now)
{
    int64_t still_ms = now.mono.ms - memory->changed.mono.ms;
    bool stuck = memory->suspicion[OF_METER_STUCK].stands;
    if (memory->has_value && !stuck && still_ms > memory->longest_ms)
        memory->longest_ms = still_ms;
    memory->has_value = true;
    memory->value_w = reading->grid_power_w;
    for (int phase = 0; phase < PHASES; phase++)
        memory->phase_value_w[phase] = reading->phase_power_w[phase];
    memory->changed = now;
    memory->samples = 0;
    suspect_end(&memory->suspicion[OF_METER_STUCK]);
}

static void watch_meter(struct findings_memory *memory, const struct reading *reading,
                        struct moment now)
{
    struct suspicion *suspicion = &memory->suspicion[OF_METER_STUCK];
    bool news = reading->grid.quality == READING_FRESH && reading->has & HAS_GRID_POWER &&
                (!memory->has_value || reading->grid.sequence != memory->sequence);
    if (!news)
        return;
    memory->sequence = reading->grid.sequence;
    if (!memory->has_value || !is_same(memory, reading)) {
        changes(memory, reading, now);
        return;
    }
    if (memory->samples < UINT16_MAX)
        memory->samples++;
    int64_t still_ms = now.mono.ms - memory->changed.mono.ms;
    if (still_ms >= STILL_TIMES * memory->longest_ms && memory->samples >= STILL_SAMPLES &&
        !suspicion->stands) {
        suspect_set(suspicion, CERTAIN_MN, now);
        suspicion->since = memory->changed;
    }
    suspicion->number[0] = still_ms;
}

/* ---- the roof
 * ------------------------------------------------------------------------------
 */

static void slot_ends(struct findings_memory *memory)
{
    int16_t *light = &memory->light_permille[memory->slot];
    int weight = memory->light_days < LIGHT_DAYS ? memory->light_days + 1 : LIGHT_DAYS;
    *light = (int16_t)(*light + ((memory->lit ? 1000 : 0) - *light) / weight);
    if (memory->slot == FINDINGS_DAY_SLOTS - 1 && memory->whole_day &&
        memory->light_days < UINT16_MAX)
        memory->light_days++;
    memory->whole_day |= memory->slot == FINDINGS_DAY_SLOTS - 1;
    memory->lit = false;
}

static void watch_roof(struct findings_memory *memory, const struct findings_input *input,
                       int64_t dt_ms)
{
    struct suspicion *suspicion = &memory->suspicion[OF_SOLAR_GONE];
    const struct reading *reading = input->reading;
    bool fresh = reading->solar.quality == READING_FRESH && reading->has & HAS_SOLAR_POWER;
    int8_t slot = (int8_t)(input->local_s < 0 ? -1 : input->local_s / SLOT_S % FINDINGS_DAY_SLOTS);
    if (slot != memory->slot && memory->slot >= 0 && memory->dark_ms == 0)
        slot_ends(memory); /* what may be a failure is not learnt */
    memory->slot = slot;
    if (fresh && reading->solar_power_w > LIGHT_W) {
        memory->lit = true;
        memory->dark_ms = 0;
        memory->lit_at = input->now.mono;
        suspect_end(suspicion);
    }
    bool daylight = slot >= 0 && memory->light_days >= LIGHT_DAYS_LEAST &&
                    memory->light_permille[slot] >= LIGHT_PERMILLE;
    if (daylight && fresh && reading->solar_power_w <= LIGHT_W)
        memory->dark_ms += dt_ms;
    bool long_gone = input->now.mono.ms - memory->lit_at.ms >= DARK_DAYS * (int64_t)MS_PER_DAY;
    if (memory->dark_ms >= DARK_MS && long_gone && !suspicion->stands)
        suspect_set(suspicion, CERTAIN_MN, input->now);
    suspicion->number[0] = memory->dark_ms;
}

void site_turn(const struct findings_settings *settings, struct findings_memory *memory,
               const struct findings_input *input, int64_t dt_ms)
{
    watch_meter(memory, input->reading, input->now);
    if (settings->solar)
        watch_roof(memory, input, dt_ms);
    if (memory->longest_ms < STILL_LEAST_MS)
        memory->longest_ms = STILL_LEAST_MS;
}
