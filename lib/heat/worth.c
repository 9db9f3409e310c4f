/* worth.c - the reckoning, backwards through tomorrow and today.
 *
 * What is still to pay depends on the half hour, the sky, and what is believed of the store:
 * its mean level and how far off that may be. In each half hour the spare power is what past
 * days had at this time under such a sky; for each of them the cheapest of a few amounts of heat
 * is taken, and the mean stands. Heating may open the thermostat, and then the store is known;
 * where it doesn't, that says that more was missing. So what is held in reserve for a guess, and
 * what it is worth to see the store full, follow by themselves. Then draws (as lumpy as learnt)
 * and loss take their part, the guess spreads, and the sky changes as it has changed on past days
 * at about this time. What is missing at the tap is paid for dearly. The day's beginning comes
 * out as the end of the day before. */
#include "heat_inside.h"

#include <string.h>

enum { BRIGHT_MS = 45 * MS_PER_MIN };
enum { OPTIONS_MAX = 6, GROUPS_MAX = 2, TURN_SLOTS = 4, FINE = 65536, SHARES = 65536 };

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

struct prices {
    int64_t buy_micro, feed_in_micro;
};

/* Dear heat in small coins may pass what an int32_t holds: beyond its end all is equally bad. */
static int32_t as_cost(int64_t micro)
{
    return (int32_t)(micro > INT32_MAX ? INT32_MAX : micro < INT32_MIN ? INT32_MIN : micro);
}

/* Some amounts of heat in a half hour, from everywhere that is reckoned with. */
struct heating {
    int count;
    struct heated heated[OPTIONS_MAX][HEAT_SPREADS][HEAT_LEVELS];
    struct place place[OPTIONS_MAX][HEAT_SPREADS][HEAT_LEVELS];
};

static void see_heating(const struct heat_settings *settings, const struct heat_outlook *outlook,
                        int spreads, struct heating *heating)
{
    int64_t step_j = level_mj(settings) / MJ_PER_J;
    int64_t all = (int64_t)outlook->power_w * HEAT_SLOT_S * LEVEL / step_j;
    heating->count = outlook->element == HEAT_FOLLOWS ? OPTIONS_MAX : OPTIONS_MAX / 2;
    for (int k = 0; k < heating->count; k++)
        for (int v = 0; v < spreads; v++)
            for (int g = 0; g < HEAT_LEVELS; g++) {
                struct heated *heated = &heating->heated[k][v][g];
                int32_t heat = (int32_t)(all * (k + 1) / heating->count);
                *heated = belief_heated(FULL_LEVEL - g * LEVEL, belief_spread[v], heat);
                heating->place[k][v][g] = belief_place(heated->missing, heated->spread);
            }
}

/* What a level's heat costs, where it is so much of what the half hour can take: an element that
 * follows takes the sun first. */
