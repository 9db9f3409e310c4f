/* tariff_section.c - what rows alone cannot say of the tariff.
 *
 * A tariff must have a price for every moment, or energy would look free where no band
 * holds: so the first band of a list has no hours and no season, and those after it are
 * the exceptions. For what is exported `feed_in` stands for that first one. */
#include "tariff_section.h"

#include <string.h>

#include "sections.h"
#include "sense.h"

static bool read_month(const char *word, size_t length, uint8_t *month)
{
    static const char *const names[] = {"jan", "feb", "mar", "apr", "may", "jun",
                                        "jul", "aug", "sep", "oct", "nov", "dec"};
    for (uint8_t k = 0; length == 3 && k < 12; k++)
        if (strncmp(word, names[k], length) == 0) {
            *month = (uint8_t)(k + 1);
            return true;
        }
    return false;
}

/* "nov-mar" passes the new year; "jul" is one month. */
static void read_months(const struct reader *reader, const struct node *map, uint8_t *first_month,
                        uint8_t *last_month)
{
    const struct node *node = node_child(map, "months");
    if (!node || !want_kind(reader, node, NODE_TEXT, "a season, such as nov-mar,"))
        return;
    size_t length = strcspn(node->text, "-");
    const char *last = node->text[length] ? node->text + length + 1 : node->text;
    if (!read_month(node->text, length, first_month) || !read_month(last, strlen(last), last_month))
        wrong_at(reader, node, "months: \"%s\" is not a season, such as nov-mar",
                 QUOTED(node->text));
}

/* ---- bands ---------------------------------------------------------------------------------- */

/* The key that makes a band an exception, or NULL. */
static const struct node *narrow_of(const struct node *band)
{
    const struct node *hours = node_child(band, "hours");
    return hours ? hours : node_child(band, "months");
}

static void read_band(const struct reader *reader, struct node *node,
                      const struct setting_rows *rows, struct tariff_band *band)
{
    const struct target targets[] = {{rows, band}};
    read_section(reader, "a band", node, targets, 1, NULL);
    if (node->kind != NODE_MAP)
        return;
    read_months(reader, node, &band->first_month, &band->last_month);
}

static uint8_t read_bands(const struct reader *reader, const struct node *list,
                          const struct setting_rows *rows, struct tariff_band bands[])
{
    uint8_t count = 0;
    if (!list || !want_kind(reader, list, NODE_LIST, "a list of bands"))
        return 0;
    for (struct node *node = list->first; node; node = node->next) {
        if (count == TARIFF_BANDS_MAX) {
            wrong_at(reader, node, "a tariff has at most %d bands", TARIFF_BANDS_MAX);
            break;
        }
        read_band(reader, node, rows, &bands[count++]);
    }
    return count;
}

static void want_first_always(const struct reader *reader, const struct node *list)
{
    const struct node *narrow =
        list && list->kind == NODE_LIST && list->first && list->first->kind == NODE_MAP
            ? narrow_of(list->first)
            : NULL;
    if (narrow)
        wrong_at_key(reader, narrow,
                     "the first band holds always, without %s: those after it are the exceptions",
                     narrow->key);
}

static void want_exceptions(const struct reader *reader, const struct node *list)
{
    for (const struct node *node = list && list->kind == NODE_LIST ? list->first : NULL; node;
         node = node->next)
        if (node->kind == NODE_MAP && !narrow_of(node))
            wrong_at(reader, node,
                     "a band of feed_in_bands needs hours or months: what holds always is feed_in");
}

/* ---- demand and the controlled supply -------------------------------------------------------- */

static void read_demand(const struct reader *reader, struct node *node,
                        struct tariff_demand *demand)
{
    const struct target targets[] = {{&demand_rows, demand}};
    read_section(reader, "a demand charge", node, targets, 1, NULL);
    if (node->kind != NODE_MAP)
        return;
    read_months(reader, node, &demand->first_month, &demand->last_month);
    const struct node *window = node_child(node, "window");
    if (window && demand->window_ms > 0 && MS_PER_HOUR % demand->window_ms != 0)
        wrong_at(reader, window, "window: %s does not divide the hour evenly",
                 QUOTED(window->text));
}

static void read_demands(const struct reader *reader, const struct node *list,
                         struct tariff *tariff)
{
    if (!list || !want_kind(reader, list, NODE_LIST, "a list of demand charges"))
        return;
    for (struct node *node = list->first; node; node = node->next) {
        if (tariff->demand_count == TARIFF_DEMANDS_MAX) {
            wrong_at(reader, node, "a tariff has at most %d demand charges", TARIFF_DEMANDS_MAX);
            return;
        }
        read_demand(reader, node, &tariff->demand[tariff->demand_count++]);
    }
}

static void read_controlled(const struct reader *reader, struct node *map,
                            struct tariff_controlled *controlled)
{
    const struct target targets[] = {{&controlled_rows, controlled}};
    if (!map)
        return;
    read_section(reader, "controlled", map, targets, 1, NULL);
    if (map->kind != NODE_MAP)
        return;
    const struct node *bands = node_child(map, "import");
    controlled->there = true;
    controlled->count = read_bands(reader, bands, &band_rows, controlled->band);
    want_first_always(reader, bands);
    if (bands ? bands->kind == NODE_LIST && !bands->first : is_missing(map, "import"))
        wrong_at_key(reader, bands ? bands : map,
                     "controlled needs import: a list of bands, such as [{price: 0.18 /kWh}]");
}

void tariff_read(const struct reader *reader, const struct node *root, struct settings *settings)
{
    static const char *const others[] = {"controlled", NULL};
    struct node *map = node_child(root, "tariff");
    struct tariff *tariff = &settings->rules.tariff;
    const struct target targets[] = {{&tariff_rows, tariff}};
    if (!map)
        return;
    read_section(reader, "tariff", map, targets, 1, others);
    if (map->kind != NODE_MAP)
        return;
    const struct node *bands = node_child(map, "import");
    tariff->count = read_bands(reader, bands, &band_rows, tariff->band);
    want_first_always(reader, bands);
    bands = node_child(map, "feed_in_bands");
    tariff->feed_in_count = read_bands(reader, bands, &feed_in_band_rows, tariff->feed_in_band);
    want_exceptions(reader, bands);
    read_demands(reader, node_child(map, "demand"), tariff);
    read_controlled(reader, node_child(map, "controlled"), &tariff->controlled);
    tariff_check_prices(reader, map, tariff);
}
