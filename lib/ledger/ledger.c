/* ledger.c - the loop's side of the ledger, and the thread that waits for the disk.
 *
 * Two stages: one is filled by the loop, the other is being written. A commit swaps
 * them if the writer is idle; if it is not (a slow card), the loop goes on filling
 * and the next commit carries both. What is staged twice by the same key is kept
 * once, so a slow disk costs freshness and never memory. */
#include "ledger.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store.h"

struct ledger {
    struct ledger_settings settings;
    char boot[STORE_BOOT_MAX];
    struct stage *filling; /* the loop's */
    struct stage *writing; /* the writer's, while `busy` */
    struct store *store;   /* the writer's, after ledger_open; NULL: not open */
    uint64_t overflowed;   /* events and rows that did not fit into a stage */
    pthread_t thread;
    bool running;
    pthread_mutex_t lock; /* of all below */
    pthread_cond_t changed;
    bool busy, ending;
    uint64_t posted, written;
    char trouble[LEDGER_EVENT_MAX];
};

static void set_trouble(struct ledger *ledger, const char *text)
{
    pthread_mutex_lock(&ledger->lock);
    snprintf(ledger->trouble, sizeof(ledger->trouble), "%s", text);
    pthread_mutex_unlock(&ledger->lock);
}

static void open_store(struct ledger *ledger)
{
    char notice[LEDGER_EVENT_MAX] = "";
    struct trouble trouble = {.text = ""};
    ledger->store = store_open(ledger->settings.path, notice, &trouble);
    if (!ledger->store) {
        char text[LEDGER_EVENT_MAX];
        snprintf(text, sizeof(text), "%.90s: %.120s; counting goes on in memory",
                 ledger->settings.path, trouble.text);
        set_trouble(ledger, text);
    } else if (notice[0]) {
        set_trouble(ledger, notice);
    }
}

/* After a failure the file is opened anew with the next commit: a card may have been
 * remounted, a disk emptied. */
static void write_stage(struct ledger *ledger)
{
    struct trouble trouble;
    if (!ledger->store)
        open_store(ledger);
    if (!ledger->store)
        return;
    if (store_write(ledger->store, ledger->writing, ledger->boot, ledger->settings.history_days,
                    &trouble)) {
        set_trouble(ledger, "");
        return;
    }
    char text[LEDGER_EVENT_MAX];
    snprintf(text, sizeof(text), "%.90s cannot be written: %.110s; counting goes on in memory",
             ledger->settings.path, trouble.text);
    set_trouble(ledger, text);
    store_close(ledger->store);
    ledger->store = NULL;
}

static void *write_on(void *context)
{
    struct ledger *ledger = context;
    pthread_mutex_lock(&ledger->lock);
    for (;;) {
        while (!ledger->busy && !ledger->ending)
            pthread_cond_wait(&ledger->changed, &ledger->lock);
        if (!ledger->busy)
            break;
        pthread_mutex_unlock(&ledger->lock);
        write_stage(ledger);
        pthread_mutex_lock(&ledger->lock);
        ledger->busy = false;
        ledger->written++;
        pthread_cond_broadcast(&ledger->changed);
    }
    pthread_mutex_unlock(&ledger->lock);
    return NULL;
}

struct ledger *ledger_open(const struct ledger_settings *settings, const char *boot)
{
    struct ledger *ledger = calloc(1, sizeof(*ledger));
    if (!ledger)
        return NULL;
    ledger->settings = *settings;
    snprintf(ledger->boot, sizeof(ledger->boot), "%s", boot);
    ledger->filling = calloc(1, sizeof(*ledger->filling));
    ledger->writing = calloc(1, sizeof(*ledger->writing));
    pthread_mutex_init(&ledger->lock, NULL);
    pthread_cond_init(&ledger->changed, NULL);
    if (!ledger->filling || !ledger->writing) {
        ledger_close(ledger);
        return NULL;
    }
    open_store(ledger);
    ledger->running = pthread_create(&ledger->thread, NULL, write_on, ledger) == 0;
    if (!ledger->running)
        set_trouble(ledger, "no thread to write with: counting goes on in memory");
    return ledger;
}

bool ledger_counter_read(struct ledger *ledger, const char *key, int64_t *value)
{
    return ledger->store && store_counter(ledger->store, key, value);
}

bool ledger_note_read(struct ledger *ledger, const char *key, char text[static LEDGER_TEXT_MAX])
{
    return ledger->store && store_note(ledger->store, key, text);
}

bool ledger_last_save(struct ledger *ledger, struct wall *wall, struct mono *mono,
                      char boot[static 40])
{
    return ledger->store && store_last_save(ledger->store, wall, mono, boot);
}

/* ---- staging -----------------------------------------------------------------------------------
 */

