/* site_section.c - what rows alone cannot say of the site.
 *
 * How a retail meter settles three phases decides what is spare, and cannot be
 * guessed: it has no default there. */
#include "site_section.h"

#include "sections.h"
#include "sense.h"
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
    } else if (rules->phase_count == 3 && is_missing(site, "billing"))
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
        site_check_sense(reader, site, rules);
    }
    /* What depends on it is read even where it is wrong; 0 phases stands for "not known". */
    if (rules->voltage_mv == 0)
        rules->voltage_mv = 230000;
}
