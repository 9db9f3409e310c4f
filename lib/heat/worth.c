/* worth.c - the reckoning, backwards through tomorrow and today.
 *
 * What is still to pay depends on the half hour, the sky and the store's level. In
 * each half hour the spare power is what past days had at this time under such a sky;
 * for each of them the cheapest of a few amounts of heat is taken, and the mean stands.
 * Then draws (as lumpy as learnt) and loss take their part, and the sky changes as it
 * has changed on past days at about this time. What is missing at the tap is paid
 * for dearly. The day's beginning comes out as the end of the day before. */
#include "heat_inside.h"

#include <string.h>

enum { BRIGHT_MS = 45 * MS_PER_MIN };
enum { OPTIONS_MAX = 4, GROUPS_MAX = 2, TURN_SLOTS = 4, PART = 256, FINE = 65536 };

/* ---- past days, by sky --------------------------------------------------------- */

struct sample {
    int32_t spare_w, bright;
    uint8_t day; /* days ago, 0: yesterday */
};

static int32_t past_w(const struct heat_memory *memory, int ago, int slot)
{
    return memory->spare_w[(memory->newest + HEAT_DAYS - ago) % HEAT_DAYS][slot];
}

typedef bool goes_before_fn(const struct sample *a, const struct sample *b);

static bool has_less(const struct sample *a, const struct sample *b)
{
    return a->spare_w < b->spare_w;
}

static bool is_duller(const struct sample *a, const struct sample *b)
{
    return a->bright < b->bright;
}

static void sort(struct sample sample[], int count, goes_before_fn *goes_before)
{
    for (int i = 1; i < count; i++) {
        struct sample moved = sample[i];
        int k = i;
        for (; k > 0 && goes_before(&moved, &sample[k - 1]); k--)
            sample[k] = sample[k - 1];
        sample[k] = moved;
    }
}

/* ---- skies ---------------------------------------------------------------------- */

/* How much of past days had less at this time, as a share of RANK_WHOLE. */
static int32_t rank_of(const struct heat_memory *memory, int slot, int32_t spare_w)
{
    int twice = 0;
    for (int d = 0; d < memory->days; d++) {
        int32_t then_w = past_w(memory, d, slot);
        twice += 2 * (then_w < spare_w) + (then_w == spare_w);
    }
    return twice * RANK_WHOLE / (2 * memory->days);
}

/* One kettle is no cloud: brightness is a mean of ranks, over about an hour, of the time
 * when there may be anything to spare. It lasts through the dark. */
void see_bright(const struct heat_memory *memory, int slot, int32_t spare_w, int64_t dt_ms,
                int32_t *bright)
{
    if (memory->light[slot])
        *bright +=
            (int32_t)((rank_of(memory, slot, spare_w) - *bright) * dt_ms / (dt_ms + BRIGHT_MS));
}

int sky_of(const struct heat_memory *memory, int slot, int32_t bright)
{
    int sky = 0;
    while (sky < HEAT_SKIES - 1 && bright >= memory->edge[slot][sky])
        sky++;
    return sky;
}

struct slot_view {
    struct sample sample[HEAT_SLOTS][HEAT_DAYS]; /* by sky, then by what was to spare */
    uint8_t sky[HEAT_SLOTS][HEAT_DAYS];          /* by days ago */
};

/* The days under one sky are samples [first, last). */
struct range {
    int first, last;
};

static struct range days_under(const struct heat_memory *memory, int slot, int sky)
{
    int days = memory->days;
    if (!memory->light[slot])
        return (struct range){0, days};
    struct range range = {days * sky / HEAT_SKIES, days * (sky + 1) / HEAT_SKIES};
    if (range.first == range.last) { /* fewer days than skies */
        range.first -= range.first == days;
        range.last = range.first + 1;
    }
    return range;
}

static void see_light(struct heat_memory *memory, int slot)
{
    memory->light[slot] = false;
    for (int d = 0; d < memory->days; d++)
        memory->light[slot] |= past_w(memory, d, slot) > 0;
}

static void sort_slot(struct heat_memory *memory, struct slot_view *view, int slot)
{
    struct sample *sample = view->sample[slot];
    sort(sample, memory->days, is_duller);
    for (int k = 1; k < HEAT_SKIES; k++)
        memory->edge[slot][k - 1] = sample[memory->days * k / HEAT_SKIES].bright;
    for (int i = 0; i < memory->days; i++)
        view->sky[slot][sample[i].day] = (uint8_t)sky_of(memory, slot, sample[i].bright);
    for (int k = 0; k < HEAT_SKIES; k++) {
        struct range range = days_under(memory, slot, k);
        sort(sample + range.first, range.last - range.first, has_less);
    }
}

