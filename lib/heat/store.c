/* store.c - how full the store is believed to be.
 *
 * Nothing in the tank is measured. But heat in is known (run time and power), loss
 * follows from how full it is, and the thermostat speaks: when it opens the store is
 * full; when a load that is switched on draws, it is not. In between the draws are
 * guessed, so the store is a belief: a share for each level. Heat, loss and the mean
 * of the draws move the belief as a whole, exactly; what is uncertain of the draws
 * widens it every two hours. What the thermostat or a probe rules out is cut off.
 *
 * A tank layers: water is drawn from the top, cold water comes in below, and an element near
 * the bottom heats all that lies below the hot water alike. So of what is held, what was
 * there when it was last full, less what was drawn since, is kept apart as hot; what is
 * heated in counts again only once the water below is warm as well.
 *
 * From one known moment to the next, heat in less loss less what is held more must
 * have been drawn. What was expected is corrected by that, each half hour by its
 * part (normalised least mean squares: B. Widrow, S. D. Stearns, "Adaptive Signal
 * Processing", 1985), and the misses tell how lumpy drawing is. */
#include "heat_inside.h"

#include <string.h>

enum {
    LOOK_MICRO = 40000,
    BLIND_TICKS = 144,
    WARM_PERCENT = 65,
    PLUG_PERMILLE = 700,
    LAYERED_PARTS = 5,
    LEARN_LEAST = 100,
    OVERFLOW_DRAWS = 2, /* guests may draw so many times as much */
    OVERFLOW_PARTS = 4,
    FORGET_MS = 60 * MS_PER_MIN, /* after a gap so long, how full it is isn't known either */
};
enum {
    LEARN_DAYS = 40,
    LEARN_DAYS_MOST = 14,
    LEARN_DAYS_LEAST = 2,
    LUMP_PARTS = 10,
    LUMP_AFTER_J = 4 * J_PER_KWH
};
enum { MISS_MOST_KWH = 1000 }; /* more was no draw: a meter or a setting is wrong */

/* Water holds 4186 J/(kg K), taken at 1 kg/L. */
#define WATER_J_PER_L_K 4186

static int64_t at_least_0(int64_t value)
{
    return value > 0 ? value : 0;
}

static int64_t heat_above_cold_mj(const struct heat_settings *settings, int64_t mc)
{
    int64_t above_mc = mc - settings->cold_mc;
    return (int64_t)settings->volume_ml * WATER_J_PER_L_K / 1000 * above_mc;
}

int64_t heat_full_mj(const struct heat_settings *settings)
{
    return heat_above_cold_mj(settings, settings->set_mc);
}

static int64_t hysteresis_mj(const struct heat_settings *settings)
{
    return (int64_t)settings->volume_ml * WATER_J_PER_L_K / 1000 * settings->hysteresis_mc;
}

int64_t heat_held_mj(const struct heat_settings *settings, const struct heat_memory *memory)
{
    int64_t sum = 0;
    for (int g = 0; g < HEAT_LEVELS; g++)
        sum += (int64_t)memory->belief[g] * g;
    int64_t held_mj = sum * (level_mj(settings) / 1024) / (BELIEF_WHOLE / 1024) + memory->shift_mj;
    return at_least_0(held_mj);
}

int heat_held_percent(const struct heat_settings *settings, const struct heat_memory *memory)
{
    int64_t percent = heat_held_mj(settings, memory) * 100 / heat_full_mj(settings);
    return (int)(percent > 100 ? 100 : percent);
}

static void believe(const struct heat_settings *settings, struct heat_memory *memory,
                    int64_t held_mj)
{
    int64_t step_mj = level_mj(settings);
    int64_t level = held_mj / step_mj;
    level = level < 0 ? 0 : level > HEAT_LEVELS - 1 ? HEAT_LEVELS - 1 : level;
    memset(memory->belief, 0, sizeof(memory->belief));
    memory->belief[level] = BELIEF_WHOLE;
    memory->shift_mj = held_mj - level * step_mj;
    memory->hot_mj = held_mj;
    memory->spread_j = 0;
    memory->spread_ms = 0;
}

