/* batch.c - a box of values on their way to disk.
 *
 * The loop fills one, the writer empties another, and whatever could not be written
 * yet waits in a third for the next try; moving from one to the next is always the same
 * merge. Where a box is full, counters and notes that have no place are counted as
 * dropped (their next snapshot brings them again), and of events and rows the oldest
 * go: what happened last explains most. */
#include <stdlib.h>
#include <string.h>

#include "batch.h"

struct batch *batch_new(void)
{
    return calloc(1, sizeof(struct batch));
}

void batch_clear(struct batch *batch)
{
    batch->counter_count = batch->note_count = batch->event_count = batch->row_count = 0;
    batch->dropped = 0;
}

/* Copies no more than the text: a slot's unused pages stay untouched. */
static void copy(char *to, size_t size, const char *from)
{
    size_t length = strnlen(from, size - 1);
    memcpy(to, from, length);
    to[length] = '\0';
}

void batch_counter(struct batch *batch, const char *key, int64_t value)
{
    struct ledger_counter *counter = batch->counters, *end = counter + batch->counter_count;
    while (counter < end && strncmp(counter->key, key, LEDGER_KEY_MAX - 1) != 0)
        counter++;
    if (counter < end) {
        counter->value = value > counter->value ? value : counter->value;
    } else if (batch->counter_count < BATCH_COUNTERS) {
        copy(counter->key, sizeof(counter->key), key);
        counter->value = value;
        batch->counter_count++;
    } else {
        batch->dropped++;
    }
}

void batch_note(struct batch *batch, const char *key, const char *text)
{
    struct ledger_note *note = batch->notes, *end = note + batch->note_count;
    while (note < end && strncmp(note->key, key, LEDGER_KEY_MAX - 1) != 0)
        note++;
    if (note == end && batch->note_count == BATCH_NOTES) {
        batch->dropped++;
        return;
    }
    if (note == end) {
        copy(note->key, sizeof(note->key), key);
        batch->note_count++;
    }
    copy(note->text, sizeof(note->text), text);
}

void batch_event(struct batch *batch, const struct batch_event *event)
{
    if (batch->event_count == BATCH_EVENTS) {
        batch->event_count--;
        batch->dropped++;
        memmove(batch->events, batch->events + 1, batch->event_count * sizeof(*event));
    }
    struct batch_event *kept = &batch->events[batch->event_count++];
    kept->at_ms = event->at_ms;
    copy(kept->subject, sizeof(kept->subject), event->subject);
    copy(kept->text, sizeof(kept->text), event->text);
}

void batch_row(struct batch *batch, const struct batch_row *row)
{
    if (batch->row_count == BATCH_ROWS) {
        batch->row_count--;
        batch->dropped++;
        memmove(batch->rows, batch->rows + 1, batch->row_count * sizeof(*row));
    }
    batch->rows[batch->row_count++] = *row;
}

void batch_merge(struct batch *older, const struct batch *newer)
{
    older->at = newer->at;
    older->dropped += newer->dropped;
    for (size_t i = 0; i < newer->counter_count; i++)
        batch_counter(older, newer->counters[i].key, newer->counters[i].value);
    for (size_t i = 0; i < newer->note_count; i++)
        batch_note(older, newer->notes[i].key, newer->notes[i].text);
    for (size_t i = 0; i < newer->event_count; i++)
        batch_event(older, &newer->events[i]);
    for (size_t i = 0; i < newer->row_count; i++)
        batch_row(older, &newer->rows[i]);
}
