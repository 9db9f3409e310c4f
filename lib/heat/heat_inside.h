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
#define HOT_MOST_MJ (1000000 * (int64_t)J_PER_KWH * MJ_PER_J)
#define MISSED_MOST_J (20000 * (int64_t)J_PER_KWH) /* so that its square still has a place */

static inline int64_t level_mj(const struct heat_settings *settings)
{
    return heat_full_mj(settings) / (HEAT_LEVELS - 1);
}

/* What is to pay, by spread and level. */
typedef int32_t heat_costs[HEAT_SPREADS][HEAT_LEVELS];

/* ---- belief.c: a guess of how full the store is, in levels times LEVEL ---------- */

enum {
    LEVEL = 256,
    FULL_LEVEL = (HEAT_LEVELS - 1) * LEVEL,
    PIECES = 11,
    PIECE_WHOLE = 256,
    HEATED_WHOLE = 65536,
    PLACE_WHOLE = LEVEL * LEVEL,
};

struct piece {
    int32_t missing, width; /* to full: mean of the piece, which is even over its width */
};
extern const int32_t piece_share[PIECES]; /* of PIECE_WHOLE */
extern const int32_t belief_spread[HEAT_SPREADS];

/* `spread` > 0: the standard deviation of what is missing. */
void belief_pieces(int32_t missing, int32_t spread, struct piece piece[PIECES]);

/* What so much heat comes to. */
struct heated {
    int32_t open;            /* how likely the thermostat opens, of HEATED_WHOLE */
    int32_t used;            /* mean of the heat that goes in */
    int32_t missing, spread; /* where it doesn't open */
};
struct heated belief_heated(int32_t missing, int32_t spread, int32_t heat);

/* Between four of the places that are reckoned with. */
struct place {
    int spread, level;
    int32_t weight[4]; /* of PLACE_WHOLE: here, a level up, a spread wider, both */
};
struct place belief_place(int32_t missing, int32_t spread);
int32_t belief_root(int64_t square); /* rounded down; of less than 2^40 */

static inline int64_t cost_at(const heat_costs costs, const struct place *place)
{
    const int32_t *near = &costs[place->spread][place->level];
    const int32_t *wide = &costs[place->spread + 1][place->level];
    const int32_t *weight = place->weight;
    return ((int64_t)near[0] * weight[0] + (int64_t)near[1] * weight[1] +
            (int64_t)wide[0] * weight[2] + (int64_t)wide[1] * weight[3]) /
           PLACE_WHOLE;
}

/* The drawing of a mean amount, as six equally lumpy possibilities: shares out of
 * 1000, and each one's amount. */
struct lumps {
    int32_t share[LUMPS];
    int32_t amount_j[LUMPS];
    int count;
};
void lumps_of(int64_t mean_j, int32_t lump_j, struct lumps *lumps);
/* How lumpy the drawing is taken to be, by what was seen of it. */
int32_t lump_of(const struct heat_memory *memory);

/* store.c */
/* dt_ms pass from the last tick on; negative: nobody knows how long. */
void store_tick(const struct heat_settings *settings, struct heat_memory *memory, int64_t dt_ms);
void store_forget(struct heat_memory *memory);
int32_t store_worth_micro(const struct heat_settings *settings, const struct heat_memory *memory,
                          int slot, int32_t power_w);

/* from what is known at the beginning of local day `day`. */
void reckon(const struct heat_settings *settings, struct heat_memory *memory,
            const struct heat_outlook *outlook, int32_t day);
void see_bright(const struct heat_memory *memory, int slot, int32_t spare_w, int64_t dt_ms,
                int32_t *bright);
int sky_of(const struct heat_memory *memory, int slot, int32_t bright);

#endif
