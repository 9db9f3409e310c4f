/* day_read.c - a day out of the ledger.
 *
 * The ledger knows subjects; which of them are loads, and their titles and order,
 * comes from the settings where there are any. A subject that the settings no longer
 * know is a load all the same: it ran. */
#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "day.h"
#include "ledger/history.h"

/* Events of so long before the day tell what was on when it began, and which of its
 * floors were kept on the evening before. */
enum { BEFORE_MS = 2 * MS_PER_DAY };

/* Whether there is memory; without it the program ends. */
static void *made(void *place)
{
    if (!place)
        exit((int)complain(STATUS_NOT_THERE, "no memory"));
    return place;
}

static struct result_track *track_of(struct result *day, const char *subject)
{
    if (strcmp(subject, "grid") == 0)
        return &day->grid;
    if (strcmp(subject, "spare") == 0)
        return &day->spare;
    if (strcmp(subject, "solar") == 0)
        return &day->solar;
    return made(result_load(day, subject));
}

static bool take_row(void *context, const struct history_row *row)
{
    struct result *day = context;
    struct result_track *track = track_of(day, row->subject);
    int64_t length_ms = row->to.ms - row->from.ms;
    if (length_ms <= 0)
        return true;
    struct result_piece *piece = made(result_add_piece(day, track, row->from.ms, row->to.ms));
    piece->amount.spare_mwh = (double)row->spare_mwh;
    piece->amount.grid_mwh = (double)row->grid_mwh;
    piece->amount.on_ms = row->on_ms;
    if (row->to.ms > day->known_ms)
        day->known_ms = row->to.ms < day->end_ms ? row->to.ms : day->end_ms;
    return true;
}

static bool take_event(void *context, const struct history_event *event)
{
    struct result *day = context;
    struct result_event *kept = made(result_add_event(day, event->at.ms, event->subject));
    struct text text = text_in(kept->text, sizeof(kept->text));
    text_add(&text, "%s", event->text);
    return true;
}

static int by_priority(const void *a, const void *b)
{
    const struct result_track *first = a, *second = b;
    if (first->priority != second->priority)
        return first->priority < second->priority ? -1 : 1;
    return strcmp(first->name, second->name);
}

static void tell_span(const struct result *day, struct history *history, struct trouble *trouble)
{
    struct wall first, last;
    if (!history_span(history, &first, &last)) {
        trouble_set(trouble, "", "nothing is recorded yet");
        return;
    }
    struct date from = date_of_days(local_of_wall(&day->zone, first).day);
    struct date to = date_of_days(local_of_wall(&day->zone, (struct wall){last.ms - 1}).day);
    trouble_set(trouble, "",
                "nothing is recorded for %04d-%02d-%02d: a day from %04d-%02d-%02d to "
                "%04d-%02d-%02d is expected",
                day->date.year, day->date.month, day->date.day, from.year, from.month, from.day,
                to.year, to.month, to.day);
}

enum status day_read(struct result *day, const char *path, struct trouble *trouble)
{
    struct wall begin = {day->begin_ms}, end = {day->end_ms};
    struct wall before = {day->begin_ms - BEFORE_MS};
    enum status status = STATUS_DONE;
    struct history *history = history_open(path, trouble);
    if (!history)
        return STATUS_NOT_THERE;
    if (!history_rows(history, begin, end, take_row, day, trouble) ||
        !history_events(history, before, end, take_event, day, trouble)) {
        status = STATUS_NOT_THERE;
    } else if (day->known_ms == 0) {
        tell_span(day, history, trouble);
        status = STATUS_REFUSED;
    } else {
        qsort(day->load, day->load_count, sizeof(day->load[0]), by_priority);
        day_runs(day);
    }
    history_close(history);
    return status;
}
