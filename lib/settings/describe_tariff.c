/* describe_tariff.c - what energy costs, in sentences. */
#include "describe.h"
#include "tariff_section.h"

#define PRICE(value) AMOUNT(QUANTITY_PRICE_MICRO, value)

static void add_when(struct text *text, const struct hours *hours, uint8_t first_month,
                     uint8_t last_month)
{
    static const char *const names[] = {"",    "jan", "feb", "mar", "apr", "may", "jun",
                                        "jul", "aug", "sep", "oct", "nov", "dec"};
    if (hours->count) {
        text_add(text, " ");
        hours_write(hours, text);
    }
    if (first_month)
        text_add(text, " in %s", names[first_month]);
    if (first_month && first_month != last_month)
        text_add(text, "-%s", names[last_month]);
}

/* The exceptions, each with its price. */
static void add_bands(struct text *text, const struct tariff_band *band, int from, int count)
{
    for (int k = from; k < count; k++) {
        text_add(text, "; %s", PRICE(band[k].price_micro));
        add_when(text, &band[k].hours, band[k].first_month, band[k].last_month);
    }
}

static void describe_energy(FILE *to, const struct tariff *tariff)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    if (tariff->count > 0) {
        add_bands(&text, tariff->band, 1, tariff->count);
        sentence(to, "Energy imported costs %s%s.", PRICE(tariff->band[0].price_micro), buffer);
    }
    if (tariff->feed_in_micro == 0 && tariff->feed_in_count == 0)
        return;
    text = text_in(buffer, sizeof(buffer));
    add_bands(&text, tariff->feed_in_band, 0, tariff->feed_in_count);
    sentence(to, "Energy exported is paid for with %s%s.", PRICE(tariff->feed_in_micro), buffer);
}

static void describe_demand(FILE *to, const struct tariff_demand *demand)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    add_when(&text, &demand->hours, demand->first_month, demand->last_month);
    sentence(to, "Each month's highest mean of %s%s costs %s%s.",
             AMOUNT(QUANTITY_DURATION_MS, demand->window_ms), buffer,
             AMOUNT(QUANTITY_DEMAND_MICRO, demand->price_micro),
             demand->per == TARIFF_PER_DAY ? " for each of its days" : "");
}

static void describe_controlled(FILE *to, const struct tariff_controlled *controlled)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    hours_write(&controlled->hours, &text);
    text_add(&text, "; it costs ");
    if (controlled->daily_micro)
        text_add(&text, "%s and ", AMOUNT(QUANTITY_DAILY_MICRO, controlled->daily_micro));
    text_add(&text, "%s", PRICE(controlled->band[0].price_micro));
    add_bands(&text, controlled->band, 1, controlled->count);
    sentence(to, "The controlled supply has power %s.", buffer);
}

void describe_tariff(FILE *to, const struct tariff *tariff)
{
    describe_energy(to, tariff);
    if (tariff->daily_micro)
        sentence(to, "The supply costs %s.", AMOUNT(QUANTITY_DAILY_MICRO, tariff->daily_micro));
    for (int k = 0; k < tariff->demand_count; k++)
        describe_demand(to, &tariff->demand[k]);
    if (tariff->controlled.there)
        describe_controlled(to, &tariff->controlled);
}