static int64_t level_micro(const struct heat_settings *settings, const struct heat_outlook *outlook,
                           const struct prices *prices, int64_t spare_w, int option, int options)
{
    int64_t power_w = outlook->power_w, step_j = level_mj(settings) / MJ_PER_J;
    int64_t sun_w = spare_w < 0 ? 0 : spare_w > power_w ? power_w : spare_w;
    if (outlook->element == HEAT_FOLLOWS) {
        power_w = power_w * (option + 1) / options;
        sun_w = sun_w > power_w ? power_w : sun_w;
    }
    int64_t micro =
        power_w > 0
            ? (prices->feed_in_micro * sun_w + prices->buy_micro * (power_w - sun_w)) / power_w
            : prices->buy_micro;
    return micro * step_j / J_PER_KWH;
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

/* The cheapest of not heating and of some amounts, for each group of days. */
static void before_heating(const struct heating *heating, int64_t level[GROUPS_MAX][OPTIONS_MAX],
                           const int64_t share[GROUPS_MAX], int groups, int spreads,
                           const heat_costs after, heat_costs before)
{
    int64_t full = after[0][HEAT_LEVELS - 1];
    for (int v = 0; v < spreads; v++)
        for (int g = 0; g < HEAT_LEVELS; g++) {
            int64_t best[GROUPS_MAX], sum = 0;
            for (int k = 0; k < groups; k++)
                best[k] = after[v][g];
            for (int q = 0; q < heating->count; q++) {
                const struct heated *heated = &heating->heated[q][v][g];
                int64_t then = full;
                if (heated->open < HEATED_WHOLE)
                    then = (heated->open * full + (HEATED_WHOLE - heated->open) *
                                                      cost_at(after, &heating->place[q][v][g])) /
                           HEATED_WHOLE;
                for (int k = 0; k < groups; k++) {
                    int64_t cost = then + level[k][q] * heated->used / LEVEL;
                    best[k] = cost < best[k] ? cost : best[k];
                }
            }
            for (int k = 0; k < groups; k++)
                sum += best[k] * share[k];
            before[v][g] = as_cost(sum / SHARES);
        }
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

/* What goes from a level in a half hour when so much is drawn in three parts, and what is
 * missing at the tap. */
struct fall {
    int64_t fine; /* levels times FINE */
    int64_t missing_micro;
};

static struct fall fall_of(const struct scale *scale, int level, int64_t amount_j)
{
    int64_t third = amount_j * FINE / scale->level_j / 3, missing = 0;
    int64_t begun = (int64_t)level * FINE, held = begun - scale->lost[level];
    for (int k = 0; k < 3; k++) {
        int64_t got = third;
        if (held < scale->least)
            got = held <= 0 ? 0 : third * held / scale->least;
        missing += third - got;
        held -= got;
    }
    return (struct fall){begun - held, missing * scale->missing_micro / FINE};
}

/* The same, mean of all lumps, from each level; the last again, for what lies between. */
struct going {
    int64_t fine[HEAT_LEVELS + 1];
    int64_t missing_micro[HEAT_LEVELS + 1];
};

static void see_going(const struct scale *scale, const struct lumps *lumps, struct going *going)
{
    *going = (struct going){0};
    for (int g = 0; g < HEAT_LEVELS; g++) {
        for (int k = 0; k < lumps->count; k++) {
            struct fall fall = fall_of(scale, g, lumps->amount_j[k]);
            going->fine[g] += lumps->share[k] * fall.fine;
            going->missing_micro[g] += lumps->share[k] * fall.missing_micro;
        }
        going->fine[g] /= 1000;
        going->missing_micro[g] /= 1000;
    }
    going->fine[HEAT_LEVELS] = going->fine[HEAT_LEVELS - 1];
    going->missing_micro[HEAT_LEVELS] = going->missing_micro[HEAT_LEVELS - 1];
}

/* Where the store may be, from each guess that is reckoned with. */
struct guesses {
    int spreads;
    int16_t level[HEAT_SPREADS][HEAT_LEVELS][PIECES]; /* times LEVEL */
};

static void see_guesses(struct guesses *guesses)
{
    for (int v = 1; v < guesses->spreads; v++)
        for (int g = 0; g < HEAT_LEVELS; g++) {
            struct piece piece[PIECES];
            belief_pieces(FULL_LEVEL - g * LEVEL, belief_spread[v], piece);
            for (int k = 0; k < PIECES; k++) {
                int32_t level = FULL_LEVEL - piece[k].missing;
                guesses->level[v][g][k] = (int16_t)(level < 0 ? 0 : level);
            }
        }
}

static int64_t between(const int64_t at[HEAT_LEVELS + 1], int32_t level)
{
    int g = level / LEVEL, part = level % LEVEL;
    return (at[g] * (LEVEL - part) + at[g + 1] * part) / LEVEL;
}

/* The mean over the guess. */
static int64_t guessed(const struct guesses *guesses, int spread, int level,
                       const int64_t at[HEAT_LEVELS + 1])
{
    if (spread == 0)
        return at[level];
    int64_t sum = 0;
    for (int k = 0; k < PIECES; k++)
        sum += piece_share[k] * between(at, guesses->level[spread][level][k]);
    return sum / PIECE_WHOLE;
}

/* What is to pay before the half hour's draws, by what is to pay after them, where it is then
 * seen what was drawn. */
static void before_seen_draws(const struct scale *scale, const struct lumps *lumps,
                              const heat_costs next[HEAT_SKIES], heat_costs before[HEAT_SKIES])
{
    for (int g = 0; g < HEAT_LEVELS; g++) {
        int64_t sum[HEAT_SKIES] = {0};
        for (int k = 0; k < lumps->count; k++) {
            struct fall fall = fall_of(scale, g, lumps->amount_j[k]);
            int64_t gone = fall.fine / (FINE / LEVEL);
            gone = gone > FULL_LEVEL ? FULL_LEVEL : gone;
            struct place place = belief_place(FULL_LEVEL - g * LEVEL + (int32_t)gone, 0);
            for (int sky = 0; sky < HEAT_SKIES; sky++)
                sum[sky] += lumps->share[k] * (cost_at(next[sky], &place) + fall.missing_micro);
        }
        for (int sky = 0; sky < HEAT_SKIES; sky++)
            before[sky][0][g] = as_cost(sum[sky] / 1000);
    }
}

/* Where nobody sees it the guess spreads. */
static void before_draws(const struct guesses *guesses, const struct going *going, int64_t widens,
                         const heat_costs next[HEAT_SKIES], heat_costs before[HEAT_SKIES])
{
    for (int v = 0; v < guesses->spreads; v++) {
        int64_t spread = belief_spread[v];
        spread = belief_root(spread * spread + widens);
        for (int g = 0; g < HEAT_LEVELS; g++) {
            int64_t missing_micro = guessed(guesses, v, g, going->missing_micro);
            int64_t gone = guessed(guesses, v, g, going->fine) / (FINE / LEVEL);
            struct place place =
                belief_place((int32_t)(FULL_LEVEL - g * LEVEL + gone), (int32_t)spread);
            for (int sky = 0; sky < HEAT_SKIES; sky++)
                before[sky][v][g] = as_cost(cost_at(next[sky], &place) + missing_micro);
        }
    }
}

static void mix_skies(const int32_t turns[HEAT_SKIES][HEAT_SKIES], int spreads,
                      const heat_costs by_next[HEAT_SKIES], heat_costs after[HEAT_SKIES])
{
    for (int k = 0; k < HEAT_SKIES; k++) {
        int64_t all = 0, passed = 0, share[HEAT_SKIES];
        for (int j = 0; j < HEAT_SKIES; j++)
            all += turns[k][j];
        for (int j = 0, given = 0; j < HEAT_SKIES; j++) {
            passed += turns[k][j];
            share[j] = passed * SHARES / all - given;
            given += (int)share[j];
        }
        for (int v = 0; v < spreads; v++)
            for (int g = 0; g < HEAT_LEVELS; g++) {
                int64_t sum = 0;
                for (int j = 0; j < HEAT_SKIES; j++)
                    sum += share[j] * by_next[j][v][g];
                after[k][v][g] = (int32_t)(sum / SHARES);
            }
    }
}

/* Only differences count: the least is taken off, so that nothing grows for ever. */
static void take_least_off(int spreads, heat_costs next[HEAT_SKIES])
{
    int64_t least = INT32_MAX;
    for (int k = 0; k < HEAT_SKIES; k++)
        for (int v = 0; v < spreads; v++)
            for (int g = 0; g < HEAT_LEVELS; g++)
                least = next[k][v][g] < least ? next[k][v][g] : least;
    for (int k = 0; k < HEAT_SKIES; k++)
        for (int v = 0; v < spreads; v++)
            for (int g = 0; g < HEAT_LEVELS; g++)
                next[k][v][g] = as_cost(next[k][v][g] - least);
}

struct desk {
    struct slot_view view;
    struct heating heating;
    struct guesses guesses;
    struct scale scale;
    heat_costs next[HEAT_SKIES], by_next[HEAT_SKIES];
};

static void reckon_heating(const struct heat_settings *settings, struct heat_memory *memory,
                           const struct heat_outlook *outlook, struct desk *desk,
                           const struct local *local)
{
    struct prices prices = {tariff_price(outlook->tariff, local),
                            tariff_feed_in(outlook->tariff, local)};
    int s = local->second / HEAT_SLOT_S, options = desk->heating.count;
    for (int k = 0; k < HEAT_SKIES; k++) {
        int64_t mean_w[GROUPS_MAX], level[GROUPS_MAX][OPTIONS_MAX], share[GROUPS_MAX];
        struct range range = days_under(memory, s, k);
        int weight[GROUPS_MAX], groups = group(desk->view.sample[s], range, mean_w, weight);
        for (int i = 0; i < groups; i++)
            for (int q = 0; q < options; q++)
                level[i][q] = level_micro(settings, outlook, &prices, mean_w[i], q, options);
        share[0] = (int64_t)weight[0] * SHARES / (range.last - range.first);
        share[1] = SHARES - share[0];
        before_heating(&desk->heating, level, share, groups, desk->guesses.spreads,
                       memory->after[s][k], desk->next[k]);
    }
}

static void reckon_draws(const struct heat_memory *memory, struct desk *desk, int slot)
{
    int32_t lump_j = lump_of(memory);
    int64_t drawn_j = memory->drawn_j[slot], level_j = desk->scale.level_j;
    struct lumps lumps;
    lumps_of(drawn_j, lump_j, &lumps);
    if (desk->guesses.spreads == 1) {
        before_seen_draws(&desk->scale, &lumps, desk->next, desk->by_next);
        return;
    }
    struct going going;
    see_going(&desk->scale, &lumps, &going);
    int64_t widens = drawn_j * LEVEL / level_j * (lump_j * (int64_t)LEVEL / level_j);
    before_draws(&desk->guesses, &going, widens, desk->next, desk->by_next);
}

static void reckon_day(const struct heat_settings *settings, struct heat_memory *memory,
                       const struct heat_outlook *outlook, struct desk *desk, int32_t day)
{
    int spreads = desk->guesses.spreads;
    for (int s = HEAT_SLOTS - 1; s >= 0; s--) {
        struct local local = {day, s * HEAT_SLOT_S};
        int32_t turns[HEAT_SKIES][HEAT_SKIES];
        reckon_draws(memory, desk, s);
        count_turns(memory, &desk->view, s, turns);
        mix_skies(turns, spreads, desk->by_next, memory->after[s]);
        reckon_heating(settings, memory, outlook, desk, &local);
        take_least_off(spreads, desk->next);
    }
}

/* Whether the day before, that day, and the next have not all the same prices. */
static bool other_prices(const struct heat_outlook *outlook, int32_t day)
{
    for (int s = 0; s < HEAT_SLOTS; s++)
        for (int32_t other = day - 1; other <= day + 1; other += 2) {
            struct local here = {day, s * HEAT_SLOT_S}, there = {other, s * HEAT_SLOT_S};
            if (tariff_price(outlook->tariff, &here) != tariff_price(outlook->tariff, &there) ||
                tariff_feed_in(outlook->tariff, &here) != tariff_feed_in(outlook->tariff, &there))
                return true;
        }
    return false;
}

void reckon(const struct heat_settings *settings, struct heat_memory *memory,
            const struct heat_outlook *outlook, int32_t day)
{
    struct desk desk = {0};
    desk.scale = scale_of(settings);
    desk.guesses.spreads = heat_is_seen(settings) ? 1 : HEAT_SPREADS;
    see_skies(memory, &desk.view);
    see_heating(settings, outlook, desk.guesses.spreads, &desk.heating);
    see_guesses(&desk.guesses);
    memcpy(desk.next, memory->begin, sizeof(desk.next));
    /* the first time it knows no end to begin with, or one of other prices; later the day
     * before has told it, but for a tomorrow that has prices of its own */
    int sweeps = !memory->reckoned || memory->stale ? 4 : 1 + other_prices(outlook, day);
    for (int k = sweeps - 1; k >= 0; k--)
        reckon_day(settings, memory, outlook, &desk, k > 0 ? day + 1 : day);
    memcpy(memory->begin, desk.next, sizeof(desk.next));
    memory->reckoned = true;
    memory->stale = false;
}
