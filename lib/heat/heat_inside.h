/* heat_inside.h - what the files of this room share. */
#ifndef SLUICE_HEAT_HEAT_INSIDE_H
#define SLUICE_HEAT_HEAT_INSIDE_H

#include "heat/heat.h"

enum {
    BELIEF_WHOLE = 65536,
    RANK_WHOLE = 65536,
    LUMPS = 6,
    SLOT_MS = HEAT_SLOT_S * MS_PER_S,
    SLOT_TICKS = SLOT_MS / HEAT_TICK_MS,
    SPREAD_TICKS = 24,
    UNSEEN_MS = 30 * MS_PER_MIN, /* after a gap so long, heat in and draws are not known */
};

#define MJ_PER_J 1000
#define J_PER_KWH 3600000
#define PASSED_MOST_MS (100 * (int64_t)SLOT_MS) /* likewise: days since it was last known */
#define SPREAD_MOST_J (500 * (int64_t)J_PER_KWH)
#define MISSED_MOST_J (20000 * (int64_t)J_PER_KWH) /* so that its square still has a place */

static inline int64_t level_mj(const struct heat_settings *settings)
{
    return heat_full_mj(settings) / (HEAT_LEVELS - 1);
}

/* The drawing of a mean amount, as six equally lumpy possibilities: shares out of
 * 1000, and each one's amount. */
struct lumps {
    int32_t share[LUMPS];
    int32_t amount_j[LUMPS];
    int count;
};
void lumps_of(int64_t mean_j, int32_t lump_j, struct lumps *lumps);

/* store.c */
/* dt_ms pass from the last tick on; negative: nobody knows how long. */
void store_tick(const struct heat_settings *settings, struct heat_memory *memory, int64_t dt_ms);
void store_forget(struct heat_memory *memory);
int32_t store_worth_micro(const struct heat_settings *settings, const struct heat_memory *memory,
                          int slot);

/* from what is known at the beginning of local day `day`. */
void reckon(const struct heat_settings *settings, struct heat_memory *memory,
            const struct heat_outlook *outlook, int32_t day);
void see_bright(const struct heat_memory *memory, int slot, int32_t spare_w, int64_t dt_ms,
                int32_t *bright);
int sky_of(const struct heat_memory *memory, int slot, int32_t bright);

#endif
