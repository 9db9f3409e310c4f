/* sense_loads.c - slips in what loads are told: prices in cents, a margin below nothing,
 * hours that never let go, times that heat nothing. */
#include "sense.h"
#include "sentence.h"

#define PRICE(value) AMOUNT(QUANTITY_PRICE_MICRO, value)
#define DURATION(value) AMOUNT(QUANTITY_DURATION_MS, value)

/* ---- prices --------------------------------------------------------------------------------- */

enum { LOOKS_LIKE_CENTS_MICRO = 2000000 }; /* a kWh in cents is 10 to 60, in whole units under 1 */

static void check_price(const struct reader *reader, const struct node *node, const char *key,
                        int64_t price_micro)
{
    if (node && price_micro > LOOKS_LIKE_CENTS_MICRO)
        notice_at(reader, node,
                  "%s: %s looks like cents: write %s, unless a kWh is worth that much in your "
                  "currency.",
                  key, PRICE(price_micro), PRICE(price_micro / 100));
}

static void check_bands(const struct reader *reader, const struct node *list,
                        const struct tariff_band bands[], uint8_t count)
{
    const struct node *node = list && list->kind == NODE_LIST ? list->first : NULL;
    for (uint8_t k = 0; node && k < count; k++, node = node->next)
        check_price(reader, child_of(node, "price"), "price", bands[k].price_micro);
}

void tariff_check_prices(const struct reader *reader, const struct node *map,
                         const struct tariff *tariff)
{
    const struct node *feed_in = child_of(map, "feed_in");
    check_price(reader, feed_in, "feed_in", tariff->feed_in_micro);
    check_bands(reader, child_of(map, "import"), tariff->band, tariff->count);
    check_bands(reader, child_of(map, "feed_in_bands"), tariff->feed_in_band,
                tariff->feed_in_count);
    check_bands(reader, child_of(child_of(map, "controlled"), "import"), tariff->controlled.band,
                tariff->controlled.count);
    if (feed_in && tariff->count > 0 && tariff->feed_in_micro > tariff->band[0].price_micro)
        notice_at(reader, feed_in,
                  "feed_in: %s is more than importing costs (%s): each kWh that a load takes from "
                  "spare power loses money. Are the two swapped?",
                  PRICE(tariff->feed_in_micro), PRICE(tariff->band[0].price_micro));
}

/* ---- the site ------------------------------------------------------------------------------- */

void site_check_sense(const struct reader *reader, const struct node *site,
                      const struct rules_settings *rules)
{
    const struct wall monday = {4 * (int64_t)MS_PER_DAY}; /* 5 January 1970 */
    const struct wall next = {11 * (int64_t)MS_PER_DAY};
    const struct node *margin = child_of(site, "margin"), *quiet = child_of(site, "quiet");
    if (margin && rules->margin_w < 0)
        notice_at(
            reader, margin,
            "margin: %s is negative: loads start and keep running while up to %s of their power "
            "is imported.",
            AMOUNT(QUANTITY_POWER_W, rules->margin_w), AMOUNT(QUANTITY_POWER_W, -rules->margin_w));
    if (quiet && rules->quiet.count > 0 &&
        hours_open_ms(&rules->quiet, &zone_utc, monday, next) >= 7 * (int64_t)MS_PER_DAY)
        wrong_at(reader, quiet,
                 "quiet: these hours never end: nothing would ever start on spare power");
}

/* ---- a load --------------------------------------------------------------------------------- */

/* From cold to where the thermostat opens: a litre of water takes 1.163 Wh a kelvin. */
static int64_t heat_up_ms(const struct load_settings *load)
{
    enum { UWH_OF_ML_K = 1163 };
    const struct heat_settings *water = &load->water;
    int64_t kelvin = (water->set_mc - water->cold_mc) / 1000;
    int64_t mwh = (int64_t)water->volume_ml * kelvin * UWH_OF_ML_K / 1000;
    return load->power_w > 0 ? mwh * (MS_PER_HOUR / 1000) / load->power_w : 0;
}

static void check_heat_up(const struct reader *reader, const struct node *node,
                          const struct load_settings *load, const struct floor_settings *floor)
{
    enum { LEAST_MS = 10 * MS_PER_MIN, SHORT_MS = 30 * MS_PER_MIN };
    int64_t whole_ms = load->water.volume_ml > 0 ? heat_up_ms(load) : 0;
    if (floor->measure != FLOOR_SATISFIED || !node || floor->amount <= 0)
        return;
    if (floor->amount < LEAST_MS)
        wrong_at(reader, node,
                 "amount: in %s nothing is heated until its thermostat opens; write the time that "
                 "heating from cold takes, such as 4 h",
                 DURATION(floor->amount));
    else if (whole_ms > 0 && floor->amount < whole_ms / 2)
        notice_at(reader, node,
                  "amount: heating this water from cold takes about %s; with %s planned for it, "
                  "it will often be late.",
                  DURATION(whole_ms / MS_PER_MIN * MS_PER_MIN), DURATION(floor->amount));
    else if (whole_ms == 0 && floor->amount < SHORT_MS)
        notice_at(reader, node,
                  "amount: %s is short for heating until the thermostat opens; a storage water "
                  "heater takes hours. What takes longer than planned is late.",
                  DURATION(floor->amount));
}

void load_check_sense(const struct reader *reader, const struct node *map,
                      const struct load_settings *load)
{
    enum { LONG_MS = 2 * MS_PER_HOUR };
    const struct node *on = child_of(map, "minimum_on"), *floors = child_of(map, "floors");
    const struct node *node = floors && floors->kind == NODE_LIST ? floors->first : NULL;
    if (on && load->min_on_ms > LONG_MS)
        notice_at(reader, on,
                  "minimum_on: %s: whatever starts it, even a short spell of sun, it then runs "
                  "that long and buys the rest.",
                  DURATION(load->min_on_ms));
    for (uint8_t k = 0; node && k < load->floor_count; k++, node = node->next)
        if (!is_misread(node, "measure"))
            check_heat_up(reader, child_of(node, "amount"), load, &load->floor[k]);
}
