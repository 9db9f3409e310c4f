/* output_rows.c - the kinds of output, and an output's settings as people write them.
 *
 * The rows of a kind stand in its file; here they become one table, each with the kinds
 * that it goes with. That is done before main begins, so that to all others it is a table
 * like any other. */
#include "core/row_table.h"
#include "output/backend.h"

#define KIND(NAME, name) extern const struct backend backend_##name;
OUTPUT_KINDS
#undef KIND

#define KIND(NAME, name) &backend_##name,
static const struct backend *const backends[] = {OUTPUT_KINDS};
#undef KIND

enum { KINDS = sizeof backends / sizeof backends[0], ROWS_MAX = 64 };

const struct backend *backend_at(uint8_t kind)
{
    return kind < KINDS ? backends[kind] : NULL;
}

const struct backend *backend_of(const struct output_settings *settings)
{
    return backends[settings->kind];
}

/* ---- rows of all kinds ---------------------------------------------------------------------- */

static struct setting_choice kinds[KINDS + 1];

static const struct setting_row kind_row = {.key = "kind",
                                            .kind = SETTING_CHOICE,
                                            SETTING_AT(struct output_settings, kind),
                                            .initial = "coil",
                                            .choices = kinds,
                                            .text = "What switches the load."};

static const struct setting_choice fail_states[] = {
    {"off", OUTPUT_FAIL_OFF, "off; a set-point goes to 0"},
    {"on", OUTPUT_FAIL_ON, "on, for a load whose own thermostat stops it"},
    {NULL, 0, NULL},
};

static const struct setting_row last_rows[] = {
    {.key = "normally_closed",
     .kind = SETTING_YES_NO,
     SETTING_AT(struct output_settings, normally_closed),
     .initial = "no",
     .text =
         "The load is on the board's normally closed contact: a released relay is on. Hot water "
         "then survives a dead board, and the thermostat alone rules; needs fail_state: on."},
    {.key = "fail_state",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct output_settings, fail_state),
     .initial = "off",
     .choices = fail_states,
     .text = "What the load goes to when nothing can decide: at exit, when the bus is lost, after "
             "a crash. A board without a communication time-out keeps its last state when this "
             "controller loses power."},
};

/* ---- one table ------------------------------------------------------------------------------- */

static struct setting_row rows[ROWS_MAX];
struct setting_rows output_setting_rows = {rows, 0};

static void add_row(struct row_table *table, const struct setting_row *row, int kind)
{
    row_table_put(table, row, kind, "output");
}

static void add_kind(struct row_table *table, uint8_t kind)
{
    const struct backend *backend = backends[kind];
    kinds[kind] = (struct setting_choice){backend->word, kind, backend->text};
    for (int set = 0; set < BACKEND_ROWS_MAX && backend->rows[set]; set++)
        for (size_t k = 0; k < backend->rows[set]->count; k++)
            add_row(table, &backend->rows[set]->row[k], kind);
}

__attribute__((constructor)) static void put_together(void)
{
    struct row_table table = {.row = rows, .most = ROWS_MAX};
    add_row(&table, &kind_row, -1);
    for (uint8_t kind = 0; kind < KINDS; kind++)
        add_kind(&table, kind);
    for (size_t k = 0; k < sizeof last_rows / sizeof last_rows[0]; k++)
        add_row(&table, &last_rows[k], -1);
    output_setting_rows.count = table.count;
}
