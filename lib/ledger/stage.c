/* stage.c - filling a box, and one box on top of another.
 *
 * A disk that takes nothing for an hour costs no memory and no counter: values by key
 * stay one each. Events and rows of history would grow without end, so the oldest go:
 * what happened last explains most. */
#include "ledger/stage.h"

#include <string.h>

#include "core/text.h"

void stage_clear(struct stage *stage)
{
    stage->counters = stage->notes = stage->events = stage->rows = 0;
    stage->lost = stage->dropped_keys = 0;
    stage->orders[0] = '\0';
}

/* Writes no more than the text: pages that are not needed stay untouched. */
static void copy(char *to, size_t size, const char *from)
{
    struct text text = text_in(to, size);
    text_add(&text, "%s", from);
}

static bool is_key(const char *kept, const char *key)
{
    return strncmp(kept, key, LEDGER_KEY_MAX - 1) == 0;
}

void stage_counter(struct stage *stage, const char *key, int64_t value)
{
    struct ledger_counter *counter = stage->counter, *end = counter + stage->counters;
    while (counter < end && !is_key(counter->key, key))
        counter++;
    if (counter < end) {
        counter->value = value > counter->value ? value : counter->value;
    } else if (stage->counters == STAGE_COUNTERS) {
        stage->dropped_keys++;
    } else {
        stage->counters++;
        copy(counter->key, sizeof(counter->key), key);
        counter->value = value;
    }
}

void stage_note(struct stage *stage, const char *key, const char *text)
{
    struct ledger_note *note = stage->note, *end = note + stage->notes;
    while (note < end && !is_key(note->key, key))
        note++;
    if (note == end && stage->notes == STAGE_NOTES) {
        stage->dropped_keys++;
        return;
    }
    if (note == end) {
        stage->notes++;
        copy(note->key, sizeof(note->key), key);
    }
    copy(note->text, sizeof(note->text), text);
}

void stage_event(struct stage *stage, struct wall at, const char *subject, const char *text)
{
    if (stage->events == STAGE_EVENTS) {
        stage->events--;
        stage->lost++;
        memmove(stage->event, stage->event + 1, (size_t)stage->events * sizeof(stage->event[0]));
    }
    struct stage_event *event = &stage->event[stage->events++];
    event->at = at;
    copy(event->subject, sizeof(event->subject), subject);
    copy(event->text, sizeof(event->text), text);
}

void stage_row(struct stage *stage, const struct stage_row *row)
{
    if (stage->rows == STAGE_ROWS) {
        stage->rows--;
        stage->lost++;
        memmove(stage->row, stage->row + 1, (size_t)stage->rows * sizeof(stage->row[0]));
    }
    stage->row[stage->rows++] = *row;
}

void stage_merge(struct stage *older, const struct stage *newer)
{
    older->at = newer->at;
    if (newer->orders[0])
        copy(older->orders, sizeof(older->orders), newer->orders);
    older->lost += newer->lost;
    older->dropped_keys = newer->dropped_keys; /* those of before are among these again */
    for (int k = 0; k < newer->counters; k++)
        stage_counter(older, newer->counter[k].key, newer->counter[k].value);
    for (int k = 0; k < newer->notes; k++)
        stage_note(older, newer->note[k].key, newer->note[k].text);
    for (int k = 0; k < newer->events; k++)
        stage_event(older, newer->event[k].at, newer->event[k].subject, newer->event[k].text);
    for (int k = 0; k < newer->rows; k++)
        stage_row(older, &newer->row[k]);
}
