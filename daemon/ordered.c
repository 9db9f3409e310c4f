/* ordered.c - the copy of people's orders.
 *
 * A few lines in a file beside the ledger, written when an order changes: loads that nothing
 * is ordered of are not in it. The ledger's own notes rule as long as they are whole. Where the
 * ledger was damaged the copy does, as what could be saved of it may be older. A ledger that is
 * gone with its copy is a new installation; one that was damaged without a copy is not, and
 * someone may have their hands in the wiring: then everything stays inhibited, and the trouble
 * says how to allow it. */
#include "ordered.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "core/kept.h"
#include "troubles.h"

enum { PREFIX_MAX = SETTINGS_NAME_MAX + 2 };

static const char trouble_id[] = "orders";

static void name_prefix(const struct site *site, uint16_t index, char prefix[static PREFIX_MAX])
{
    snprintf(prefix, PREFIX_MAX, "%s.", site->settings->names[index].name);
}

static void write_orders(const struct site *site, struct mono now, struct text *text)
{
    char prefix[PREFIX_MAX];
    text_add(text, "all_inhibited=%d\nholiday_back_ms=%" PRId64 "\n", site->memory.all_inhibited,
             site->memory.holiday_back.ms);
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++) {
        name_prefix(site, i, prefix);
        rules_orders_save(&site->memory, i, prefix, now, text);
    }
}

static bool is_any_inhibited(const struct site *site)
{
    bool any = site->memory.all_inhibited;
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++)
        any |= site->loads[i].inhibited;
    return any;
}

/* As of mono 0 an end is the same text as long as it is the same end. */
void ordered_save(struct site *site)
{
    char text[LEDGER_ORDERS_MAX];
    struct text now = text_in(text, sizeof(text));
    if (!is_any_inhibited(site))
        site_solved(site, trouble_id);
    write_orders(site, (struct mono){0}, &now);
    if (strcmp(text, site->ordered) == 0)
        return;
    memcpy(site->ordered, text, sizeof(text));
    now = text_in(text, sizeof(text));
    text_add(&now, "saved_wall_ms=%" PRId64 "\n",
             site->now.wall_trusted ? site->now.wall.ms : (int64_t)0);
    write_orders(site, site->now.mono, &now);
    kept_seal(&now);
    ledger_orders(site->ledger, text);
}

/* -1: no clock can tell. */
static int64_t age_ms(const struct site *site, const char *text)
{
    int64_t saved_ms;
    bool known = site->now.wall_trusted && kept_value(text, "saved_wall_ms", &saved_ms) &&
                 saved_ms > 0 && saved_ms <= site->now.wall.ms;
    return known ? site->now.wall.ms - saved_ms : -1;
}

static void doubt(struct site *site, const char *what, const char *order)
{
    site_trouble(site, trouble_id,
                 "the ledger was damaged and doesn't tell whether %s was inhibited or switched "
                 "off: inhibited until someone allows it (sluice allow %s)",
                 what, order);
}

static void take_site(struct site *site, const char *text)
{
    int64_t value;
    site->memory.all_inhibited = kept_value(text, "all_inhibited", &value) && value != 0;
    if (kept_value(text, "holiday_back_ms", &value) && value >= 0)
        site->memory.holiday_back.ms = value;
}

static void take_load(struct site *site, uint16_t index, const char *text)
{
    char prefix[PREFIX_MAX];
    name_prefix(site, index, prefix);
    rules_orders_restore(&site->memory, index, prefix, text, site->now.mono, age_ms(site, text));
}

void ordered_restore(struct site *site, enum note_state of_site, const enum note_state of_load[])
{
    char text[LEDGER_ORDERS_MAX];
    bool damaged = ledger_was_damaged(site->ledger);
    bool copy = ledger_orders_read(site->ledger, text) && kept_check(text) == KEPT_WHOLE;
    bool doubted = !copy && (of_site == NOTE_HARMED || (damaged && of_site == NOTE_NONE));
    if (copy && (damaged || of_site != NOTE_WHOLE))
        take_site(site, text);
    if (doubted) {
        site->memory.all_inhibited = true;
        doubt(site, "everything", "all");
    }
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++) {
        bool lost = of_load[i] == NOTE_HARMED || (damaged && of_load[i] == NOTE_NONE);
        if (copy && (damaged || of_load[i] != NOTE_WHOLE)) {
            take_load(site, i, text);
        } else if (lost && !copy && !doubted) {
            const char *name = site->settings->names[i].name;
            site->loads[i].inhibited = true;
            doubt(site, name, name);
        }
    }
}