/* ---- learning from two known moments ------------------------------------------ */

/* A tick comes with the turn that finds it due, a little late: rounded. */
static int64_t ticks_of(int64_t ms)
{
    return (ms + HEAT_TICK_MS / 2) / HEAT_TICK_MS;
}

static int64_t expected_j(const struct heat_memory *memory)
{
    int64_t sum = 0;
    for (int s = 0; s < HEAT_SLOTS; s++)
        sum += memory->drawn_j[s] * memory->passed_ms[s];
    return sum / SLOT_MS;
}

static int64_t day_j(const struct heat_memory *memory)
{
    int64_t sum = 0;
    for (int s = 0; s < HEAT_SLOTS; s++)
        sum += memory->drawn_j[s];
    return sum;
}

/* A half hour without draws so far may have some: it bears a small part as well. */
static int64_t weight(const struct heat_memory *memory, int s)
{
    return memory->drawn_j[s] + 20000;
}

static int64_t within(int64_t value, int64_t most)
{
    return value > most ? most : value < -most ? -most : value;
}

/* By how many days' evidence what is known outweighs one miss: the more, the lumpier
 * drawing is (the steady gain of a Kalman filter whose state wanders by 1 / LEARN_DAYS a
 * day goes by the root of what is noise). At first by less. */
static int64_t steady_days(const struct heat_memory *memory)
{
    int64_t days =
        belief_root(LEARN_DAYS * LEARN_DAYS * (int64_t)memory->lump_j / (day_j(memory) + 1));
    days = days < LEARN_DAYS_LEAST  ? LEARN_DAYS_LEAST
           : days > LEARN_DAYS_MOST ? LEARN_DAYS_MOST
                                    : days;
    return days > 1 + memory->days ? 1 + memory->days : days;
}

static void learn_draws(struct heat_memory *memory, int64_t drawn_j)
{
    int64_t expected = expected_j(memory), norm = 0;
    int64_t miss_j = within(drawn_j - expected, MISS_MOST_KWH * (int64_t)J_PER_KWH);
    for (int s = 0; s < HEAT_SLOTS; s++) {
        int64_t ticks = ticks_of(memory->passed_ms[s]);
        norm += weight(memory, s) * ticks / 64 * ticks;
    }
    norm /= SLOT_TICKS;
    if (norm <= 0)
        return;
    int64_t days = steady_days(memory);
    int64_t learnt_j = expected + days * day_j(memory) + 1;
    for (int s = 0; s < HEAT_SLOTS; s++) {
        int64_t part = miss_j / 64 * weight(memory, s) / norm * ticks_of(memory->passed_ms[s]);
        part = part * (expected / 1000 + LEARN_LEAST) / (learnt_j / 1000 + LEARN_LEAST);
        int64_t now_j = memory->drawn_j[s] + part;
        int64_t most_j = 100 * (int64_t)J_PER_KWH;
        memory->drawn_j[s] = (int32_t)(now_j < 0 ? 0 : now_j > most_j ? most_j : now_j);
    }
    memory->missed_j = within(memory->missed_j + miss_j, MISSED_MOST_J);
    memory->expected_j += expected;
    if (memory->expected_j >= LUMP_AFTER_J) {
        int64_t seen = memory->missed_j / 1000 * memory->missed_j / memory->expected_j * 1000;
        seen = seen > 4 * J_PER_KWH ? 4 * J_PER_KWH : seen;
        memory->lump_j += (int32_t)((seen - memory->lump_j) / LUMP_PARTS);
        memory->missed_j = memory->expected_j = 0;
    }
}

static int64_t ticks_since(const struct heat_memory *memory)
{
    int64_t ms = 0;
    for (int s = 0; s < HEAT_SLOTS; s++)
        ms += memory->passed_ms[s];
    return ticks_of(ms);
}

