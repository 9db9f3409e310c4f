/* sensor_rows.c - what a sensor is for, and the kinds, as people write them.
 *
 * The rows of a kind stand in its file; here they become one table, each with the kind that it
 * goes with. That is done before main begins. */
#include "core/row_table.h"
#include "sensor/kind.h"

#define KIND(NAME, name) extern const struct sensor_kind sensor_kind_##name;
SENSOR_KINDS
#undef KIND

#define KIND(NAME, name) &sensor_kind_##name,
static const struct sensor_kind *const kinds[] = {SENSOR_KINDS};
#undef KIND

enum { KINDS = sizeof kinds / sizeof kinds[0], ROWS_MAX = 24 };

const struct sensor_kind *sensor_kind_of(const struct sensor_settings *settings)
{
    return kinds[settings->kind];
}

static struct setting_choice words[KINDS + 1];

static const struct setting_row kind_row = {.key = "kind",
                                            .kind = SETTING_CHOICE,
                                            SETTING_AT(struct sensor_settings, kind),
                                            .initial = "one_wire",
                                            .choices = words,
                                            .text = "How it is read."};

static const struct setting_row load_row = {
    .key = "load",
    .kind = SETTING_TEXT,
    SETTING_AT(struct sensor_settings, load),
    .initial = "",
    .example = "water-heater",
    .text = "The load whose tank it sits in; may be left out where only one load heats water. "
            "With probe: yes and probe_height under water, learning uses it. It decides nothing "
            "of safety: thermostat, cut-out, relief valve and tempering valve stay, and what is "
            "guaranteed against Legionella counts by the thermostat, never by this."};

/* Of those that are read from a file. */
static const struct setting_row file_rows[] = {
    {.key = "file",
     .kind = SETTING_TEXT,
     SETTING_AT(struct sensor_settings, file),
     .initial = "",
     .example = "/sys/bus/w1/devices/28-000000000001/temperature",
     .text = "The kernel's file that it is read from."},
    {.key = "every",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct sensor_settings, every_ms),
     .least = MS_PER_S,
     .greatest = 5 * MS_PER_MIN,
     .initial = "10 s",
     .text = "How often it is read."},
};
static const struct setting_rows read_rows = SETTING_ROWS(file_rows);

static struct setting_row rows[ROWS_MAX];
struct setting_rows sensor_rows = {rows, 0};

static void add_rows(struct row_table *table, const struct setting_rows *all, uint8_t kind)
{
    for (size_t k = 0; k < all->count; k++)
        row_table_put(table, &all->row[k], kind, "sensor");
}

__attribute__((constructor)) static void put_together(void)
{
    struct row_table table = {.row = rows, .most = ROWS_MAX};
    row_table_put(&table, &kind_row, -1, "sensor");
    row_table_put(&table, &load_row, -1, "sensor");
    for (uint8_t kind = 0; kind < KINDS; kind++) {
        words[kind] = (struct setting_choice){kinds[kind]->word, kind, kinds[kind]->text};
        if (kinds[kind]->read)
            add_rows(&table, &read_rows, kind);
    }
    for (uint8_t kind = 0; kind < KINDS; kind++)
        add_rows(&table, kinds[kind]->rows, kind);
    sensor_rows.count = table.count;
}

const char *sensor_needs(const struct sensor_settings *settings, const char **what)
{
    *what = sensor_kind_of(settings)->needs_text;
    return sensor_kind_of(settings)->needs;
}

void sensor_check(const struct sensor_settings *settings, setting_say *say, void *context)
{
    sensor_kind_of(settings)->check(settings, say, context);
}

void sensor_name(const struct sensor_settings *settings, struct text *text)
{
    sensor_kind_of(settings)->name(settings, text);
}