static void see_skies(struct heat_memory *memory, struct slot_view *view)
{
    int32_t bright = RANK_WHOLE / 2;
    for (int s = 0; s < HEAT_SLOTS; s++)
        see_light(memory, s);
    for (int d = memory->days - 1; d >= 0; d--)
        for (int s = 0; s < HEAT_SLOTS; s++) {
            int32_t spare_w = past_w(memory, d, s);
            see_bright(memory, s, spare_w, SLOT_MS, &bright);
            view->sample[s][d] = (struct sample){spare_w, bright, (uint8_t)d};
        }
    for (int s = 0; s < HEAT_SLOTS; s++)
        sort_slot(memory, view, s);
}

/* ---- one half hour -------------------------------------------------------------- */

/* How often one sky followed another, around this time of day. */
static void count_turns(const struct heat_memory *memory, const struct slot_view *view, int slot,
                        int32_t turns[HEAT_SKIES][HEAT_SKIES])
{
    for (int k = 0; k < HEAT_SKIES; k++)
        for (int j = 0; j < HEAT_SKIES; j++)
            turns[k][j] = 1 + 8 * (k == j); /* before anything was seen, skies last */
    for (int s = slot - TURN_SLOTS; s <= slot + TURN_SLOTS; s++) {
        bool counts = s == slot || (s >= 0 && s + 1 < HEAT_SLOTS && memory->light[s] &&
                                    memory->light[s + 1] && memory->light[slot]);
        if (!counts)
            continue;
        for (int d = 0; d < memory->days; d++) {
            bool next_day = s + 1 == HEAT_SLOTS;
            if (next_day && d == 0)
                continue;
            int next = next_day ? view->sky[0][d - 1] : view->sky[s + 1][d];
            turns[view->sky[s][d]][next] += 16;
        }
    }
}

struct option {
    int64_t heat_mj;
    int64_t cost_micro;
};

struct prices {
    int64_t buy_micro, feed_in_micro;
};

/* Dear heat in small coins may pass what an int32_t holds: beyond its end all is equally bad. */
static int32_t as_cost(int64_t micro)
{
    return (int32_t)(micro > INT32_MAX ? INT32_MAX : micro < INT32_MIN ? INT32_MIN : micro);
}

static int64_t cost_micro(int64_t energy_mj, int64_t micro_per_kwh)
{
    return energy_mj / MJ_PER_J * micro_per_kwh / J_PER_KWH;
}

/* What some amounts of heat cost in a half hour with so much to spare. */
static int options_of(const struct heat_outlook *outlook, const struct prices *prices,
                      int64_t spare_w, struct option option[OPTIONS_MAX])
{
    const int64_t slot_ms = HEAT_SLOT_S * (int64_t)MS_PER_S;
    int64_t power_w = outlook->power_w;
    int64_t sun_w = spare_w < 0 ? 0 : spare_w > power_w ? power_w : spare_w;
    int64_t all_micro = cost_micro(sun_w * slot_ms, prices->feed_in_micro) +
                        cost_micro((power_w - sun_w) * slot_ms, prices->buy_micro);
    int count = 0;
    if (outlook->element == HEAT_FOLLOWS && sun_w > 0)
        option[count++] =
            (struct option){sun_w * slot_ms, cost_micro(sun_w * slot_ms, prices->feed_in_micro)};
    for (int k = 1; k <= 3; k++)
        option[count++] = (struct option){power_w * slot_ms * k / 3, all_micro * k / 3};
    return count;
}

/* Lets `level` become the cheaper of itself and the option, for every level. */
static void offer(const struct heat_settings *settings, const int32_t after[HEAT_LEVELS],
                  const struct option *option, int32_t best[HEAT_LEVELS])
{
    int64_t step_mj = level_mj(settings);
    int up = (int)(option->heat_mj / step_mj);
    int64_t part = (option->heat_mj % step_mj) * PART / step_mj;
    int64_t per_level = option->cost_micro * (step_mj / MJ_PER_J) / (option->heat_mj / MJ_PER_J);
    for (int g = 0; g < HEAT_LEVELS; g++) {
        int64_t cost;
        if (g + up + 1 < HEAT_LEVELS)
            cost = option->cost_micro +
                   ((PART - part) * after[g + up] + part * after[g + up + 1]) / PART;
        else /* as much as it takes until the thermostat opens */
            cost = per_level * (HEAT_LEVELS - 1 - g) + after[HEAT_LEVELS - 1];
        if (cost < best[g])
            best[g] = as_cost(cost);
    }
}

