/* ledger.c - the loop's side of the ledger, and the thread that waits for the disk.
 *
 * Two stages: one is filled by the loop, the other is being written. A commit swaps
 * them if the writer is idle; if it is not (a slow card), the loop goes on filling and
 * the next commit carries both. What could not be written (a full disk) stays in the
 * writer's stage, and the next commit is merged on top of it. The stages never allocate,
 * and the loop never waits: what was remembered it reads from memory, where every note
 * stands beside the file. */
#include "ledger/ledger.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "core/text.h"
#include "ledger/database.h"
#include "ledger/notes.h"
#include "ledger/order_file.h"
#include "loop/thread.h"

struct ledger {
    char path[192];
    struct database *database; /* the writer's, once it runs */
    struct stage *filling;     /* the loop's */
    struct stage *writing;     /* the writer's while `busy`, the loop's otherwise */
    pthread_t thread;
    bool running;
    pthread_mutex_t mutex; /* of all below */
    pthread_cond_t changed;
    struct notes notes; /* those of the file, and on top of them what was staged */
    bool notes_read;    /* the file's are in it; the writer's own */
    bool busy, ending;
    bool unwritten; /* `writing` holds what could not be written */
    bool overdue;   /* a commit came while the writer was busy */
    bool noticed;   /* the notice has become an event */
    uint64_t posted, stored;
    char trouble[LEDGER_EVENT_MAX];
    char notice[LEDGER_EVENT_MAX]; /* over, but to be known: stands for a day */
    int64_t notice_until_ms;       /* mono, once it has become an event */
};

/* ---- the writer --------------------------------------------------------------------------- */

static void set_trouble(struct ledger *ledger, const char *before, const char *text)
{
    pthread_mutex_lock(&ledger->mutex);
    struct text all = text_in(ledger->trouble, sizeof(ledger->trouble));
    if (text[0])
        text_add(&all, "%s%s%s", before, before[0] ? ": " : "", text);
    else
        ledger->trouble[0] = '\0';
    pthread_mutex_unlock(&ledger->mutex);
}

static void tell_failure(struct ledger *ledger, const struct trouble *trouble)
{
    char text[LEDGER_EVENT_MAX];
    struct text all = text_in(text, sizeof(text));
    text_add(&all, "%s; counting goes on in memory", trouble->text);
    set_trouble(ledger, ledger->path, text);
}

/* What has been staged since is newer than what the file has. */
static void take_stored_note(void *context, const char *key, const char *text)
{
    struct ledger *ledger = context;
    pthread_mutex_lock(&ledger->mutex);
    if (!notes_find(&ledger->notes, key))
        notes_set(&ledger->notes, key, text);
    pthread_mutex_unlock(&ledger->mutex);
}

static bool open_store(struct ledger *ledger)
{
    char notice[LEDGER_EVENT_MAX] = "";
    struct trouble trouble;
    bool open = database_open(ledger->database, notice, &trouble);
    if (notice[0]) {
        pthread_mutex_lock(&ledger->mutex);
        memcpy(ledger->notice, notice, sizeof(notice));
        ledger->noticed = false;
        pthread_mutex_unlock(&ledger->mutex);
    }
    if (!ledger->notes_read) /* also where it can only be read, or could not be before */
        ledger->notes_read = database_each_note(ledger->database, take_stored_note, ledger);
    if (!open)
        tell_failure(ledger, &trouble);
    return open;
}

static bool write_stage(struct ledger *ledger)
{
    char warning[LEDGER_EVENT_MAX];
    struct trouble trouble;
    database_write_orders(ledger->database, ledger->writing);
    if (!open_store(ledger))
        return false;
    if (!database_write(ledger->database, ledger->writing, warning, &trouble)) {
        tell_failure(ledger, &trouble);
        return false;
    }
    set_trouble(ledger, "", warning);
    return true;
}

static void *write_on(void *context)
{
    struct ledger *ledger = context;
    pthread_mutex_lock(&ledger->mutex);
    for (;;) {
        while (!ledger->busy && !ledger->ending)
            pthread_cond_wait(&ledger->changed, &ledger->mutex);
        if (!ledger->busy)
            break;
        pthread_mutex_unlock(&ledger->mutex);
        bool written = write_stage(ledger);
        pthread_mutex_lock(&ledger->mutex);
        ledger->busy = false;
        ledger->unwritten = !written;
        if (written)
            ledger->stored = ledger->posted;
        pthread_cond_broadcast(&ledger->changed);
    }
    pthread_mutex_unlock(&ledger->mutex);
    return NULL;
}

/* ---- coming and going ------------------------------------------------------------------------ */

struct ledger *ledger_open(const struct ledger_settings *settings, const char *boot)
{
    struct ledger *ledger = calloc(1, sizeof(*ledger));
    if (!ledger)
        return NULL;
    memcpy(ledger->path, settings->path, sizeof(ledger->path));
    pthread_mutex_init(&ledger->mutex, NULL);
    pthread_cond_init(&ledger->changed, NULL);
    ledger->filling = calloc(1, sizeof(*ledger->filling));
    ledger->writing = calloc(1, sizeof(*ledger->writing));
    ledger->database = database_new(settings, boot);
    if (!ledger->filling || !ledger->writing || !ledger->database) {
        ledger_close(ledger);
        return NULL;
    }
    open_store(ledger);
    ledger->running = thread_start(&ledger->thread, write_on, ledger);
    if (!ledger->running)
        set_trouble(ledger, "", "no thread to write with; counting goes on in memory");
    return ledger;
}

void ledger_wait(struct ledger *ledger)
{
    pthread_mutex_lock(&ledger->mutex);
    while (ledger->busy)
        pthread_cond_wait(&ledger->changed, &ledger->mutex);
    pthread_mutex_unlock(&ledger->mutex);
}

