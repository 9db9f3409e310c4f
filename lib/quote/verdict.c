/* verdict.c - which to buy: the most left over after so many years, among those
 * whose showers are as warm as before. Buying nothing is one of the offers, and wins
 * where nothing pays. */
#include "quote/verdict.h"

#include <math.h>

static double cost_to_buy(const struct quote_settings *quote, enum compare_way way)
{
    switch (way) {
    case WAY_TIMER:
        return quote->timer_cost;
    case WAY_CONTROLLED:
        return quote->controlled_cost;
    case WAY_DIVERTER:
        return quote->diverter_cost;
    case WAY_SLUICE:
    case WAY_TUNED:
        return quote->sluice_cost;
    default:
        return 0;
    }
}

static double saved(const struct compare *compare, enum compare_way way, int sample)
{
    return compare->result[WAY_ALWAYS_ON].sample[sample].bill -
           compare->result[way].sample[sample].bill;
}

static double net(const struct compare *compare, enum compare_way way, int sample)
{
    const struct quote_settings *quote = compare->wish.quote;
    return saved(compare, way, sample) * quote->years - cost_to_buy(quote, way);
}

static void make_offer(const struct compare *compare, enum compare_way way,
                       struct compare_offer *offer)
{
    const struct compare_result *always = &compare->result[WAY_ALWAYS_ON];
    offer->there = compare->result[way].there && !compare_is_bound(way);
    offer->hot = compare->result[way].mean.spoilt <= always->mean.spoilt + SPOILT_MORE_PER_YEAR;
    offer->cost = cost_to_buy(compare->wish.quote, way);
    offer->saves_least = INFINITY;
    offer->saves_most = -INFINITY;
    for (int s = 0; s < compare->sample_count; s++) {
        double saves = saved(compare, way, s);
        offer->saves += saves / compare->sample_count;
        offer->saves_least = fmin(offer->saves_least, saves);
        offer->saves_most = fmax(offer->saves_most, saves);
        offer->net += net(compare, way, s) / compare->sample_count;
    }
    offer->payback_years = offer->cost <= 0   ? 0
                           : offer->saves > 0 ? offer->cost / offer->saves
                                              : INFINITY;
}

/* Configured and tuned sluice are one thing to buy: the better of the two stands for it. */
bool compare_same_purchase(enum compare_way a, enum compare_way b)
{
    bool sluice_a = a == WAY_SLUICE || a == WAY_TUNED, sluice_b = b == WAY_SLUICE || b == WAY_TUNED;
    return a == b || (sluice_a && sluice_b);
}

static bool may_be_bought(const struct compare_verdict *verdict, enum compare_way way)
{
    return verdict->offer[way].there && verdict->offer[way].hot;
}

static void pick(struct compare_verdict *verdict)
{
    verdict->buy = WAY_ALWAYS_ON;
    for (int way = 0; way < WAY_COUNT; way++)
        if (may_be_bought(verdict, (enum compare_way)way) &&
            verdict->offer[way].net > verdict->offer[verdict->buy].net)
            verdict->buy = (enum compare_way)way;
    verdict->second = WAY_COUNT;
    for (int way = 0; way < WAY_COUNT; way++)
        if (may_be_bought(verdict, (enum compare_way)way) &&
            !compare_same_purchase((enum compare_way)way, verdict->buy) &&
            (verdict->second == WAY_COUNT ||
             verdict->offer[way].net > verdict->offer[verdict->second].net))
            verdict->second = (enum compare_way)way;
}

static bool comes_first(const struct compare *compare, const struct compare_verdict *verdict,
                        int sample)
{
    for (int way = 0; way < WAY_COUNT; way++)
        if (may_be_bought(verdict, (enum compare_way)way) &&
            !compare_same_purchase((enum compare_way)way, verdict->buy) &&
            net(compare, (enum compare_way)way, sample) > net(compare, verdict->buy, sample))
            return false;
    return true;
}