static void know(const struct heat_settings *settings, struct heat_memory *memory, int64_t held_mj)
{
    int64_t ticks = ticks_since(memory);
    bool lately = ticks > 0 && ticks < 14 * (int64_t)MS_PER_DAY / HEAT_TICK_MS;
    if (memory->known && lately)
        learn_draws(memory,
                    (memory->known_mj + memory->in_mj - memory->lost_mj - held_mj) / MJ_PER_J);
    memory->known = true;
    memory->known_mj = held_mj;
    memory->in_mj = memory->lost_mj = memory->shown_mj = 0;
    memset(memory->passed_ms, 0, sizeof(memory->passed_ms));
    believe(settings, memory, held_mj);
}

/* As one never seen: half full, for all that is known. */
void store_forget(struct heat_memory *memory)
{
    memory->known = memory->open = false;
    memory->in_mj = memory->lost_mj = memory->shown_mj = 0;
    memset(memory->passed_ms, 0, sizeof(memory->passed_ms));
    memset(memory->belief, 0, sizeof(memory->belief));
    memory->belief[HEAT_LEVELS / 2] = BELIEF_WHOLE;
    memory->shift_mj = memory->spread_j = 0;
    memory->spread_ms = 0;
    memory->hot_mj = HOT_MOST_MJ;
}

/* ---- what the thermostat says --------------------------------------------------- */

void heat_full(const struct heat_settings *settings, struct heat_memory *memory)
{
    know(settings, memory, heat_full_mj(settings));
    memory->open = true;
}

/* Weights as shares of the whole: rounded so that they are the whole together. */
static void share_out(const int32_t weight[HEAT_LEVELS], int64_t all, int32_t belief[HEAT_LEVELS])
{
    int64_t passed = 0, given = 0;
    for (int g = 0; g < HEAT_LEVELS; g++) {
        passed += weight[g];
        int64_t due = passed * BELIEF_WHOLE / all;
        belief[g] = (int32_t)(due - given);
        given = due;
    }
}

/* Cuts off what lies outside [least, most]; where all of it does, the nearer end is believed. */
static void rule_out(const struct heat_settings *settings, struct heat_memory *memory,
                     int64_t least_mj, int64_t most_mj)
{
    int64_t step_mj = level_mj(settings), kept = 0;
    int32_t left[HEAT_LEVELS];
    for (int g = 0; g < HEAT_LEVELS; g++) {
        int64_t held_mj = g * step_mj + memory->shift_mj;
        bool can_be = held_mj >= least_mj && held_mj <= most_mj;
        left[g] = can_be ? memory->belief[g] : 0;
        kept += left[g];
    }
    if (kept < BELIEF_WHOLE / 64) {
        int64_t held_mj = heat_held_mj(settings, memory), hot_mj = memory->hot_mj;
        believe(settings, memory, held_mj < least_mj ? least_mj : most_mj);
        memory->hot_mj = hot_mj;
        return;
    }
    share_out(left, kept, memory->belief);
}

/* Water above a probe is no colder than there, and below no warmer. */
static void see_height(const struct heat_settings *settings, struct heat_memory *memory,
                       int64_t here_mj)
{
    int64_t full_mj = heat_full_mj(settings), above = 1000 - settings->probe_permille;
    here_mj = here_mj > full_mj ? full_mj : here_mj;
    int64_t least_mj = here_mj / 1000 * above;
    int64_t most_mj = full_mj / 1000 * above + here_mj / 1000 * settings->probe_permille;
    rule_out(settings, memory, least_mj - level_mj(settings), most_mj + level_mj(settings));
    if (here_mj < full_mj / 100 * WARM_PERCENT) {
        if (memory->hot_mj > full_mj / 1000 * above)
            memory->hot_mj = full_mj / 1000 * above;
    } else if (memory->hot_mj < least_mj) {
        memory->hot_mj = least_mj;
    }
}

void heat_sensed(const struct heat_settings *settings, struct heat_memory *memory, int32_t mc)
{
    int64_t held_mj = at_least_0(heat_above_cold_mj(settings, mc));
    if (settings->probe_permille > 0) {
        see_height(settings, memory, held_mj);
        return;
    }
    if (!memory->known || ticks_since(memory) >= SLOT_TICKS)
        know(settings, memory, held_mj);
    believe(settings, memory, held_mj);
}

