/* strip.c - by the local day: on a day of a clock change a cell is a 48th of it. */
#include "strip.h"

#include <string.h>

#include "core/text.h"
#include "sluice/day/day.h"

static int64_t overlap_ms(int64_t from_a, int64_t to_a, int64_t from_b, int64_t to_b)
{
    int64_t from = from_a > from_b ? from_a : from_b, to = to_a < to_b ? to_a : to_b;
    return to > from ? to - from : 0;
}

static int8_t share_on(const struct result *day, const struct result_track *load, int64_t from_ms,
                       int64_t to_ms)
{
    int64_t on_ms = 0;
    if (from_ms >= day->known_ms)
        return -1;
    for (size_t k = 0; k < load->run_count; k++)
        on_ms += overlap_ms(load->run[k].from_ms, load->run[k].to_ms, from_ms, to_ms);
    return (int8_t)(100 * on_ms / (to_ms - from_ms));
}

static void fill(struct strip *strip, const struct result *day)
{
    for (size_t k = 0; k < day->load_count && strip->count < STRIP_LOADS; k++) {
        struct strip_row *row = &strip->row[strip->count++];
        struct text name = text_in(row->name, sizeof(row->name));
        text_add(&name, "%s", result_title(&day->load[k]));
        int64_t day_ms = day->end_ms - day->begin_ms;
        for (int cell = 0; cell < STRIP_CELLS; cell++)
            row->on_percent[cell] =
                share_on(day, &day->load[k], day->begin_ms + day_ms * cell / STRIP_CELLS,
                         day->begin_ms + day_ms * (cell + 1) / STRIP_CELLS);
    }
}

void strip_read(struct strip *strip, const struct settings *settings, const char *date)
{
    struct trouble trouble = {0};
    struct result day = {0};
    struct text why = text_in(strip->why_not, sizeof(strip->why_not));
    strip->count = 0;
    if (!settings) {
        text_add(&why, "the settings cannot be read here (--settings FILE)");
        return;
    }
    day_take_settings(&day, settings);
    if (!day_set_date(&day, date))
        text_add(&why, "the daemon has no date yet");
    else if (day_read(&day, settings->ledger.path, &trouble) != STATUS_DONE)
        text_add(&why, "%s", trouble.text);
    if (!why.used)
        fill(strip, &day);
    result_free(&day);
}
