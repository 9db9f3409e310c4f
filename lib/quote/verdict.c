/* verdict.c - which to buy: the most left over after so many years. */
#include "quote/verdict.h"

#include <math.h>

static double net(const struct compare *compare, enum compare_way way, int sample)
{
    return compare_net(compare, &compare->fit[way].hardware, &compare->result[way].sample[sample],
                       &compare->result[WAY_ALWAYS_ON].sample[sample]);
}

static double price_of(const struct compare *compare, enum compare_way way)
{
    return hardware_price(compare->wish.quote, &compare->present, &compare->fit[way].hardware);
}

static double cold_of(const struct compare_figures *figures, const struct compare_figures *always)
{
    return figures->cost - figures->bill - (always->cost - always->bill);
}

static void make_offer(const struct compare *compare, enum compare_way way,
                       struct compare_offer *offer)
{
    const struct compare_result *always = &compare->result[WAY_ALWAYS_ON];
    const struct compare_result *own = &compare->result[way];
    *offer = (struct compare_offer){.there = true,
                                    .cost = price_of(compare, way),
                                    .saves_least = INFINITY,
                                    .saves_most = -INFINITY,
                                    .net_least = INFINITY,
                                    .net_most = -INFINITY};
    for (int s = 0; s < compare->sample_count; s++) {
        double saves = always->sample[s].bill - own->sample[s].bill;
        double left = net(compare, way, s);
        offer->saves += saves / compare->sample_count;
        offer->cold += cold_of(&own->sample[s], &always->sample[s]) / compare->sample_count;
        offer->net += left / compare->sample_count;
        offer->saves_least = fmin(offer->saves_least, saves);
        offer->saves_most = fmax(offer->saves_most, saves);
        offer->net_least = fmin(offer->net_least, left);
        offer->net_most = fmax(offer->net_most, left);
    }
    double worth = offer->saves - offer->cold;
    offer->payback_years = offer->cost <= 0 ? 0 : worth > 0 ? offer->cost / worth : INFINITY;
}

bool compare_same_purchase(const struct compare *compare, enum compare_way a, enum compare_way b)
{
    return a == b || (compare_is_sluice(a) && compare_is_sluice(b) &&
                      hardware_same(&compare->fit[a].hardware, &compare->fit[b].hardware));
}

static void pick(const struct compare *compare, struct compare_verdict *verdict)
{
    verdict->buy = WAY_ALWAYS_ON;
    for (int way = 0; way < WAY_COUNT; way++)
        if (verdict->offer[way].there && verdict->offer[way].net > verdict->offer[verdict->buy].net)
            verdict->buy = (enum compare_way)way;
    verdict->second = WAY_COUNT;
    for (int way = 0; way < WAY_COUNT; way++)
        if (verdict->offer[way].there &&
            !compare_same_purchase(compare, (enum compare_way)way, verdict->buy) &&
            (verdict->second == WAY_COUNT ||
             verdict->offer[way].net > verdict->offer[verdict->second].net))
            verdict->second = (enum compare_way)way;
}

static bool comes_first(const struct compare *compare, const struct compare_verdict *verdict,
                        int sample)
{
    for (int way = 0; way < WAY_COUNT; way++)
        if (verdict->offer[way].there &&
            !compare_same_purchase(compare, (enum compare_way)way, verdict->buy) &&
            net(compare, (enum compare_way)way, sample) > net(compare, verdict->buy, sample))
            return false;
    return true;
}

/* ---- in other homes ---------------------------------------------------------- */

static double varied_net(const struct compare *compare, int variant, enum compare_way way)
{
    const struct compare_figures *figures = compare->varied[variant];
    return compare_net(compare, &compare->fit[way].hardware, &figures[way],
                       &figures[WAY_ALWAYS_ON]);
}

/* As pick, of what is left over in that home; of one purchase alone, where one is told. */
static enum compare_way varied_first(const struct compare *compare, int variant,
                                     enum compare_way purchase)
{
    enum compare_way first = purchase == WAY_COUNT ? WAY_ALWAYS_ON : purchase;
    for (enum compare_way way = 0; way < WAY_FORESIGHT_SWITCHED; way++)
        if (compare->result[way].there &&
            (purchase == WAY_COUNT || compare_same_purchase(compare, way, purchase)) &&
            varied_net(compare, variant, way) > varied_net(compare, variant, first))
            first = way;
    return first;
}

static struct compare_turn turn_with(const struct compare *compare, int variant,
                                     enum compare_way buy)
{
    enum compare_way own = varied_first(compare, variant, buy);
    struct compare_turn turn = {.first = varied_first(compare, variant, WAY_COUNT)};
    if (compare_same_purchase(compare, turn.first, buy))
        return turn;
    turn.reason = turn.first == WAY_ALWAYS_ON ? TURN_UNPAID : TURN_BEATEN;
    turn.by = varied_net(compare, variant, turn.first) - varied_net(compare, variant, own);
    return turn;
}

/* ---- how sure -------------------------------------------------------------------- */

/* A lead that one of the samples turns, or of less than a tenth of what is left over. */
static bool is_near(const struct compare *compare, const struct compare_verdict *verdict,
                    enum compare_way way)
{
    double lead = verdict->offer[verdict->buy].net - verdict->offer[way].net;
    bool turned = false;
    for (int s = 0; s < compare->sample_count; s++)
        turned |= net(compare, way, s) >= net(compare, verdict->buy, s);
    return turned || lead < 0.1 * fabs(verdict->offer[verdict->buy].net);
}

static enum compare_sure sure_of(const struct compare_verdict *verdict)
{
    if (verdict->second != WAY_COUNT && verdict->offer[verdict->second].near)
        return SURE_NOT;
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        if (verdict->with[v].reason != TURN_NONE)
            return SURE_THIS_HOME;
    return SURE_ALIKE;
}

static void take_lead(const struct compare *compare, struct compare_verdict *verdict)
{
    for (int s = 0; s < compare->sample_count; s++) {
        verdict->first_in += comes_first(compare, verdict, s);
        if (verdict->second == WAY_COUNT)
            continue;
        double lead = net(compare, verdict->buy, s) - net(compare, verdict->second, s);
        verdict->lead += lead / compare->sample_count;
        verdict->lead_least = fmin(verdict->lead_least, lead);
        verdict->lead_most = fmax(verdict->lead_most, lead);
    }
}

void compare_judge(const struct compare *compare, struct compare_verdict *verdict)
{
    *verdict = (struct compare_verdict){.lead_least = INFINITY, .lead_most = -INFINITY};
    for (int way = 0; way < WAY_COUNT; way++)
        if (compare->result[way].there && !compare_is_bound((enum compare_way)way))
            make_offer(compare, (enum compare_way)way, &verdict->offer[way]);
    pick(compare, verdict);
    for (int way = 0; way < WAY_COUNT; way++)
        verdict->offer[way].near =
            verdict->offer[way].there &&
            !compare_same_purchase(compare, (enum compare_way)way, verdict->buy) &&
            is_near(compare, verdict, (enum compare_way)way);
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        verdict->with[v] = turn_with(compare, v, verdict->buy);
    take_lead(compare, verdict);
    verdict->sure = sure_of(verdict);
}