bool heat_overflows(const struct heat_settings *settings, const struct heat_memory *memory)
{
    int64_t full_mj = heat_full_mj(settings), held_mj = memory->known ? memory->known_mj : 0;
    int64_t could_mj =
        full_mj - held_mj + memory->lost_mj + OVERFLOW_DRAWS * expected_j(memory) * MJ_PER_J;
    int64_t sure_mj = memory->shown_mj > could_mj ? memory->shown_mj : could_mj;
    return memory->in_mj > sure_mj + full_mj / OVERFLOW_PARTS;
}

void heat_found(const struct heat_settings *settings, struct heat_memory *memory, bool draws)
{
    if (draws)
        memory->shown_mj = memory->in_mj;
    int64_t full_mj = heat_full_mj(settings), closes_mj = full_mj - hysteresis_mj(settings);
    memory->open = !draws;
    if (draws)
        rule_out(settings, memory, -full_mj, closes_mj + level_mj(settings));
    else
        /* in a tank that layers the thermostat closes only when cold water has risen to it */
        rule_out(settings, memory, closes_mj - full_mj / LAYERED_PARTS, full_mj);
}

void heat_goes_on(const struct heat_settings *settings, struct heat_memory *memory)
{
    memory->open = false;
    rule_out(settings, memory, -heat_full_mj(settings), heat_full_mj(settings));
}

void heat_heated(struct heat_memory *memory, int64_t energy_mj)
{
    memory->in_mj += energy_mj;
    memory->shift_mj += energy_mj;
}

/* ---- time passes ------------------------------------------------------------------ */

static int64_t loss_mj(const struct heat_settings *settings, int64_t held_mj, int64_t dt_ms)
{
    int64_t per_k = (int64_t)settings->volume_ml * WATER_J_PER_L_K / 1000; /* mJ per mK */
    int64_t over_mc = settings->cold_mc - settings->room_mc + held_mj / per_k;
    /* mWh a day at 55 K -> mW -> mJ in dt */
    return settings->loss_mwh / 24 * over_mc / 55000 * dt_ms / MS_PER_S;
}

/* Whole levels are moved; what is less stays in the shift, so that nothing blurs. */
static void settle(const struct heat_settings *settings, struct heat_memory *memory)
{
    int64_t step_mj = level_mj(settings);
    int64_t levels = memory->shift_mj / step_mj;
    if (levels == 0)
        return;
    int32_t moved[HEAT_LEVELS] = {0};
    for (int g = 0; g < HEAT_LEVELS; g++) {
        int64_t to = g + levels;
        to = to < 0 ? 0 : to > HEAT_LEVELS - 1 ? HEAT_LEVELS - 1 : to;
        moved[to] += memory->belief[g];
    }
    memcpy(memory->belief, moved, sizeof(moved));
    memory->shift_mj -= levels * step_mj;
}

static void widen(const struct heat_settings *settings, struct heat_memory *memory)
{
    struct lumps lumps;
    lumps_of(memory->spread_j, lump_of(memory), &lumps);
    int64_t step_j = level_mj(settings) / MJ_PER_J;
    int32_t wide[HEAT_LEVELS] = {0};
    for (int k = 0; k < lumps.count; k++) {
        int64_t off_j = memory->spread_j - lumps.amount_j[k]; /* the mean has been taken already */
        int64_t down = (off_j < 0 ? off_j - step_j + 1 : off_j) / step_j;
        int64_t part = (off_j - down * step_j) * 256 / step_j;
        for (int g = 0; g < HEAT_LEVELS; g++) {
            int64_t share = (int64_t)memory->belief[g] * lumps.share[k] / 1000;
            int64_t low = g + down, high = low + 1;
            low = low < 0 ? 0 : low > HEAT_LEVELS - 1 ? HEAT_LEVELS - 1 : low;
            high = high < 0 ? 0 : high > HEAT_LEVELS - 1 ? HEAT_LEVELS - 1 : high;
            wide[high] += (int32_t)(share * part / 256);
            wide[low] += (int32_t)(share - share * part / 256);
        }
    }
    int64_t sum = 0;
    for (int g = 0; g < HEAT_LEVELS; g++)
        sum += wide[g];
    if (sum > 0)
        share_out(wide, sum, memory->belief);
    memory->spread_j = 0;
    memory->spread_ms = 0;
}