/* Days under one sky in one or two groups, each by its mean. */
static int group(const struct sample sample[], struct range range, int64_t mean_w[GROUPS_MAX],
                 int weight[GROUPS_MAX])
{
    int count = range.last - range.first, groups = count < GROUPS_MAX ? count : GROUPS_MAX;
    for (int k = 0; k < groups; k++) {
        int first = range.first + count * k / groups, last = range.first + count * (k + 1) / groups;
        int64_t sum = 0;
        for (int i = first; i < last; i++)
            sum += sample[i].spare_w;
        mean_w[k] = sum / (last - first);
        weight[k] = last - first;
    }
    return groups;
}

static void before_heating(const struct heat_settings *settings, const struct heat_outlook *outlook,
                           const struct prices *prices, const struct sample sample[],
                           struct range range, const int32_t after[HEAT_LEVELS],
                           int32_t before[HEAT_LEVELS])
{
    int64_t mean_w[GROUPS_MAX], sum[HEAT_LEVELS] = {0};
    int weight[GROUPS_MAX], groups = group(sample, range, mean_w, weight);
    for (int k = 0; k < groups; k++) {
        struct option option[OPTIONS_MAX];
        int count = options_of(outlook, prices, mean_w[k], option);
        int32_t best[HEAT_LEVELS];
        memcpy(best, after, sizeof(best));
        for (int i = 0; i < count; i++)
            offer(settings, after, &option[i], best);
        for (int g = 0; g < HEAT_LEVELS; g++)
            sum[g] += (int64_t)best[g] * weight[k];
    }
    for (int g = 0; g < HEAT_LEVELS; g++)
        before[g] = as_cost(sum[g] / (range.last - range.first));
}

/* The store in levels times FINE, so that the inmost loop divides by powers of two only. */
struct scale {
    int64_t level_j;
    int64_t lost[HEAT_LEVELS]; /* in a half hour */
    int64_t least;             /* below this, what comes dwindles */
    int64_t missing_micro;     /* for a level's heat */
};

static struct scale scale_of(const struct heat_settings *settings)
{
    int64_t full_j = heat_full_mj(settings) / MJ_PER_J;
    struct scale scale = {.level_j = level_mj(settings) / MJ_PER_J};
    int64_t span_mc = settings->set_mc - settings->cold_mc;
    int64_t at_55_j = (int64_t)settings->loss_mwh / MJ_PER_J * 3600 / HEAT_SLOTS; /* mWh -> J */
    for (int g = 0; g < HEAT_LEVELS; g++) {
        int64_t over_mc = settings->cold_mc - settings->room_mc + span_mc * g / (HEAT_LEVELS - 1);
        scale.lost[g] = at_55_j * over_mc / 55000 * FINE / scale.level_j;
    }
    int64_t least_j = full_j / 1000 * (1000 - settings->usable_permille);
    scale.least = least_j * FINE / scale.level_j;
    scale.missing_micro = scale.level_j * settings->missing_micro / J_PER_KWH;
    return scale;
}

/* Where a level goes when so much is drawn in three parts, and what is missing. */
struct fall {
    int level;
    int64_t part;
    int64_t missing_micro;
};

static struct fall fall_of(const struct scale *scale, int level, int64_t third)
{
    int64_t held = (int64_t)level * FINE - scale->lost[level], missing = 0;
    for (int k = 0; k < 3; k++) {
        int64_t got = third;
        if (held < scale->least)
            got = held <= 0 ? 0 : third * held / scale->least;
        missing += third - got;
        held -= got;
    }
    held = held < 0 ? 0 : held;
    struct fall fall = {.level = (int)(held / FINE),
                        .part = held % FINE / (FINE / PART),
                        .missing_micro = missing * scale->missing_micro / FINE};
    if (fall.level >= HEAT_LEVELS - 1) {
        fall.level = HEAT_LEVELS - 2;
        fall.part = PART;
    }
    return fall;
}

