/* past_faults.c - an event with a fault's id is its beginning, news of it, or its end.
 *
 * A daemon that begins says so: what stood then is over, unless it comes again soon. */
#include "past_faults.h"

#include <stdlib.h>
#include <string.h>

#include "core/text.h"

enum { AGAIN_MS = 15 * MS_PER_MIN, ROOM = 64 };

static struct past_fault *find(struct past_faults *past, const char *id)
{
    for (int k = 0; k < past->count; k++)
        if (strcmp(past->item[k].id, id) == 0)
            return &past->item[k];
    return NULL;
}

static struct past_fault *add(struct past_faults *past, const struct history_event *event)
{
    if (past->count == past->room) {
        int room = past->room + ROOM;
        struct past_fault *more = realloc(past->item, (size_t)room * sizeof(*more));
        if (!more)
            return NULL;
        past->item = more;
        past->room = room;
    }
    struct past_fault *fault = &past->item[past->count++];
    struct text id = text_in(fault->id, sizeof(fault->id));
    *fault = (struct past_fault){.first = event->at};
    text_add(&id, "%s", event->subject);
    return fault;
}

static void end(struct past_fault *fault, struct wall at, bool with_restart)
{
    if (!fault->stands)
        return;
    fault->stands = false;
    fault->with_restart = with_restart;
    fault->last_to = at;
    fault->stood_ms += at.ms - fault->last_from.ms;
}

static void begin(struct past_fault *fault, struct wall at)
{
    bool goes_on = fault->with_restart && at.ms - fault->last_to.ms < AGAIN_MS;
    if (goes_on) {
        fault->stood_ms -= fault->last_to.ms - fault->last_from.ms;
    } else {
        fault->last_from = at;
        fault->times++;
    }
    fault->stands = true;
    fault->with_restart = false;
}

static bool take(void *context, const struct history_event *event)
{
    struct past_faults *past = context;
    if (strcmp(event->subject, "faults") == 0)
        for (int k = 0; k < past->count; k++)
            end(&past->item[k], event->at, true);
    if (!fault_id_ok(event->subject))
        return true;
    struct past_fault *fault = find(past, event->subject);
    if (fault_text_is_end(event->text)) {
        if (fault)
            end(fault, event->at, false);
        return true;
    }
    fault = fault ? fault : add(past, event);
    if (!fault)
        return false;
    struct text text = text_in(fault->text, sizeof(fault->text));
    text_add(&text, "%s", event->text);
    if (!fault->stands)
        begin(fault, event->at);
    return true;
}

static int newest_first(const void *a, const void *b)
{
    const struct past_fault *first = a, *second = b;
    return first->last_from.ms < second->last_from.ms   ? 1
           : first->last_from.ms > second->last_from.ms ? -1
                                                        : strcmp(first->id, second->id);
}

bool past_faults_read(struct past_faults *past, const char *ledger, struct wall from,
                      struct wall now, struct trouble *trouble)
{
    *past = (struct past_faults){.now = now};
    struct history *history = history_open(ledger, trouble);
    if (!history)
        return false;
    bool ok = history_events(history, from, (struct wall){INT64_MAX}, take, past, trouble);
    history_close(history);
    if (past->count > 0)
        qsort(past->item, (size_t)past->count, sizeof(past->item[0]), newest_first);
    return ok;
}

void past_faults_free(struct past_faults *past)
{
    free(past->item);
    *past = (struct past_faults){0};
}