/* One more try, for the commit that came too soon and for those that failed. */
static void write_the_last(struct ledger *ledger)
{
    ledger_wait(ledger);
    if (ledger->overdue || ledger->unwritten) /* nobody else is there to change them */
        ledger_commit(ledger, ledger->overdue ? ledger->filling->at : ledger->writing->at);
    ledger_wait(ledger);
}

static void end_thread(struct ledger *ledger)
{
    pthread_mutex_lock(&ledger->mutex);
    ledger->ending = true;
    pthread_cond_broadcast(&ledger->changed);
    pthread_mutex_unlock(&ledger->mutex);
    pthread_join(ledger->thread, NULL);
}

void ledger_close(struct ledger *ledger)
{
    if (!ledger)
        return;
    if (ledger->running) {
        write_the_last(ledger);
        end_thread(ledger);
    }
    database_free(ledger->database);
    notes_free(&ledger->notes);
    pthread_mutex_destroy(&ledger->mutex);
    pthread_cond_destroy(&ledger->changed);
    free(ledger->filling);
    free(ledger->writing);
    free(ledger);
}

/* ---- reading ------------------------------------------------------------------------------- */

bool ledger_note_read(struct ledger *ledger, const char *key, char text[static LEDGER_TEXT_MAX])
{
    pthread_mutex_lock(&ledger->mutex);
    const char *found = notes_find(&ledger->notes, key);
    if (found)
        strcpy(text, found);
    pthread_mutex_unlock(&ledger->mutex);
    return found != NULL;
}

bool ledger_last_save(struct ledger *ledger, struct wall *wall, struct mono *mono,
                      char boot[static 40])
{
    return database_last_save(ledger->database, wall, mono, boot);
}

bool ledger_was_damaged(struct ledger *ledger)
{
    return database_was_damaged(ledger->database);
}

bool ledger_orders_read(struct ledger *ledger, char text[static LEDGER_ORDERS_MAX])
{
    return order_file_read(ledger->path, text);
}

/* ---- staging
 * ---------------------------------------------------------------------------------------- */

void ledger_counter(struct ledger *ledger, const char *key, int64_t value)
{
    stage_counter(ledger->filling, key, value);
}

void ledger_orders(struct ledger *ledger, const char *text)
{
    struct text copy = text_in(ledger->filling->orders, sizeof(ledger->filling->orders));
    text_add(&copy, "%s", text);
}

void ledger_note(struct ledger *ledger, const char *key, const char *text)
{
    pthread_mutex_lock(&ledger->mutex);
    notes_set(&ledger->notes, key, text);
    pthread_mutex_unlock(&ledger->mutex);
    stage_note(ledger->filling, key, text);
}

void ledger_event(struct ledger *ledger, struct moment at, const char *subject, const char *text)
{
    stage_event(ledger->filling, at.wall, subject, text);
}

void ledger_history(struct ledger *ledger, struct moment at, int64_t interval_ms,
                    const char *subject, int64_t spare_mwh, int64_t grid_mwh, int64_t on_ms)
{
    struct stage_row row = {.from = {at.wall.ms - interval_ms},
                            .to = at.wall,
                            .spare_mwh = spare_mwh,
                            .grid_mwh = grid_mwh,
                            .on_ms = on_ms};
    struct text text = text_in(row.subject, sizeof(row.subject));
    text_add(&text, "%s", subject);
    stage_row(ledger->filling, &row);
}

/* Becomes an event with the first commit, and is forgotten a day after. */
static void note_notice(struct ledger *ledger, struct moment at)
{
    if (ledger->notice[0] && !ledger->noticed) {
        stage_event(ledger->filling, at.wall, "ledger", ledger->notice);
        ledger->notice_until_ms = at.mono.ms + MS_PER_DAY;
        ledger->noticed = true;
    } else if (at.mono.ms >= ledger->notice_until_ms) {
        ledger->notice[0] = '\0';
    }
}

static void hand_over(struct ledger *ledger)
{
    struct stage *handed = ledger->filling;
    if (ledger->unwritten) {
        stage_merge(ledger->writing, handed);
    } else {
        ledger->filling = ledger->writing;
        ledger->writing = handed;
    }
    stage_clear(ledger->filling);
    ledger->busy = true;
    ledger->posted++;
    pthread_cond_broadcast(&ledger->changed);
}

void ledger_commit(struct ledger *ledger, struct moment at)
{
    pthread_mutex_lock(&ledger->mutex);
    ledger->filling->at = at;
    note_notice(ledger, at);
    ledger->overdue = ledger->busy || !ledger->running;
    if (!ledger->overdue)
        hand_over(ledger);
    pthread_mutex_unlock(&ledger->mutex);
}

/* ---- asking
 * ------------------------------------------------------------------------------------------- */

uint64_t ledger_posted(struct ledger *ledger)
{
    pthread_mutex_lock(&ledger->mutex);
    uint64_t posted = ledger->posted;
    pthread_mutex_unlock(&ledger->mutex);
    return posted;
}

uint64_t ledger_stored(struct ledger *ledger)
{
    pthread_mutex_lock(&ledger->mutex);
    uint64_t stored = ledger->stored;
    pthread_mutex_unlock(&ledger->mutex);
    return stored;
}

void ledger_trouble(struct ledger *ledger, char text[static LEDGER_EVENT_MAX])
{
    pthread_mutex_lock(&ledger->mutex);
    memcpy(text, ledger->trouble[0] ? ledger->trouble : ledger->notice, LEDGER_EVENT_MAX);
    pthread_mutex_unlock(&ledger->mutex);
}