/* What is to pay before the half hour's draws, by what is to pay after them. */
static void before_draws(const struct scale *scale, const struct lumps *lumps,
                         const int32_t next[HEAT_SKIES][HEAT_LEVELS],
                         int32_t before[HEAT_SKIES][HEAT_LEVELS])
{
    int64_t third[LUMPS];
    for (int k = 0; k < lumps->count; k++)
        third[k] = (int64_t)lumps->amount_j[k] * FINE / scale->level_j / 3;
    for (int g = 0; g < HEAT_LEVELS; g++) {
        int64_t sum[HEAT_SKIES] = {0};
        for (int k = 0; k < lumps->count; k++) {
            struct fall fall = fall_of(scale, g, third[k]);
            for (int sky = 0; sky < HEAT_SKIES; sky++) {
                const int32_t *to = &next[sky][fall.level];
                int64_t then = ((PART - fall.part) * to[0] + fall.part * to[1]) / PART;
                sum[sky] += lumps->share[k] * (then + fall.missing_micro);
            }
        }
        for (int sky = 0; sky < HEAT_SKIES; sky++)
            before[sky][g] = as_cost(sum[sky] / 1000);
    }
}

static void mix_skies(const int32_t turns[HEAT_SKIES][HEAT_SKIES],
                      const int32_t by_next[HEAT_SKIES][HEAT_LEVELS],
                      int32_t after[HEAT_SKIES][HEAT_LEVELS])
{
    for (int k = 0; k < HEAT_SKIES; k++) {
        int64_t all = 0;
        for (int j = 0; j < HEAT_SKIES; j++)
            all += turns[k][j];
        for (int g = 0; g < HEAT_LEVELS; g++) {
            int64_t sum = 0;
            for (int j = 0; j < HEAT_SKIES; j++)
                sum += (int64_t)turns[k][j] * by_next[j][g];
            after[k][g] = (int32_t)(sum / all);
        }
    }
}

/* Only differences count: the least is taken off, so that nothing grows for ever. */
static void take_least_off(int32_t next[HEAT_SKIES][HEAT_LEVELS])
{
    int64_t least = INT32_MAX;
    for (int k = 0; k < HEAT_SKIES; k++)
        for (int g = 0; g < HEAT_LEVELS; g++)
            least = next[k][g] < least ? next[k][g] : least;
    for (int k = 0; k < HEAT_SKIES; k++)
        for (int g = 0; g < HEAT_LEVELS; g++)
            next[k][g] = as_cost(next[k][g] - least);
}

static void reckon_day(const struct heat_settings *settings, struct heat_memory *memory,
                       const struct heat_outlook *outlook, const struct slot_view *view,
                       int32_t day, int32_t next[HEAT_SKIES][HEAT_LEVELS])
{
    struct scale scale = scale_of(settings);
    for (int s = HEAT_SLOTS - 1; s >= 0; s--) {
        struct local local = {day, s * HEAT_SLOT_S};
        struct prices prices = {tariff_price(outlook->tariff, &local),
                                tariff_feed_in(outlook->tariff, &local)};
        struct lumps lumps;
        int32_t turns[HEAT_SKIES][HEAT_SKIES], by_next[HEAT_SKIES][HEAT_LEVELS];
        lumps_of(memory->drawn_j[s], memory->lump_j, &lumps);
        before_draws(&scale, &lumps, next, by_next);
        count_turns(memory, view, s, turns);
        mix_skies(turns, by_next, memory->after[s]);
        for (int k = 0; k < HEAT_SKIES; k++)
            before_heating(settings, outlook, &prices, view->sample[s], days_under(memory, s, k),
                           memory->after[s][k], next[k]);
        take_least_off(next);
    }
}

void reckon(const struct heat_settings *settings, struct heat_memory *memory,
            const struct heat_outlook *outlook, int32_t day)
{
    struct slot_view view;
    int32_t next[HEAT_SKIES][HEAT_LEVELS];
    see_skies(memory, &view);
    memcpy(next, memory->begin, sizeof(next));
    /* the first time it knows no end to begin with, or one of other prices */
    int sweeps = memory->reckoned && !memory->stale ? 2 : 4;
    for (int k = sweeps - 1; k >= 0; k--)
        reckon_day(settings, memory, outlook, &view, k > 0 ? day + 1 : day, next);
    memcpy(memory->begin, next, sizeof(next));
    memory->reckoned = true;
    memory->stale = false;
}
