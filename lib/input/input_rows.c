/* input_rows.c - what an input is for, and the kinds of source, as people write them.
 *
 * The rows of a kind stand in its file; here they become one table, each with the kind that it
 * goes with. That is done before main begins. */
#include "core/row_table.h"
#include "input/source.h"

#define KIND(NAME, name) extern const struct input_source input_source_##name;
INPUT_KINDS
#undef KIND

#define KIND(NAME, name) &input_source_##name,
static const struct input_source *const sources[] = {INPUT_KINDS};
#undef KIND

enum { KINDS = sizeof sources / sizeof sources[0], ROWS_MAX = 32 };

const struct input_source *input_source_of(const struct input_settings *settings)
{
    return sources[settings->kind];
}

/* ---- what it is for -------------------------------------------------------------------------- */

static const struct setting_choice roles[] = {
    {"button", INPUT_BUTTON, "a push-button: orders a run of the load, or ends it"},
    {"in_hand", INPUT_IN_HAND, "closed while the switch at the board stands in hand"},
    {"at_off", INPUT_AT_OFF, "closed while that switch stands at off"},
    {"in_auto", INPUT_IN_AUTO, "closed while that switch stands in auto"},
    {"contact", INPUT_CONTACT,
     "closed while the load's contactor is: an auxiliary contact, or voltage behind it"},
    {"supply", INPUT_SUPPLY, "closed while the load's off-peak supply has power"},
    {"inhibit", INPUT_INHIBIT, "closed while the load shall stay off: islanded, plumbing work"},
    {NULL, 0, NULL},
};

static const struct setting_row role_rows[] = {
    {.key = "role",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct input_settings, role),
     .initial = NULL,
     .choices = roles,
     .example = "button",
     .text = "What it means that it is closed. A load may have several inputs, one of each role; "
             "what is not known (its bus is silent) is as if there were none, but an inhibit "
             "stays as it was last read, open or closed, and counts as closed until it has been "
             "read for the first time since the start. Nothing here is isolation: isolate all "
             "supplies and prove "
             "dead. Sensing mains takes an interface made for it, fitted by a licensed "
             "electrician."},
    {.key = "load",
     .kind = SETTING_TEXT,
     SETTING_AT(struct input_settings, load),
     .initial = "",
     .example = "water-heater",
     .text = "The load that it is about. An inhibit without it keeps all of them off."},
    {.key = "for",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     .only = 1u << INPUT_BUTTON,
     SETTING_AT(struct input_settings, run_ms),
     .least = MS_PER_MIN,
     .greatest = 24 * MS_PER_HOUR,
     .initial = "1 h",
     .text = "How long a press runs the load. Pressing while it runs manually ends that."},
    {.key = "every",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct input_settings, every_ms),
     .least = 50,
     .greatest = 10000,
     .initial = "250 ms",
     .text = "How often it is read. A press counts when it lasts for two readings."},
    {.key = "debounce",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct input_settings, debounce_ms),
     .least = 0,
     .greatest = 10000,
     .initial = "100 ms",
     .text = "How long it must have been read so before it counts; at least two readings."},
    {.key = "active_low",
     .kind = SETTING_YES_NO,
     SETTING_AT(struct input_settings, active_low),
     .initial = "no",
     .text = "A low level, or 0, counts as closed: a button to ground, a normally closed contact."},
};
const struct setting_rows input_role_rows = SETTING_ROWS(role_rows);

const char *input_role_word(uint8_t role)
{
    return roles[role].word;
}

/* ---- where it is ----------------------------------------------------------------------------- */

static struct setting_choice kinds[KINDS + 1];

static const struct setting_row kind_row = {.key = "kind",
                                            .kind = SETTING_CHOICE,
                                            SETTING_AT(struct input_settings, kind),
                                            .initial = "modbus",
                                            .choices = kinds,
                                            .text = "Where it is read."};

static struct setting_row rows[ROWS_MAX];
struct setting_rows input_source_rows = {rows, 0};

__attribute__((constructor)) static void put_together(void)
{
    struct row_table table = {.row = rows, .most = ROWS_MAX};
    row_table_put(&table, &kind_row, -1, "input");
    for (uint8_t kind = 0; kind < KINDS; kind++) {
        const struct input_source *source = sources[kind];
        kinds[kind] = (struct setting_choice){source->word, kind, source->text};
        for (size_t k = 0; k < source->rows->count; k++)
            row_table_put(&table, &source->rows->row[k], kind, "input");
    }
    input_source_rows.count = table.count;
}

bool input_is_on_bus(const struct input_settings *settings)
{
    return input_source_of(settings)->on_bus;
}

const char *input_needs(const struct input_settings *settings, const char **what)
{
    *what = input_source_of(settings)->needs_text;
    return input_source_of(settings)->needs;
}

void input_name(const struct input_settings *settings, struct text *text)
{
    input_source_of(settings)->name(settings, text);
}
