/* sample_ledger.c - a ledger with invented days, written by the ledger itself.
 *
 *   sample_ledger FILE < LINES
 *
 *   history UNIX_MS SUBJECT SPARE_MWH GRID_MWH ON_MS     five minutes up to then
 *   event UNIX_MS SUBJECT TEXT
 *
 * by time. What the reader sees is what a daemon would have left behind. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ledger/ledger.h"

enum { COMMIT_EVERY = 100, INTERVAL_MS = 5 * MS_PER_MIN };

static struct moment moment_of(int64_t unix_ms)
{
    /* Up for a while: the monotonic clock only has to rise with the wall's. */
    return (struct moment){
        .mono = {unix_ms % 1000000000000}, .wall = {unix_ms}, .wall_trusted = true};
}

static bool take(struct ledger *ledger, char *line, struct moment *at)
{
    int64_t unix_ms, spare, grid, on;
    char subject[LEDGER_KEY_MAX];
    int text = 0;
    line[strcspn(line, "\n")] = '\0';
    if (sscanf(line, "history %" SCNd64 " %63s %" SCNd64 " %" SCNd64 " %" SCNd64, &unix_ms, subject,
               &spare, &grid, &on) == 5) {
        *at = moment_of(unix_ms);
        ledger_history(ledger, *at, INTERVAL_MS, subject, spare, grid, on);
        return true;
    }
    if (sscanf(line, "event %" SCNd64 " %63s %n", &unix_ms, subject, &text) == 2 && text > 0) {
        *at = moment_of(unix_ms);
        ledger_event(ledger, *at, subject, line + text);
        return true;
    }
    fprintf(stderr, "sample_ledger: \"%s\" is neither history nor an event\n", line);
    return false;
}

static void commit(struct ledger *ledger, struct moment at)
{
    ledger_commit(ledger, at);
    ledger_wait(ledger);
}

int main(int argc, char *argv[])
{
    struct ledger_settings settings = {.history_days = 36500};
    char line[LEDGER_EVENT_MAX + 128], trouble[LEDGER_EVENT_MAX] = "";
    struct moment at = {0};
    int lines = 0;
    bool ok = argc == 2;
    if (!ok)
        return EXIT_FAILURE;
    snprintf(settings.path, sizeof(settings.path), "%s", argv[1]);
    struct ledger *ledger = ledger_open(&settings, "sample");
    while (ok && fgets(line, sizeof(line), stdin)) {
        ok = take(ledger, line, &at);
        if (++lines % COMMIT_EVERY == 0)
            commit(ledger, at);
    }
    commit(ledger, at);
    ledger_trouble(ledger, trouble);
    ledger_close(ledger);
    if (*trouble)
        fprintf(stderr, "sample_ledger: %s\n", trouble);
    return ok && !*trouble ? EXIT_SUCCESS : EXIT_FAILURE;
}