/* ---- in other homes ---------------------------------------------------------- */

static double varied_net(const struct compare *compare, int variant, enum compare_way way)
{
    const struct quote_settings *quote = compare->wish.quote;
    const struct compare_figures *figures = compare->varied[variant];
    return (figures[WAY_ALWAYS_ON].bill - figures[way].bill) * quote->years -
           cost_to_buy(quote, way);
}

static bool varied_hot(const struct compare *compare, int variant, enum compare_way way)
{
    const struct compare_figures *figures = compare->varied[variant];
    return compare->result[way].there &&
           figures[way].spoilt <= figures[WAY_ALWAYS_ON].spoilt + SPOILT_MORE_PER_YEAR;
}

/* As pick, of what is left over in that home; of one purchase alone, where one is told.
 * WAY_COUNT: none is hot. */
static enum compare_way varied_first(const struct compare *compare, int variant,
                                     enum compare_way purchase)
{
    enum compare_way first = purchase == WAY_COUNT ? WAY_ALWAYS_ON : WAY_COUNT;
    for (enum compare_way way = 0; way < WAY_FORESIGHT_SWITCHED; way++) {
        if (!varied_hot(compare, variant, way) ||
            (purchase != WAY_COUNT && !compare_same_purchase(way, purchase)))
            continue;
        if (first == WAY_COUNT ||
            varied_net(compare, variant, way) > varied_net(compare, variant, first))
            first = way;
    }
    return first;
}

static struct compare_turn turn_with(const struct compare *compare, int variant,
                                     enum compare_way buy)
{
    const struct compare_figures *figures = compare->varied[variant];
    enum compare_way own = varied_first(compare, variant, buy);
    struct compare_turn turn = {.first = varied_first(compare, variant, WAY_COUNT),
                                .spoilt = figures[buy].spoilt,
                                .always = figures[WAY_ALWAYS_ON].spoilt};
    if (compare_same_purchase(turn.first, buy))
        return turn;
    if (own == WAY_COUNT) {
        turn.reason = TURN_COLD;
        return turn;
    }
    turn.reason = turn.first == WAY_ALWAYS_ON ? TURN_UNPAID : TURN_BEATEN;
    turn.by = varied_net(compare, variant, turn.first) - varied_net(compare, variant, own);
    return turn;
}

/* ---- how sure -------------------------------------------------------------------- */

/* A lead that one of the samples turns, or of less than a tenth of what is left over. */
static bool is_close(const struct compare_verdict *verdict)
{
    double scale = fabs(verdict->offer[verdict->buy].net);
    return verdict->second != WAY_COUNT &&
           (verdict->lead_least <= 0 || verdict->lead < 0.1 * scale);
}

static enum compare_sure sure_of(const struct compare_verdict *verdict)
{
    if (is_close(verdict))
        return SURE_NOT;
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        if (verdict->with[v].reason != TURN_NONE)
            return SURE_THIS_HOME;
    return SURE_ALIKE;
}

void compare_judge(const struct compare *compare, struct compare_verdict *verdict)
{
    *verdict = (struct compare_verdict){.lead_least = INFINITY, .lead_most = -INFINITY};
    for (int way = 0; way < WAY_COUNT; way++)
        if (compare->result[way].there && !compare_is_bound((enum compare_way)way))
            make_offer(compare, (enum compare_way)way, &verdict->offer[way]);
    pick(verdict);
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        verdict->with[v] = turn_with(compare, v, verdict->buy);
    for (int s = 0; s < compare->sample_count; s++) {
        verdict->first_in += comes_first(compare, verdict, s);
        if (verdict->second == WAY_COUNT)
            continue;
        double lead = net(compare, verdict->buy, s) - net(compare, verdict->second, s);
        verdict->lead += lead / compare->sample_count;
        verdict->lead_least = fmin(verdict->lead_least, lead);
        verdict->lead_most = fmax(verdict->lead_most, lead);
    }
    verdict->sure = sure_of(verdict);
}
