/* site_section.c - what rows alone cannot say of the site and the tariff.
 *
 * How a retail meter settles three phases decides what is spare, and cannot be
 * guessed: it has no default there. A tariff must have a price for every moment, or
 * energy would look free where no band holds. */
#include "site_section.h"

#include <string.h>

#include "sections.h"
#include "zone_file.h"

static void read_zone(const struct reader *reader, const struct node *site,
                      struct settings *settings)
{
    const struct node *node = node_child(site, "timezone");
    struct trouble trouble;
    if (node && settings->timezone[0] &&
        !zone_by_name(settings->timezone, &settings->rules.zone, &settings->zone_is_odd, &trouble))
        wrong_at(reader, node, "timezone: %s", trouble.text);
}

static void check_phases(const struct reader *reader, const struct node *site,
                         struct rules_settings *rules)
{
    const struct node *phases = node_child(site, "phases");
    if (rules->phase_count == 2) {
        wrong_at(reader, phases, "phases: 1 or 3");
        rules->phase_count = 0;
    } else if (rules->phase_count == 3 && !node_child(site, "billing"))
        wrong_at_key(reader, phases,
                     "site needs billing: net or per_phase, whichever the retail meter does; there "
                     "is no default with 3 phases");
}

void site_read(const struct reader *reader, const struct node *root, struct settings *settings)
{
    struct node *site = node_child(root, "site");
    struct rules_settings *rules = &settings->rules;
    const struct target targets[] = {{&site_rows, settings}, {&rules_site_rows, rules}};
    if (want_section(reader, root, "site"))
        read_section(reader, "site", site, targets, 2, NULL);
    if (site && site->kind == NODE_MAP) {
        read_zone(reader, site, settings);
        check_phases(reader, site, rules);
    }
    /* What depends on it is read even where it is wrong; 0 phases stands for "not known". */
    if (rules->voltage_mv == 0)
        rules->voltage_mv = 230000;
}

/* ---- tariff --------------------------------------------------------------------------------- */

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
static void read_months(const struct reader *reader, const struct node *map,
                        struct tariff_band *band)
{
    const struct node *node = node_child(map, "months");
    if (!node || !want_kind(reader, node, NODE_TEXT, "a season, such as nov-mar,"))
        return;
    size_t length = strcspn(node->text, "-");
    const char *last = node->text[length] ? node->text + length + 1 : node->text;
    if (!read_month(node->text, length, &band->first_month) ||
        !read_month(last, strlen(last), &band->last_month))
        wrong_at(reader, node, "months: \"%s\" is not a season, such as nov-mar",
                 QUOTED(node->text));
}

static void read_band(const struct reader *reader, struct node *node, struct tariff *tariff)
{
    struct tariff_band *band = &tariff->band[tariff->count++];
    const struct target targets[] = {{&band_rows, band}};
    read_section(reader, "a band", node, targets, 1, NULL);
    if (node->kind != NODE_MAP)
        return;
    read_months(reader, node, band);
    const struct node *narrow = node_child(node, "hours");
    if (!narrow)
        narrow = node_child(node, "months");
    if (tariff->count == 1 && narrow)
        wrong_at_key(reader, narrow,
                     "the first band holds always, without %s: those after it are the exceptions",
                     narrow->key);
}

void tariff_read(const struct reader *reader, const struct node *root, struct settings *settings)
{
    struct node *map = node_child(root, "tariff");
    struct tariff *tariff = &settings->rules.tariff;
    const struct target targets[] = {{&tariff_rows, tariff}};
    if (!map)
        return;
    read_section(reader, "tariff", map, targets, 1, NULL);
    const struct node *bands = map->kind == NODE_MAP ? node_child(map, "import") : NULL;
    if (!bands || !want_kind(reader, bands, NODE_LIST, "a list of bands"))
        return;
    for (struct node *band = bands->first; band; band = band->next) {
        if (tariff->count == TARIFF_BANDS_MAX) {
            wrong_at(reader, band, "a tariff has at most %d bands", TARIFF_BANDS_MAX);
            return;
        }
        read_band(reader, band, tariff);
    }
}
