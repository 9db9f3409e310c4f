/* orders_copy.c - the copy of people's orders.
 *
 * A few lines in a file beside the ledger, written when an order changes: loads that nothing
 * is ordered of are not in it. The ledger's own notes rule as long as they are whole. Where the
 * ledger was damaged the copy does, as what could be saved of it may be older. A ledger that is
 * gone with its copy is a new installation; one that was damaged without a copy is not, and
 * someone may have their hands in the wiring: then everything stays inhibited, and the trouble
 * says how to allow it. */
#include "orders_copy.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "core/kept.h"
#include "troubles.h"

enum { PREFIX_MAX = SETTINGS_NAME_MAX + 2 };

static const char trouble_id[] = "orders";

static void name_prefix(const struct common *common, uint16_t index, char prefix[static PREFIX_MAX])
{
    snprintf(prefix, PREFIX_MAX, "%s.", common->settings->names[index].name);
}

static void write_orders(const struct engine *engine, const struct common *common, struct mono now,
                         struct text *text)
{
    char prefix[PREFIX_MAX];
    text_add(text, "all_inhibited=%d\nholiday_back_ms=%" PRId64 "\n", engine->memory.all_inhibited,
             engine->memory.holiday_back.ms);
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
        name_prefix(common, i, prefix);
        rules_orders_save(&engine->memory, i, prefix, now, text);
    }
}

static bool is_any_inhibited(const struct engine *engine, const struct common *common)
{
    bool any = engine->memory.all_inhibited;
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
        any |= engine->loads[i].inhibited;
    return any;
}

/* As of mono 0 an end is the same text as long as it is the same end. */
void orders_copy_save(struct kept *kept, const struct engine *engine, struct common *common)
{
    char text[LEDGER_ORDERS_MAX];
    struct text now = text_in(text, sizeof(text));
    if (!is_any_inhibited(engine, common))
        site_solved(common, trouble_id);
    write_orders(engine, common, (struct mono){0}, &now);
    if (strcmp(text, kept->ordered) == 0)
        return;
    memcpy(kept->ordered, text, sizeof(text));
    now = text_in(text, sizeof(text));
    text_add(&now, "saved_wall_ms=%" PRId64 "\n",
             common->now.wall_trusted ? common->now.wall.ms : (int64_t)0);
    write_orders(engine, common, common->now.mono, &now);
    kept_seal(&now);
    ledger_orders(common->ledger, text);
}

/* -1: no clock can tell. */
static int64_t age_ms(const struct common *common, const char *text)
{
    int64_t saved_ms;
    bool known = common->now.wall_trusted && kept_value(text, "saved_wall_ms", &saved_ms) &&
                 saved_ms > 0 && saved_ms <= common->now.wall.ms;
    return known ? common->now.wall.ms - saved_ms : -1;
}

static void doubt(struct common *common, const char *what, const char *order)
{
    site_trouble(common, trouble_id,
                 "the ledger was damaged and doesn't tell whether %s was inhibited or switched "
                 "off: inhibited until someone allows it (sluice allow %s)",
                 what, order);
}

static void take_site(struct engine *engine, const char *text)
{
    int64_t value;
    engine->memory.all_inhibited = kept_value(text, "all_inhibited", &value) && value != 0;
    if (kept_value(text, "holiday_back_ms", &value) && value >= 0)
        engine->memory.holiday_back.ms = value;
}

static void take_load(struct engine *engine, struct common *common, uint16_t index,
                      const char *text)
{
    char prefix[PREFIX_MAX];
    name_prefix(common, index, prefix);
    rules_orders_restore(&engine->memory, index, prefix, text, common->now.mono,
                         age_ms(common, text));
}

void orders_copy_restore(struct engine *engine, struct common *common, enum note_state of_site,
                         const enum note_state of_load[])
{
    char text[LEDGER_ORDERS_MAX];
    bool damaged = ledger_was_damaged(common->ledger);
    bool copy = ledger_orders_read(common->ledger, text) && kept_check(text) == KEPT_WHOLE;
    bool doubted = !copy && (of_site == NOTE_HARMED || (damaged && of_site == NOTE_NONE));
    if (copy && (damaged || of_site != NOTE_WHOLE))
        take_site(engine, text);
    if (doubted) {
        engine->memory.all_inhibited = true;
        doubt(common, "everything", "all");
    }
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
        bool lost = of_load[i] == NOTE_HARMED || (damaged && of_load[i] == NOTE_NONE);
        if (copy && (damaged || of_load[i] != NOTE_WHOLE)) {
            take_load(engine, common, i, text);
        } else if (lost && !copy && !doubted) {
            const char *name = common->settings->names[i].name;
            engine->loads[i].inhibited = true;
            doubt(common, name, name);
        }
    }
}
