/* heat.c - time passes: ticks, half hours, days.
 *
 * Between two ticks only sums grow, so that skipping to the next one and stepping
 * through the seconds give the same. */
#include "heat_inside.h"

#include <string.h>

enum { USUAL_LUMP_J = J_PER_KWH * 7 / 10, USUAL_PERMILLE = 350, GAPS_MOST = 8 };

/* Share of a day's hot water in each two hours, permille: mornings and evenings, as in
 * the tapping profiles of EU regulation 814/2013 (smoothed). */
static const int16_t usual_share[12] = {5, 5, 10, 240, 130, 70, 90, 50, 60, 130, 150, 60};

void heat_begin(const struct heat_settings *settings, struct heat_memory *memory)
{
    *memory = (struct heat_memory){.lump_j = USUAL_LUMP_J, .bright = RANK_WHOLE / 2};
    int64_t full_j = heat_full_mj(settings) / MJ_PER_J;
    for (int s = 0; s < HEAT_SLOTS; s++)
        memory->drawn_j[s] =
            (int32_t)(full_j * USUAL_PERMILLE / 1000 * usual_share[s / 4] / 1000 / 4);
    for (int s = 0; s < HEAT_SLOTS; s++)
        memory->today_w[s] = HEAT_NOT_KNOWN;
    store_forget(memory);
}

void heat_change(const struct heat_settings *before, const struct heat_settings *settings,
                 struct heat_memory *memory)
{
    memory->stale = true;
    if (heat_full_mj(before) != heat_full_mj(settings))
        store_forget(memory);
}

void heat_spare(struct heat_memory *memory, int32_t spare_w, int64_t dt_ms)
{
    memory->tick_sum_mj += spare_w * dt_ms;
    memory->tick_ms += dt_ms;
}

bool heat_knows(const struct heat_memory *memory)
{
    return memory->reckoned;
}

bool heat_takes(const struct heat_memory *memory)
{
    return !memory->open;
}

static int16_t as_w(int64_t sum_mj, int64_t ms)
{
    int64_t w = sum_mj / ms;
    return (int16_t)(w < -32000 ? -32000 : w > 32000 ? 32000 : w);
}

static void begin_tick(struct heat_memory *memory)
{
    memory->tick_sum_mj = memory->tick_ms = 0;
}

static void close_tick(struct heat_memory *memory, int slot)
{
    if (memory->tick_ms > 0 && memory->reckoned)
        see_bright(memory, slot, as_w(memory->tick_sum_mj, memory->tick_ms), memory->tick_ms,
                   &memory->bright);
    memory->slot_sum_mj += memory->tick_sum_mj;
    memory->slot_ms += memory->tick_ms;
    begin_tick(memory);
}

/* A half hour of which less than half was seen tells nothing. */
static void close_slot(struct heat_memory *memory, int slot)
{
    bool seen = memory->slot_ms >= HEAT_SLOT_S * (int64_t)MS_PER_S / 2;
    memory->today_w[slot] = seen ? as_w(memory->slot_sum_mj, memory->slot_ms) : HEAT_NOT_KNOWN;
    memory->slot_sum_mj = memory->slot_ms = 0;
}

/* A day with few gaps is remembered, each gap as the half hour before it. */
static void close_day(struct heat_memory *memory)
{
    int gaps = 0;
    int16_t last_w = 0;
    for (int s = 0; s < HEAT_SLOTS; s++) {
        bool gap = memory->today_w[s] == HEAT_NOT_KNOWN;
        gaps += gap;
        if (gap)
            memory->today_w[s] = last_w;
        last_w = memory->today_w[s];
    }
    if (gaps <= GAPS_MOST) {
        memory->newest = (uint8_t)((memory->newest + 1) % HEAT_DAYS);
        memcpy(memory->spare_w[memory->newest], memory->today_w, sizeof(memory->today_w));
        if (memory->days < HEAT_DAYS)
            memory->days++;
    }
    for (int s = 0; s < HEAT_SLOTS; s++)
        memory->today_w[s] = HEAT_NOT_KNOWN;
}

/* Over a restart only the wall clock goes on; one that has run backwards tells nothing. */
static int64_t since_last_ms(const struct heat_memory *memory, const struct moment *now)
{
    if (memory->resumed)
        return now->wall.ms - memory->at_wall_ms;
    return now->mono.ms - memory->at_mono_ms;
}

static void stamp(struct heat_memory *memory, const struct local *local, const struct moment *now)
{
    memory->begun = true;
    memory->resumed = false;
    memory->at = *local;
    memory->at_mono_ms = now->mono.ms;
    memory->at_wall_ms = now->wall.ms;
}

void heat_tick(const struct heat_settings *settings, struct heat_memory *memory,
               const struct heat_outlook *outlook, const struct local *local,
               const struct moment *now)
{
    int slot = local->second / HEAT_SLOT_S, last = memory->at.second / HEAT_SLOT_S;
    bool new_day = local->day > memory->at.day;
    int64_t passed_ms = since_last_ms(memory, now);
    if (!memory->begun || passed_ms < 0 || passed_ms > UNSEEN_MS)
        begin_tick(memory); /* what was spare at no known time belongs to no half hour */
    if (memory->begun) {
        close_tick(memory, last);
        store_tick(settings, memory, passed_ms);
        if (slot != last || new_day)
            close_slot(memory, last);
        if (new_day)
            close_day(memory);
    }
    bool first = !memory->begun || !memory->reckoned;
    if (memory->days >= HEAT_DAYS_LEAST && (new_day || first || memory->stale))
        reckon(settings, memory, outlook, local->day);
    stamp(memory, local, now);
    if (!memory->reckoned)
        return;
    memory->sky = (uint8_t)sky_of(memory, slot, memory->bright);
    memory->worth_micro = store_worth_micro(settings, memory, slot, outlook->power_w);
}