/* The water below has become as good as hot. */
static bool reaches_top(const struct heat_settings *settings, int64_t hot_mj, int64_t held_mj)
{
    int64_t full_mj = heat_full_mj(settings);
    return held_mj - hot_mj >= (full_mj - hot_mj) / 100 * WARM_PERCENT;
}

/* The hot water's share of what is lost. No tank loses a 64th of its heat in a half hour, nor holds
 * more than when full: what a damaged note says beyond that must not pass what a product holds. */
static int64_t hot_loss_mj(const struct heat_settings *settings, int64_t lost_mj, int64_t hot_mj,
                           int64_t held_mj)
{
    int64_t full_mj = heat_full_mj(settings);
    int64_t hot_j = (hot_mj > full_mj ? full_mj : hot_mj) / MJ_PER_J;
    return within(lost_mj, full_mj / 64) * hot_j / (held_mj / MJ_PER_J + 1);
}

/* dt_ms of one half hour pass. */
static void pass(const struct heat_settings *settings, struct heat_memory *memory, int slot,
                 int64_t dt_ms)
{
    int64_t lost_mj = loss_mj(settings, heat_held_mj(settings, memory), dt_ms);
    int64_t drawn_j = memory->drawn_j[slot] * dt_ms / SLOT_MS;
    memory->lost_mj += lost_mj;
    memory->passed_ms[slot] = within(memory->passed_ms[slot] + dt_ms, PASSED_MOST_MS);
    int64_t held_mj = heat_held_mj(settings, memory);
    if (memory->hot_mj > held_mj || reaches_top(settings, memory->hot_mj, held_mj))
        memory->hot_mj = held_mj;
    if (held_mj > 0)
        memory->hot_mj -= hot_loss_mj(settings, lost_mj, memory->hot_mj, held_mj);
    memory->hot_mj = at_least_0(memory->hot_mj - drawn_j * MJ_PER_J);
    memory->shift_mj -= lost_mj + drawn_j * MJ_PER_J;
    memory->spread_j += drawn_j;
    memory->spread_ms += (int32_t)dt_ms;
    settle(settings, memory);
}

void store_tick(const struct heat_settings *settings, struct heat_memory *memory, int64_t dt_ms)
{
    if (dt_ms < 0 || dt_ms > FORGET_MS) {
        store_forget(memory);
        return;
    }
    if (dt_ms > UNSEEN_MS)
        memory->known = false;
    int64_t from_ms = (int64_t)memory->at.second * MS_PER_S;
    do {
        int64_t rest_ms = SLOT_MS - from_ms % SLOT_MS;
        int64_t part_ms = dt_ms < rest_ms ? dt_ms : rest_ms;
        pass(settings, memory, (int)(from_ms / SLOT_MS % HEAT_SLOTS), part_ms);
        from_ms += part_ms;
        dt_ms -= part_ms;
    } while (dt_ms > 0);
    int64_t closes_mj = heat_full_mj(settings) - hysteresis_mj(settings);
    if (heat_held_mj(settings, memory) < closes_mj)
        memory->open = false;
    if (ticks_of(memory->spread_ms) >= SPREAD_TICKS)
        widen(settings, memory);
}

/* In levels times LEVEL. */
static int32_t believed_spread(const struct heat_memory *memory)
{
    int64_t mean = 0, square = 0;
    for (int g = 0; g < HEAT_LEVELS; g++)
        mean += (int64_t)memory->belief[g] * g;
    mean /= BELIEF_WHOLE / LEVEL;
    for (int g = 0; g < HEAT_LEVELS; g++)
        square += memory->belief[g] * ((g * LEVEL - mean) * (g * LEVEL - mean) / LEVEL);
    return belief_root(square / (BELIEF_WHOLE / LEVEL));
}

