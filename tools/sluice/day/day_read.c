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

static void *grown(void *array, size_t *room, size_t count, size_t size)
{
    if (count < *room)
        return array;
    *room = *room ? 2 * *room : 64;
    void *more = realloc(array, *room * size);
    if (!more)
        exit((int)complain(STATUS_NOT_THERE, "no memory"));
    return more;
}

struct day_track *day_load(struct day *day, const char *name)
{
    for (size_t k = 0; k < day->load_count; k++)
        if (strcmp(day->load[k].name, name) == 0)
            return &day->load[k];
    struct day_track *more = realloc(day->load, (day->load_count + 1) * sizeof(*more));
    if (!more)
        exit((int)complain(STATUS_NOT_THERE, "no memory"));
    day->load = more;
    struct day_track *load = &more[day->load_count++];
    *load = (struct day_track){.priority = INT_MAX};
    struct text text = text_in(load->name, sizeof(load->name));
    text_add(&text, "%s", name);
    return load;
}

static struct day_track *track_of(struct day *day, const char *subject)
{
    if (strcmp(subject, "grid") == 0)
        return &day->grid;
    if (strcmp(subject, "spare") == 0)
        return &day->spare;
    if (strcmp(subject, "solar") == 0)
        return &day->solar;
    return day_load(day, subject);
}

static bool take_row(void *context, const struct history_row *row)
{
    struct day *day = context;
    struct day_track *track = track_of(day, row->subject);
    int64_t length_ms = row->to.ms - row->from.ms;
    if (length_ms <= 0)
        return true;
    track->piece = grown(track->piece, &track->room, track->count, sizeof(track->piece[0]));
    track->piece[track->count++] =
        (struct day_piece){row->from.ms, row->to.ms, row->spare_mwh, row->grid_mwh, row->on_ms};
    if (row->to.ms > day->known_ms)
        day->known_ms = row->to.ms < day->end_ms ? row->to.ms : day->end_ms;
    return true;
}

static bool take_event(void *context, const struct history_event *event)
{
    struct day *day = context;
    day->event = grown(day->event, &day->event_room, day->event_count, sizeof(day->event[0]));
    struct day_event *kept = &day->event[day->event_count++];
    *kept = (struct day_event){.at_ms = event->at.ms};
    struct text subject = text_in(kept->subject, sizeof(kept->subject));
    struct text text = text_in(kept->text, sizeof(kept->text));
    text_add(&subject, "%s", event->subject);
    text_add(&text, "%s", event->text);
    return true;
}

static int by_priority(const void *a, const void *b)
{
    const struct day_track *first = a, *second = b;
    if (first->priority != second->priority)
        return first->priority < second->priority ? -1 : 1;
    return strcmp(first->name, second->name);
}

static void tell_span(const struct day *day, struct history *history, struct trouble *trouble)
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

enum status day_read(struct day *day, const char *path, struct trouble *trouble)
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

void day_free(struct day *day)
{
    free(day->grid.piece);
    free(day->spare.piece);
    free(day->solar.piece);
    for (size_t k = 0; k < day->load_count; k++) {
        free(day->load[k].piece);
        free(day->load[k].run);
    }
    free(day->load);
    free(day->event);
}

/* ---- sums ------------------------------------------------------------------------- */

static int64_t overlap_ms(const struct day_piece *piece, int64_t from_ms, int64_t to_ms)
{
    int64_t from = piece->from_ms > from_ms ? piece->from_ms : from_ms;
    int64_t to = piece->to_ms < to_ms ? piece->to_ms : to_ms;
    return to > from ? to - from : 0;
}

struct day_sum day_sum(const struct day_track *track, int64_t from_ms, int64_t to_ms)
{
    struct day_sum sum = {0};
    for (size_t k = 0; k < track->count; k++) {
        const struct day_piece *piece = &track->piece[k];
        int64_t part = overlap_ms(piece, from_ms, to_ms), whole = piece->to_ms - piece->from_ms;
        sum.spare_mwh += piece->spare_mwh * part / whole;
        sum.grid_mwh += piece->grid_mwh * part / whole;
        sum.on_ms += piece->on_ms * part / whole;
        sum.covered_ms += part;
    }
    return sum;
}

struct day_sum day_total(const struct day *day, const struct day_track *track)
{
    return day_sum(track, day->begin_ms, day->end_ms);
}

int32_t day_second(const struct day *day, int64_t at_ms)
{
    return local_of_wall(&day->zone, (struct wall){at_ms}).second;
}

const char *day_title(const struct day_track *load)
{
    return *load->title ? load->title : load->name;
}