void ledger_counter(struct ledger *ledger, const char *key, int64_t value)
{
    struct stage *stage = ledger->filling;
    int k = 0;
    while (k < stage->counter_count && strcmp(stage->counter[k].key, key) != 0)
        k++;
    if (k == STAGE_COUNTERS_MAX)
        return; /* staged again with every snapshot: it will fit when the writer has caught up */
    if (k == stage->counter_count)
        stage->counter_count++;
    snprintf(stage->counter[k].key, sizeof(stage->counter[k].key), "%s", key);
    stage->counter[k].value = value;
}

void ledger_note(struct ledger *ledger, const char *key, const char *text)
{
    struct stage *stage = ledger->filling;
    int k = 0;
    while (k < stage->note_count && strcmp(stage->note[k].key, key) != 0)
        k++;
    if (k == STAGE_NOTES_MAX)
        return;
    if (k == stage->note_count)
        stage->note_count++;
    snprintf(stage->note[k].key, sizeof(stage->note[k].key), "%s", key);
    snprintf(stage->note[k].text, sizeof(stage->note[k].text), "%s", text);
}

void ledger_event(struct ledger *ledger, struct moment at, const char *subject, const char *text)
{
    struct stage *stage = ledger->filling;
    if (stage->event_count == STAGE_EVENTS_MAX) {
        ledger->overflowed++;
        return;
    }
    struct staged_event *event = &stage->event[stage->event_count++];
    event->at = at.wall;
    snprintf(event->subject, sizeof(event->subject), "%s", subject);
    snprintf(event->text, sizeof(event->text), "%s", text);
}

void ledger_history(struct ledger *ledger, struct moment at, int64_t interval_ms,
                    const char *subject, int64_t spare_mwh, int64_t grid_mwh, int64_t on_ms)
{
    struct stage *stage = ledger->filling;
    if (stage->row_count == STAGE_ROWS_MAX) {
        ledger->overflowed++;
        return;
    }
    struct staged_row *row = &stage->row[stage->row_count++];
    row->from.ms = at.wall.ms - interval_ms;
    row->to = at.wall;
    snprintf(row->subject, sizeof(row->subject), "%s", subject);
    row->spare_mwh = spare_mwh;
    row->grid_mwh = grid_mwh;
    row->on_ms = on_ms;
}

static void tell_overflow(struct ledger *ledger, struct moment at)
{
    char text[LEDGER_EVENT_MAX];
    if (ledger->overflowed == 0)
        return;
    snprintf(text, sizeof(text), "%llu events or rows of history were lost: storage is too slow",
             (unsigned long long)ledger->overflowed);
    ledger->overflowed = 0;
    ledger_event(ledger, at, "ledger", text);
}

void ledger_commit(struct ledger *ledger, struct moment at)
{
    ledger->filling->at = at;
    pthread_mutex_lock(&ledger->lock);
    bool handed = ledger->running && !ledger->busy;
    if (handed) {
        struct stage *empty = ledger->writing;
        ledger->writing = ledger->filling;
        ledger->filling = empty;
        ledger->busy = true;
        ledger->posted++;
        pthread_cond_broadcast(&ledger->changed);
    }
    pthread_mutex_unlock(&ledger->lock);
    if (!handed)
        return;
    struct stage *stage = ledger->filling;
    stage->counter_count = stage->note_count = stage->event_count = stage->row_count = 0;
    tell_overflow(ledger, at);
}

uint64_t ledger_posted(struct ledger *ledger)
{
    pthread_mutex_lock(&ledger->lock);
    uint64_t posted = ledger->posted;
    pthread_mutex_unlock(&ledger->lock);
    return posted;
}

uint64_t ledger_written(struct ledger *ledger)
{
    pthread_mutex_lock(&ledger->lock);
    uint64_t written = ledger->written;
    pthread_mutex_unlock(&ledger->lock);
    return written;
}

void ledger_wait(struct ledger *ledger)
{
    pthread_mutex_lock(&ledger->lock);
    while (ledger->busy)
        pthread_cond_wait(&ledger->changed, &ledger->lock);
    pthread_mutex_unlock(&ledger->lock);
}

void ledger_trouble(struct ledger *ledger, char text[static LEDGER_EVENT_MAX])
{
    pthread_mutex_lock(&ledger->lock);
    memcpy(text, ledger->trouble, LEDGER_EVENT_MAX);
    pthread_mutex_unlock(&ledger->lock);
}

void ledger_close(struct ledger *ledger)
{
    if (!ledger)
        return;
    pthread_mutex_lock(&ledger->lock);
    ledger->ending = true;
    pthread_cond_broadcast(&ledger->changed);
    pthread_mutex_unlock(&ledger->lock);
    if (ledger->running)
        pthread_join(ledger->thread, NULL);
    store_close(ledger->store);
    pthread_mutex_destroy(&ledger->lock);
    pthread_cond_destroy(&ledger->changed);
    free(ledger->filling);
    free(ledger->writing);
    free(ledger);
}