/* What seeing the thermostat open is worth, spread over the heat that is missing until
 * then: the longer the store has only been guessed at, the more. */
static int64_t look_micro(const struct heat_settings *settings, const struct heat_memory *memory)
{
    int64_t ticks = ticks_since(memory) - BLIND_TICKS, day_ticks = MS_PER_DAY / HEAT_TICK_MS;
    if (ticks <= 0)
        return 0;
    int64_t look = LOOK_MICRO * ticks / day_ticks * ticks / day_ticks;
    int64_t missing_j = (heat_full_mj(settings) - heat_held_mj(settings, memory)) / MJ_PER_J;
    return look * J_PER_KWH / (at_least_0(missing_j) + J_PER_KWH / 4);
}

enum { HEATS = 4 };

/* Of so much heat, by what it leaves to pay: at one of the places reckoned with. */
struct saving {
    int64_t used, left_micro; /* times PLACE_WHOLE */
};

static void weigh_heat_at(const heat_costs after, int spread, int level, int32_t weight,
                          int32_t heat, struct saving *saving)
{
    struct heated heated = belief_heated(FULL_LEVEL - level * LEVEL, belief_spread[spread], heat);
    int64_t left = (int64_t)heated.open * after[0][HEAT_LEVELS - 1];
    if (heated.open < HEATED_WHOLE) {
        struct place place = belief_place(heated.missing, heated.spread);
        left += (HEATED_WHOLE - heated.open) * cost_at(after, &place);
    }
    saving->used += (int64_t)weight * heated.used;
    saving->left_micro += weight * (left / HEATED_WHOLE);
}

/* What the store counts as. What lies in water below the hot one is of no use at the tap
 * before that is warm itself; in a tank that mixes, of which less than PLUG_PERMILLE is usable
 * even when it is full, some of it is. */
static int64_t good_mj(const struct heat_settings *settings, const struct heat_memory *memory)
{
    int64_t held_mj = heat_held_mj(settings, memory);
    int64_t mixes = at_least_0(PLUG_PERMILLE - settings->usable_permille);
    int64_t good_mj = memory->hot_mj + heat_full_mj(settings) / 1000 * mixes;
    return good_mj < held_mj ? good_mj : held_mj;
}

/* What heating on saves a kWh, by the best of some amounts: a little may come to nothing where
 * more shows the store full. */
int32_t store_worth_micro(const struct heat_settings *settings, const struct heat_memory *memory,
                          int slot, int32_t power_w)
{
    static const int minutes[HEATS] = {10, 20, 30, 60};
    int64_t step_j = level_mj(settings) / MJ_PER_J, best = INT64_MIN;
    const int32_t(*after)[HEAT_LEVELS] = memory->after[slot][memory->sky];
    int64_t missing_j = (heat_full_mj(settings) - good_mj(settings, memory)) / MJ_PER_J;
    int32_t missing = (int32_t)(missing_j * LEVEL / step_j);
    struct place here = belief_place(missing < 0 ? 0 : missing,
                                     heat_is_seen(settings) ? 0 : believed_spread(memory));
    int64_t now_micro = cost_at(after, &here);
    for (int k = 0; k < HEATS; k++) {
        int32_t heat = (int32_t)((int64_t)power_w * 60 * minutes[k] * LEVEL / step_j);
        struct saving saving = {0};
        for (int c = 0; c < 4; c++)
            if (here.weight[c] > 0)
                weigh_heat_at(after, here.spread + c / 2, here.level + c % 2, here.weight[c], heat,
                              &saving);
        int64_t used = saving.used / PLACE_WHOLE;
        if (used < LEVEL / 16)
            continue;
        int64_t saved = now_micro - saving.left_micro / PLACE_WHOLE;
        int64_t per_kwh = saved * LEVEL / used * J_PER_KWH / step_j;
        best = per_kwh > best ? per_kwh : best;
    }
    if (best == INT64_MIN)
        return 0;
    return (int32_t)within(best + look_micro(settings, memory), INT32_MAX);
}
